"""What the browser prints: two pages for up to three groups, on either paper, in letters that can be read."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from example_comparison import a_comparison, a_group
from example_flips import a_flip
from example_market import an_outlook
from playwright.sync_api import Browser, Page
from pypdf import PdfReader
from running import PLAN, Running

from slidefit.decision.comparison import compare
from slidefit.decision.risk.answer_changes import flip
from slidefit.market.saved_fit import load_fit
from slidefit.plan.plan_file import read_plan
from slidefit.regions.region_file import read_region
from slidefit.report.regions.region_sheet import region_sheet_html
from slidefit.report.render.html import document_html
from slidefit.report.report_content import report_of

LOWEST_PX = 8.5 * 96.0 / 72.0
SMALL_LETTERS = f"""() => {{
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {{
    const element = walker.currentNode.parentElement;
    const seen = walker.currentNode.textContent.trim() && element.getClientRects().length;
    const size = parseFloat(getComputedStyle(element).fontSize);
    if (seen && size < {LOWEST_PX} - 0.02) found.push(element.outerHTML.slice(0, 90));
  }}
  return found;
}}"""


@pytest.fixture(scope="module")
def tab(chrome: Browser) -> Iterator[Page]:
    opened = chrome.new_page()
    opened.emulate_media(media="print")
    yield opened
    opened.close()


def printed(tab: Page, html: str, paper: str) -> PdfReader:
    tab.set_content(html, wait_until="load")
    return PdfReader(io.BytesIO(tab.pdf(format=paper, prefer_css_page_size=False)))


@pytest.fixture(scope="module", params=(1, 2, 3))
def report(request: pytest.FixtureRequest, filled: Path) -> str:
    """The report of the example plan's first groups, at the prices of a fit."""
    fit = load_fit(filled / "slide.json")
    plan = read_plan(PLAN)
    plan = plan.model_copy(update={"groups": plan.groups[: request.param]})
    outlook = fit.outlook()
    made = report_of(
        compare(outlook, plan), outlook, season=fit.season(), flips=flip(outlook, plan), title=plan.title
    )
    return document_html(made, ways=(("Back", "/decide"),))


@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_up_to_three_groups_take_two_pages(tab: Page, report: str, paper: str) -> None:
    pdf = printed(tab, report, paper)
    text = "".join(page.extract_text() for page in pdf.pages)
    assert len(pdf.pages) == 2, text[-600:]
    assert "net of keeping" in text and "Daily gain, lb a day" in text and "Back" not in text


def test_letters_and_pictures_can_be_read(tab: Page, report: str) -> None:
    tab.set_content(report, wait_until="load")
    assert tab.evaluate(SMALL_LETTERS) == []
    tab.set_viewport_size({"width": 718, "height": 1000})  # the width of A4 between the margins
    shrunk = tab.evaluate(
        """() => Array.from(document.images).filter((each) => each.offsetParent)
        .map((each) => each.getBoundingClientRect().width / each.naturalWidth)"""
    )
    assert not shrunk or min(shrunk) > 0.97  # several groups have their months as tables on paper


def test_another_comparison_prints_on_two_pages_too(tab: Page) -> None:
    groups = [a_group(name) for name in ("Steers", "Heifers", "Late calves")]
    season = pd.DataFrame({"month": range(1, 13), "index": 100.0, "low": 98.0, "high": 102.0})
    flips = [a_flip()]
    html = document_html(report_of(a_comparison(*groups), an_outlook(), season=season, flips=flips))
    assert len(printed(tab, html, "Letter").pages) == 2


def test_the_pdf_is_saved_from_the_report_of_the_page(chrome: Browser, page: Running) -> None:
    tab = chrome.new_context(accept_downloads=True).new_page()
    tab.set_default_timeout(60_000)
    tab.goto(f"{page.address}/decide/example")
    tab.goto(tab.url.replace("/decide?", "/decide/report?"))
    for words, width in (("Save as PDF (letter)", 612.0), ("Save as PDF (A4)", 595.276)):
        with tab.expect_download() as waiting:
            tab.get_by_role("link", name=words).click()
        pdf = PdfReader(waiting.value.path())
        assert waiting.value.suggested_filename == "report.pdf"
        assert len(pdf.pages) == 2 and float(pdf.pages[0].mediabox.width) == pytest.approx(width, abs=0.01)
        assert "Cedar Fork" in pdf.pages[0].extract_text()
    tab.get_by_role("link", name="Back to the plan").click()
    assert "/decide?" in tab.url and tab.locator("#answer").inner_text()
    tab.context.close()


@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_a_regions_sheet_is_one_page_that_can_be_read(tab: Page, paper: str) -> None:
    html = region_sheet_html(read_region(PLAN.parent / "kettle_fork.toml"), date(2026, 11, 1))
    pdf = printed(tab, html, paper)
    assert len(pdf.pages) == 1 and "Heifers, ML 1, price level of" in pdf.pages[0].extract_text()
    assert tab.evaluate(SMALL_LETTERS) == []
