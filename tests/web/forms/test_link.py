"""A link holds the plan and its prices, and opens to the same answer on a page without the records."""

from __future__ import annotations

import base64
import io
import re
import zlib
from dataclasses import replace
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

import pytest
from conftest import settings_in
from hypothesis import given as for_all
from hypothesis import strategies as st
from playwright.sync_api import Browser, expect
from pypdf import PdfReader
from running import DESK, Running, running

from slidefit.errors import SlidefitError
from slidefit.report import sentences
from slidefit.web.forms.link import MOST_BYTES, packed, qr_figure, unpacked


def example(client: object) -> str:
    return str(client.get("/decide/example").headers["location"]).partition("?")[2]  # type: ignore[attr-defined]


@for_all(st.text(max_size=400))
def test_a_text_survives_its_link(text: str) -> None:
    letters = packed(text)
    assert unpacked(letters) == unpacked(letters.lower()) == text
    assert re.fullmatch(r"[A-Z2-7]*", letters)


@pytest.mark.parametrize(
    "letters",
    ["", "A", "1", packed("price")[:-4], packed("price") + "AAAA", "\u00e9", packed("x" * (MOST_BYTES + 1))],
)
def test_a_cut_changed_or_swollen_link_is_refused(letters: str) -> None:
    with pytest.raises(SlidefitError, match="the link is broken"):
        unpacked(letters)


def test_links_of_all_time_open() -> None:
    """One sent before the shared words were; and one that needs them: a change of them would break it."""
    before = base64.b32encode(zlib.compress(b"groups.0.head=46", 9)).decode().rstrip("=")
    assert unpacked(before) == "groups.0.head=46"
    assert unpacked("PD4SIV3R75BZXQBTGHB5M55WAAAADVQNSE") == "&groups.0.head=46&money.interest_pct=8"


def test_the_largest_link_is_taken() -> None:
    assert len(unpacked(packed("x" * (MOST_BYTES - 1)))) == MOST_BYTES - 1


def test_a_link_opens_to_the_same_answer_without_the_book(page: Running, empty_page: Running) -> None:
    with page.client() as here, empty_page.client() as there:
        query = example(here)
        link = here.get(f"/decide/link?{query}", headers={"Accept": "application/json"}).json()["link"]
        mine = here.get(f"/decide/answer?{query}").json()
        opened = there.get(link, headers={"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"})
        assert opened.status_code == 200 and "A plan was sent" in opened.text
        fields = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', opened.text)
        sent = urlencode([(unescape(name), unescape(value)) for name, value in fields])
        theirs = there.get(f"/decide/answer?{sent}").json()
        told = [re.findall(r"[-+]\$([\d,]+) a head", each["headline"]) for each in (mine, theirs)]
        assert len(told[0]) == len(told[1]) > 0
        for one, other in zip(*told, strict=True):  # a region's prices give the fit's money to $.50
            assert abs(int(one) - int(other)) <= 1
        assert "the prices sent with the link" in there.get(f"/decide?{sent}").text
        again = there.get(f"/decide/link?{sent}", headers={"Accept": "application/json"}).json()["link"]
        assert unpacked(again.removeprefix("/O/")) == unpacked(link.removeprefix("/O/"))
        by_hand = here.get(f"/decide/link?{query}").text
        assert link in by_hand
        for wrong in (link[:-9], "/O/AAAA", "/O/%00"):
            assert there.get(wrong).status_code == 400
        assert there.get("/decide/answer?prices=~AAAA&" + query).json()["fault"]


def test_copy_link_puts_it_on_the_clipboard(chrome: Browser, page: Running) -> None:
    tab = chrome.new_context(viewport=DESK, permissions=["clipboard-read", "clipboard-write"]).new_page()  # type: ignore[arg-type]
    tab.goto(f"{page.address}/decide/example")
    tab.get_by_role("link", name="Copy link").click()
    expect(tab.get_by_role("link", name="Link copied")).to_be_visible(timeout=20_000)
    copied = tab.evaluate("navigator.clipboard.readText()")
    tab.goto(copied)
    tab.get_by_role("button", name="Open it").click()
    expect(tab.locator(".verdict")).to_have_count(3)
    tab.context.close()


@pytest.mark.usefixtures("undrawn")
def test_the_printed_code_is_the_link_where_others_can_reach_the_page(filled: Path) -> None:
    with running(replace(settings_in(filled), key="abcd-efgh-jkmn")) as found, found.client() as client:
        client.get("/enter?key=abcd-efgh-jkmn")
        query = example(client)
        assert "QR code of the link" in client.get(f"/decide/report?{query}").text
        pdf = PdfReader(io.BytesIO(client.get(f"/decide/report.pdf?{query}").content))
        link = client.get(f"/decide/link?{query}", headers={"Accept": "application/json"}).json()["link"]
    assert len(pdf.pages) == 2 and sentences.CODE_WORDS in " ".join(pdf.pages[1].extract_text().split())
    assert len(link) < 2500  # three groups: squares of a third of a millimeter
    assert qr_figure("HTTP://192.168.1.20:8765/O/" + "A" * 4200) is not None
    assert qr_figure("HTTP://192.168.1.20:8765/O/" + "A" * 4300) is None


@pytest.mark.usefixtures("undrawn")
def test_a_page_of_this_machine_alone_prints_no_code(page: Running) -> None:
    with page.client() as client:
        assert "QR code" not in client.get(f"/decide/report?{example(client)}").text
