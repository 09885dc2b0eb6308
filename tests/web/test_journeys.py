"""Three people's whole journeys in a real browser, on a phone and on a laptop, and what a screen reader needs."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from running import DESK, PHONE, PLAN, SALES, Running, watched

QUICK = "/?weight_lb=520&price_cwt=312&days=90&growth=2&cost_head_day=1.55&later=262&head=40"
TALL = 20_000.0


def opened(chrome: Browser, size: dict[str, int], **more: Any) -> Page:
    page = chrome.new_context(viewport=size, accept_downloads=True, **more).new_page()  # type: ignore[arg-type]
    page.set_default_timeout(TALL)
    return page


def fits_the_width(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"))


def unfold(page: Page, *names: str) -> None:
    """Open the form's folds of these names, each if it is closed."""
    for name in names:
        fold = page.locator("#plan details").filter(
            has=page.locator("> summary b", has_text=re.compile(f"^{name}$"))
        )
        if not fold.first.evaluate("each => each.open"):
            fold.first.locator("> summary").click()


def saved(page: Page, words: str) -> str:
    """Return the text of a file that a link or button of the page saves."""
    with page.expect_download() as waiting:
        page.get_by_text(words, exact=False).first.click()
    return Path(waiting.value.path()).read_text(encoding="utf-8")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_an_analyst_from_a_file_to_the_slide(
    chrome: Browser, empty_page: Running, size: dict[str, int]
) -> None:
    page = opened(chrome, size)
    complaints = watched(page)
    page.goto(empty_page.address)
    expect(page.get_by_role("heading", level=1)).to_have_text("Quick answer")
    page.goto(f"{empty_page.address}/records")
    page.get_by_label("Files").set_input_files(SALES)
    page.get_by_role("button", name="Look at the files").click()
    expect(page.get_by_role("heading", name="How the files are understood")).to_be_visible()
    expect(page.get_by_role("row", name="Avg Weight lb").first).to_be_visible()
    assert "reason" in saved(page, "Save the rows set aside").splitlines()[0]
    assert fits_the_width(page)
    page.get_by_role("button", name="records to the book").click()
    expect(page.get_by_role("heading", name="Added to the book")).to_be_visible()
    page.get_by_role("link", name="Go on to the slide").click()
    page.get_by_label("Only sales from").fill("2025-03-01")
    page.get_by_role("button", name="Fit", exact=True).click()
    expect(page.get_by_role("table", name="The slide")).to_be_visible(timeout=60_000)
    page.get_by_label("Sex").select_option("steer")
    page.get_by_label("Around what weight").fill("550")
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_role("table", name="The slide").get_by_role("row")).to_have_count(2)
    assert saved(page, "These slides").splitlines()[1].startswith("steer,500")
    assert '"slidefit slide"' in saved(page, "The whole fit")
    assert fits_the_width(page)
    page.goto(f"{empty_page.address}/records")
    page.get_by_role("button", name="Undo batch").click()
    expect(page.get_by_text("0 records.")).to_be_visible()
    assert complaints == []
    page.context.close()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_producer_from_the_example_to_the_printed_report(
    chrome: Browser, page: Running, size: dict[str, int]
) -> None:
    tab = opened(chrome, size)
    complaints = watched(tab)
    tab.goto(f"{page.address}/decide")
    tab.get_by_role("link", name="Start from the example").click()
    answer = tab.locator("#answer")
    expect(answer).to_contain_text("Heavy steers")
    unfold(tab, "Calves", "Heavy steers")
    first = tab.locator(".verdict").first
    bid = tab.get_by_label("Price bid today").first
    before = first.locator(".word").inner_text()
    assert before != "Keep"
    bid.fill("$150")
    expect(first.locator(".word")).to_have_text("Keep", timeout=TALL)
    expect(tab).to_have_url(re.compile(r"groups\.0\.bid_cwt=%24150"))
    expect(tab.locator("#headline")).to_contain_text("Heavy steers: keep, ")
    bid.fill("")
    expect(first.locator(".word")).to_have_text(before, timeout=TALL)
    weight = tab.get_by_label("Mean weight").first
    weight.fill("58")
    expect(tab.locator("[id='e-groups.0.weight_lb']")).to_contain_text("Is 58", timeout=TALL)
    expect(weight).to_have_attribute("aria-invalid", "true")
    expect(tab.locator("#stale")).to_be_visible()
    expect(tab.locator(".verdict")).to_have_count(2)
    weight.fill("580 lb")
    expect(tab.locator("[id='e-groups.0.weight_lb']")).to_be_hidden(timeout=TALL)
    expect(tab.locator("#stale")).to_be_hidden()
    expect(tab.locator(".verdict")).to_have_count(3)
    tab.get_by_text("What would change the answer").click()
    expect(
        tab.get_by_text("alone flips it").or_(tab.get_by_role("table", name="What would change")).first
    ).to_be_visible()
    assert "weight_lb = 580" in saved(tab, "Save the plan")
    linked = tab.url
    assert fits_the_width(tab)
    tab.reload()
    expect(answer).to_contain_text("Heavy steers")
    assert tab.url == linked
    tab.get_by_role("link", name="Print it").click()
    expect(tab.get_by_text("Heavy steers").first).to_be_visible(timeout=60_000)
    tab.emulate_media(media="print")
    printed = tab.pdf(format="Letter", prefer_css_page_size=True)
    assert printed.startswith(b"%PDF") and len(printed) > 20_000
    assert complaints == []
    tab.context.close()


def test_the_last_good_answer_stays_while_something_is_wrong(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, DESK)
    tab.goto(f"{page.address}/decide/example")
    before = tab.locator(".verdicts").inner_text()
    unfold(tab, "Sale", "What selling costs")
    tab.get_by_label("Commission").first.fill("a lot")
    expect(tab.locator("#stale")).to_contain_text("from before your last change", timeout=TALL)
    assert tab.locator(".verdicts").inner_text() == before
    expect(tab.locator("[id='e-selling.commission_pct']")).to_be_visible()
    tab.get_by_role("link", name="Commission").click()
    expect(tab.get_by_label("Commission").first).to_be_focused()
    tab.keyboard.press("ControlOrMeta+a")
    tab.keyboard.type("3,5 %")
    expect(tab.locator("#stale")).to_be_hidden(timeout=TALL)
    expect(tab.locator("[id='e-selling.commission_pct']")).to_be_hidden()
    tab.context.close()


def test_nothing_typed_is_lost(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, DESK)
    tab.goto(f"{page.address}/decide/example")
    unfold(tab, "Calves", "Heavy steers")
    head = tab.get_by_label("Head", exact=True).first
    head.fill("47")
    expect(tab).to_have_url(re.compile(r"groups\.0\.head=47"), timeout=TALL)
    head.fill("48")
    expect(tab).to_have_url(re.compile(r"groups\.0\.head=48"), timeout=TALL)
    tab.get_by_role("link", name="Records").click()
    expect(tab.get_by_role("heading", level=1)).to_have_text("Records")
    tab.get_by_role("link", name="Keep or sell").click()
    expect(tab).to_have_url(re.compile(r"groups\.0\.head=48"), timeout=TALL)
    tab.get_by_role("button", name="Undo").click()
    expect(tab).to_have_url(re.compile(r"groups\.0\.head=47"), timeout=TALL)
    expect(tab.get_by_label("Head", exact=True).first).to_have_value("47")
    tab.get_by_role("link", name="Start another plan").click()
    expect(tab.get_by_role("link", name="Start from the example")).to_be_visible()
    tab.goto(f"{page.address}/decide")
    expect(tab.get_by_role("link", name="Start from the example")).to_be_visible()
    tab.context.close()


def test_an_adviser_loads_a_plan_and_changes_its_groups(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, PHONE)
    complaints = watched(tab)
    tab.goto(f"{page.address}/decide")
    tab.get_by_label("A plan saved before").set_input_files(PLAN)
    tab.get_by_role("button", name="Load it").click()
    expect(tab.locator("#answer")).to_contain_text("Heifers")
    unfold(tab, "Calves")
    tab.get_by_role("button", name="Add calves").click()
    expect(tab.locator("#stale")).to_contain_text("Calves 4: not in the answer yet")
    expect(tab.locator(".verdict")).to_have_count(3)
    tab.get_by_role("button", name="Remove Calves 4").click()
    expect(tab.locator("#stale")).to_be_hidden()
    assert complaints == []
    tab.context.close()


def test_it_works_without_javascript(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, PHONE, java_script_enabled=False)
    tab.goto(f"{page.address}/decide/example")
    unfold(tab, "Calves", "Heavy steers")
    tab.get_by_label("Price bid today").first.fill("$250")
    tab.get_by_role("button", name="Work it out").last.click()
    expect(tab.locator(".verdict").first.locator(".word")).to_have_text("Keep")
    tab.get_by_text("What would change the answer").click()
    tab.get_by_role("link", name="Work it out").click()
    expect(tab.get_by_role("table").first).to_be_visible()
    tab.context.close()


def test_the_keyboard_reaches_everything(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, DESK)
    tab.goto(f"{page.address}/records")
    tab.keyboard.press("Tab")
    expect(tab.get_by_text("To the content")).to_be_focused()
    reached = set()
    for _ in range(30):
        tab.keyboard.press("Tab")
        reached.add(tab.evaluate("document.activeElement.textContent.trim() || document.activeElement.id"))
    assert {
        "Records",
        "Slide",
        "Keep or sell",
        "Quick answer",
        "files",
        "Look at the files",
        "Save them as CSV",
        "Undo",
    } <= reached
    tab.context.close()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_accessibility_checker_finds_nothing(
    chrome: Browser, page: Running, size: dict[str, int]
) -> None:
    tab = opened(chrome, size)
    complaints = watched(tab)
    query = "/decide?groups.0.name=Steers&groups.0.weight_lb=5&programs.0.name=Grass"
    for address in (
        "/",
        QUICK,
        "/records",
        "/slide",
        "/decide",
        "/decide/example",
        query,
        "/regions",
        "/nowhere",
    ):
        tab.goto(f"{page.address}{address}", wait_until="load")
        found = Axe().run(tab)
        faults = [
            (each["id"], [node["target"] for node in each["nodes"]][:3])
            for each in found.response["violations"]
        ]
        assert faults == [], (address, faults)
        assert fits_the_width(tab), address
    assert [text for text in complaints if "404" not in text] == []
    tab.context.close()


@pytest.mark.parametrize("address", ["/decide/example", "/", "/records"])
def test_touch_targets_are_large(chrome: Browser, page: Running, address: str) -> None:
    tab = opened(chrome, PHONE)
    tab.goto(f"{page.address}{address}")
    small = tab.evaluate(
        """Array.from(document.querySelectorAll(
            'button:not(.default), a.button, nav a, input:not([type=checkbox]), select, summary'
        )).filter((each) => each.offsetParent && each.getBoundingClientRect().height < 44)
        .map((each) => each.outerHTML.slice(0, 80))"""
    )
    assert small == []
    tab.context.close()


def test_the_whole_answer_is_four_phone_screens_and_twenty_stops_away_at_most(
    chrome: Browser, page: Running
) -> None:
    tab = opened(chrome, PHONE)
    tab.goto(f"{page.address}/decide/example")
    expect(tab.locator(".verdict")).to_have_count(3)
    assert tab.evaluate("document.documentElement.scrollHeight / window.innerHeight") <= 4.0
    in_answer = "document.activeElement.closest('#answer') !== null"
    stops = 0
    while not tab.evaluate(in_answer) and stops <= 20:
        tab.keyboard.press("Tab")
        stops += 1
    assert stops <= 20
    for fold in tab.locator("#plan details").all():
        assert fold.locator("> .body > .fields > .f:visible").count() <= 6
    tab.context.close()


@pytest.mark.parametrize(
    "size", [{"width": 320, "height": 640}, {"width": 640, "height": 450}], ids=["320", "200%"]
)
def test_it_fits_320_px_and_a_laptop_at_twice_the_size(
    chrome: Browser, page: Running, size: dict[str, int]
) -> None:
    tab = opened(chrome, size)
    for address in ("/", QUICK, "/decide/example", "/records", "/slide", "/regions"):
        tab.goto(f"{page.address}{address}")
        wide = """Array.from(document.querySelectorAll("body *")).filter((each) => !each.closest(".scroll")
            && each.getBoundingClientRect().right > window.innerWidth + 1).map((each) => each.outerHTML.slice(0, 90))"""
        assert fits_the_width(tab), (address, tab.evaluate(wide))
    tab.context.close()


def test_prices_typed_alone_carry_a_whole_plan(chrome: Browser, empty_page: Running) -> None:
    tab = opened(chrome, PHONE)
    complaints = watched(tab)
    tab.goto(f"{empty_page.address}{QUICK}")
    tab.get_by_role("button", name="Make this a full plan").click()
    expect(tab.locator(".verdict")).to_have_count(1)
    expect(tab.get_by_role("table", name="Your choices, side by side")).to_be_visible()
    assert complaints == []
    tab.context.close()


def test_a_producer_with_three_files_settles_a_question_fits_and_has_the_answer(
    chrome: Browser, empty_page: Running, tmp_path: Path
) -> None:
    tab = opened(chrome, PHONE)
    complaints = watched(tab)
    doubtful = tmp_path / "own lots.csv"
    doubtful.write_text(
        "Sale Date,Market,Sex,Head,Avg Wt,Price\n"
        "14/03/2026,Own Barn,Steers,12,552,389\n03/14/2026,Own Barn,Steers,9,610,371\n"
    )
    tab.goto(f"{empty_page.address}/records")
    tab.get_by_label("Files").set_input_files([SALES, SALES.parent / "tern_hollow_sales.csv", doubtful])
    tab.get_by_role("button", name="Look at the files").click()
    expect(tab.get_by_text("own lots.csv").first).to_be_visible(timeout=60_000)
    expect(tab.get_by_text("14/03/2026 has the day first").first).to_be_visible()
    if not tab.get_by_label("Order of dates").is_visible():
        tab.get_by_text("What the files don't say").click()
    tab.get_by_label("Order of dates").select_option("mdy")
    tab.get_by_role("button", name="Read them again this way").click()
    expect(tab.get_by_role("button", name="records to the book")).to_be_visible(timeout=60_000)
    tab.get_by_role("button", name="records to the book").click()
    expect(tab.get_by_role("heading", name="Added to the book")).to_be_visible(timeout=60_000)
    tab.get_by_role("link", name="Go on to the slide").click()
    tab.get_by_role("button", name="Fit", exact=True).click()
    expect(tab.get_by_role("table", name="The slide")).to_be_visible(timeout=120_000)
    tab.goto(f"{empty_page.address}/decide/example")
    expect(tab.locator(".verdict")).to_have_count(3)
    assert fits_the_width(tab) and complaints == []
    tab.context.close()


def test_what_stands_behind_the_answer_and_what_is_taken_home(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, DESK)
    complaints = watched(tab)
    tab.goto(f"{page.address}/decide/example")
    for name, told in (
        ("Which ones to keep", "by weight at weaning"),
        ("How well have we done?", "Odds given, and how often keeping paid"),
        ("What would change the answer", "Breakevens: keeping equals selling now at"),
        ("Budget and cash", "Cash needed to keep"),
        ("What this leaves out, and cautions", "Odds: gain goes with forage"),
    ):
        fold = tab.locator("#shown details.fold").filter(has=tab.locator("b", has_text=name))
        fold.locator("summary").click()
        expect(fold).to_contain_text(told)
    expect(tab.locator("#fold-flips")).to_contain_text("across")
    for words, start in (("Workbook", b"PK"), ("Take-home page", b"<!DOCTYPE html>")):
        with tab.expect_download(timeout=60_000) as waiting:
            tab.get_by_role("link", name=words, exact=True).click()
        assert Path(waiting.value.path()).read_bytes().lstrip().startswith(start), words
    unfold(tab, "Sale", "Price floor")
    for name, number in (("floor_cwt", "300"), ("cost_cwt", "5")):
        tab.locator(f"[id='f-selling.floor.{name}']").fill(number)
    expect(tab.locator(".alts")).to_contain_text("the plan's floor", timeout=TALL)
    unfold(tab, "Calves", "Heifers")
    bid = tab.locator("[id='f-groups.2.bid_cwt']")
    for text, far in (("65", True), ("340", False)):
        bid.fill(text)
        expect(tab.locator("[id='m-groups.2.bid_cwt']")).to_be_visible(visible=far, timeout=TALL)
    assert complaints == []
    tab.context.close()


def test_by_keyboard_from_the_first_number_to_a_full_plans_answer(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, DESK)
    tab.goto(page.address)
    tab.keyboard.press("Tab")
    tab.locator("[name=head]").focus()
    typed = {"head": "40", "weight_lb": "520", "growth": "1.9", "days": "90", "cost_head_day": "1.55"}
    for _ in range(60):
        name = tab.evaluate("document.activeElement.name")
        if name in typed:
            tab.keyboard.type(typed.pop(name))
        if tab.evaluate("document.activeElement.textContent") == "Make this a full plan":
            break
        tab.keyboard.press("Tab")
    assert typed == {}
    tab.keyboard.press("Enter")
    expect(tab.locator(".verdict")).to_have_count(1)
    tab.keyboard.press("Tab")
    expect(tab.get_by_text("To the answer")).to_be_focused()
    tab.keyboard.press("Enter")
    expect(tab.locator("#answer")).to_be_focused()
    tab.context.close()
