"""An answer on the page."""

from __future__ import annotations

import re

import pytest
from running import PLAN, Running

from slidefit.plan.plan_file import read_plan


@pytest.mark.usefixtures("undrawn")
def test_the_answer_is_the_librarys(page: Running) -> None:
    from slidefit.decision.comparison import compare
    from slidefit.market.saved_fit import load_fit
    from slidefit.web.answer_view import best_place, cards_of
    from slidefit.web.service import LIVE_DRAWS, lighter

    plan = lighter(read_plan(PLAN))
    expected = compare(load_fit(page.settings.fit).outlook(), plan)
    with page.client() as client:
        query = client.get("/decide/example").headers["location"].partition("?")[2]
        text = client.get(f"/decide/answer?{query}").json()
        report = client.get(f"/decide/report?{query}").text
    for card in cards_of(expected):
        assert card.short in text["headline"] and card.bar is not None and card.bar.text in text["answer"]
    looked_at = expected.groups[best_place(expected)]
    assert f"{looked_at.sell_now.net_per_head:,.2f}" in text["answer"]
    assert f"{LIVE_DRAWS:,}" in text["answer"] and "16,384" in report


EXAMPLE = "/decide/example"


def test_the_bar_and_the_live_region_say_the_answer_of_every_group(page: Running) -> None:
    with page.client() as client:
        text = client.get(EXAMPLE, follow_redirects=True).text
        cards = re.findall(
            r'<b>([^<]+)</b>, \d+ head</span>.*?<div class="head"><h2 class="word">([^<]+)</h2>',
            text,
            re.DOTALL,
        )
        live = re.findall(r'<p class="away" role="status" id="headline">([^<]*)</p>', text)
        bar = text[text.index('<div id="pinned">') :]
    assert [name for name, _ in cards] == ["Heavy steers", "Light steers", "Heifers"]
    assert text.count('role="status"') == text.count("aria-live") + 1 == len(live)
    for name, word in cards:
        assert f"{name}: {word.lower()}" in live[0] and f"{name}<span><b>{word}</b>" in bar
