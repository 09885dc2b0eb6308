"""What a producer reads on the page is plain, by the measure of ``tests/test_plain_words.py``."""

from __future__ import annotations

import pytest
from running import Running

import slidefit
from tests.test_plain_words import faults, page_prose

ADDRESSES = {
    "quick, empty": "/",
    "quick, answered": "/?weight_lb=520&price_cwt=312&growth=700&growth_as=to_weight_lb&days=90&later=262",
    "keep or sell, the example": "/decide/example",
    "records": "/records",
    "regions": "/regions",
}


@pytest.mark.parametrize("view", list(ADDRESSES))
def test_every_sentence_is_plain(page: Running, view: str) -> None:
    plan = slidefit.load("data_demo/plan.toml")
    names = [each.name for each in (*plan.groups, *plan.programs)]
    names += [plan.title, "Cold Kettle Auction", "slidefit", "Cold Kettle"]
    with page.client() as client:
        found = client.get(ADDRESSES[view], follow_redirects=True)
    told = page_prose(found.text)
    assert found.status_code == 200 and len(told) > 5
    assert not faults(told, names)
