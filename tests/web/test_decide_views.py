"""What the views say where something is missing or folded, without a browser."""

from __future__ import annotations

import re
from pathlib import Path

from running import Running

EXAMPLE = "/decide/example"


def test_an_unreadable_fit_can_be_made_again(own_page: Running) -> None:
    Path(own_page.settings.fit).write_text('{"format": "slidefit slide", "version": 99}')
    with own_page.client() as client:
        told = client.get("/slide")
        assert told.status_code == 400
        assert (
            "version 99" in told.text
            and "Fit the book again" in told.text
            and 'action="/slide/fit"' in told.text
        )
        answer = client.get(EXAMPLE, follow_redirects=True).text
        assert "No answer yet" in answer and '<a href="/slide">To the slide</a>' in answer


def test_what_is_at_fault_stands_open_and_says_so_at_its_field(page: Running) -> None:
    with page.client() as client:
        address = client.get(EXAMPLE).headers["location"]
        wrong = address.replace("groups.2.weight_lb=505", "groups.2.weight_lb=5")
        assert wrong != address
        pages = [client.get(each).text for each in (address, wrong)]
    unfolded = [re.findall(r'id="part-groups-(\d)" open', text) for text in pages]
    assert unfolded == [[], ["2"]]
    assert "61 head, 505 lb" in pages[0]
    assert re.search(r'id="e-groups\.2\.weight_lb">Is 5; [^<]*pounds', pages[1])
    shown = re.findall(r"<b>([^<]+)</b>, \d+ head</span>", pages[1])
    assert shown == ["Heavy steers", "Light steers"] and "Heifers: not in the answer yet" in pages[1]


def test_field_names_are_told_in_the_forms_words(page: Running) -> None:
    with page.client() as client:
        address = client.get(EXAMPLE).headers["location"]
        text = client.get(address.replace("dates.last_sale=2027-04", "dates.last_sale=2026-05")).text
    assert "first_sale 2026" not in text and "First month of sale" in text


def test_pictures_come_narrow_for_a_phone(page: Running) -> None:
    with page.client() as client:
        wide, narrow = (client.get(f"/slide/season.svg{query}").text for query in ("", "?narrow=1"))
    widths = [float(re.search(r'width="([\d.]+)pt"', text).group(1)) for text in (wide, narrow)]  # type: ignore[union-attr]
    assert widths[0] > 400.0 and widths[1] < 300.0
