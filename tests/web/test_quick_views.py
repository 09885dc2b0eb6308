"""The quick answer: from typed prices alone, from records, from a region; page and server agree to the cent."""

from __future__ import annotations

import random
import re
import shutil
import time
from pathlib import Path
from urllib.parse import urlencode

import pytest
from conftest import settings_in
from playwright.sync_api import Browser, Page, expect
from running import DESK, PHONE, Running, running, token_in, watched

from slidefit.decision.quick import quick_answer
from slidefit.plan.typed_numbers import number_of
from slidefit.web.forms.plan_address import plan_of
from slidefit.web.forms.quick_form import typed_of, whole_plan
from slidefit.web.quick_views import answered, shade

TALL = 20_000.0
TYPED = {
    "head": "40", "weight_lb": "520 lb", "price_cwt": "$312", "growth": "1,9", "days": "90",
    "cost_head_day": "$1.55", "later": "262",
}  # fmt: skip
KEYS_A_SECOND = 5
ANSWER_SECONDS = 60.0
LIVE_MS = 100.0


def opened(chrome: Browser, size: dict[str, int], **more: object) -> Page:
    page = chrome.new_context(viewport=size, **more).new_page()  # type: ignore[arg-type]
    page.set_default_timeout(TALL)
    return page


def gain_shown(tab: Page) -> float:
    return float(tab.locator("#gain").inner_text().replace("\u2212", "-").replace("$", "").replace(",", ""))


@pytest.mark.parametrize(
    "size", [PHONE, DESK, {"width": 320, "height": 640}], ids=["phone", "desk", "narrow"]
)
def test_two_prices_alone_answer_within_a_minute(
    chrome: Browser, empty_page: Running, size: dict[str, int]
) -> None:
    tab = opened(chrome, size)
    complaints = watched(tab)
    tab.goto(empty_page.address)
    start, keys = time.monotonic(), 0
    assert tab.locator("#shown").is_hidden()
    tab.locator("[name=head]").focus()
    for _ in range(12):
        name = tab.evaluate("document.activeElement.name")
        if name in TYPED:
            tab.keyboard.type(TYPED[name])
            keys += len(TYPED[name])
        tab.keyboard.press("Tab")
        keys += 1
    expect(tab.locator("#shown")).to_be_visible()
    took = time.monotonic() - start + keys / KEYS_A_SECOND
    assert took < ANSWER_SECONDS
    asked = {"weight_lb": 520, "price_cwt": 312, "gain_lb_day": 1.9, "days": 90, "cost_head_day": 1.55}
    right = quick_answer({**asked, "later_price_cwt": 262})
    assert gain_shown(tab) == round(right.gain_per_head)
    assert (
        tab.locator("#herd").inner_text().replace("\u2212", "-")
        == f"{'+' if right.gain_per_head > 0 else '-'}${abs(round(right.gain_per_head * 40)):,}"
    )
    assert tab.locator("#grid td.mid .c").inner_text() == tab.locator("#gain").inner_text()
    assert tab.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    if size is PHONE:
        last = "Array.from(document.querySelectorAll('.side input'), each => each.getBoundingClientRect().bottom)"
        assert tab.evaluate(f"Math.max(...{last}) + scrollY") < PHONE["height"]
    assert complaints == []
    tab.context.close()


def test_page_and_server_agree_to_the_cent(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, DESK)
    tab.goto(page.address)
    draw = random.Random(7)
    with page.client() as client:
        for case in range(25):
            asked = {
                "weight_lb": draw.uniform(350, 700), "price_cwt": draw.uniform(150, 450),
                "days": float(draw.randint(20, 240)), "gain_lb_day": draw.uniform(0.3, 3),
                "cost_head_day": draw.uniform(0, 4), "death_loss_pct": draw.uniform(0, 5),
                "shrink_pct": draw.uniform(0, 5), "commission_pct": draw.uniform(0, 5),
                "interest_pct": draw.uniform(0, 12), "health_head": draw.uniform(0, 40),
            }  # fmt: skip
            asked |= (
                {"slide_pct": draw.uniform(3, 15)}
                if case % 2
                else {"later_price_cwt": draw.uniform(150, 400)}
            )
            asked = {name: round(value, 4) for name, value in asked.items()}
            if case % 3 == 0:
                asked |= {"acre_cost": 154, "forage_lb_acre": 3400, "eaten_pct": 52, "intake_pct": 2.6}
            there = tab.evaluate(
                "asked => { const a = quick.answer(asked); delete a.values; return a; }", asked
            )
            form = {
                name: f"{value!r}"
                for name, value in asked.items()
                if not name.startswith(("gain", "slide", "later"))
            }
            form |= {"growth": repr(asked["gain_lb_day"]), "source": "typed"}
            later = "slide_pct" if case % 2 else "later_price_cwt"
            form |= {"later": repr(asked[later]), "later_as": later}
            here = client.get("/quick/answer", params=form).json()
            for name in ("net_now", "net_later", "gain_per_head"):
                assert abs(there[name] - here[name]) < 0.005, (case, name)
            assert (there["gain_per_acre"] is None) == (here["gain_per_acre"] is None)
    tab.context.close()


def test_the_answer_follows_the_typing_at_once(chrome: Browser, empty_page: Running) -> None:
    tab = opened(chrome, PHONE)
    tab.goto(f"{empty_page.address}/?{urlencode({**TYPED, 'source': 'typed'})}")
    waits = tab.evaluate(
        """() => { const field = document.querySelector("[name=price_cwt]"); const waits = [];
        for (let k = 0; k < 15; k++) { field.value = String(300 + k); const start = performance.now();
        field.dispatchEvent(new Event("input", {bubbles: true})); waits.push(performance.now() - start); }
        return waits; }"""
    )
    assert sorted(waits)[len(waits) // 2] < LIVE_MS
    tab.context.close()


def test_errors_stand_at_their_field_and_the_last_answer_stays(chrome: Browser, empty_page: Running) -> None:
    tab = opened(chrome, PHONE)
    tab.goto(f"{empty_page.address}/?{urlencode({**TYPED, 'source': 'typed'})}")
    before = gain_shown(tab)
    tab.locator("[name=weight_lb]").fill("5.2")
    expect(tab.locator("#e-weight_lb")).to_contain_text("too low: 150 to 1400")
    expect(tab.locator("#stale")).to_be_visible()
    assert gain_shown(tab) == before
    tab.locator("[name=weight_lb]").fill("about five")
    expect(tab.locator("#e-weight_lb")).to_contain_text("is not a number")
    tab.locator("[name=weight_lb]").fill("520")
    expect(tab.locator("#e-weight_lb")).to_be_hidden()
    expect(tab.locator("#stale")).to_be_hidden()
    tab.context.close()


def test_undo_takes_back_the_last_change_and_a_price_far_off_is_marked(
    chrome: Browser, page: Running
) -> None:
    tab = opened(chrome, PHONE)
    tab.goto(f"{page.address}/?{urlencode({**TYPED, 'price_cwt': '', 'later': ''})}")
    expect(tab.locator("#from-price_cwt")).to_contain_text("from your records", timeout=TALL)
    expect(tab.locator("#m-price_cwt")).to_be_hidden()
    tab.locator("[name=price_cwt]").fill("65")
    expect(tab.locator("#m-price_cwt")).to_contain_text("Far off the market")
    expect(tab).to_have_url(re.compile("price_cwt=65"))
    tab.get_by_role("button", name="Undo").click()
    expect(tab.locator("[name=price_cwt]")).to_have_value("")
    expect(tab.locator("#m-price_cwt")).to_be_hidden()
    expect(tab.get_by_role("button", name="Undo")).to_be_disabled()
    tab.context.close()


def test_records_fill_in_the_prices_and_a_full_plan_carries_everything_over(
    chrome: Browser, page: Running
) -> None:
    tab = opened(chrome, PHONE)
    tab.goto(page.address)
    for name in ("head", "weight_lb", "growth", "days", "cost_head_day"):
        tab.locator(f"[name={name}]").fill(TYPED[name])
    expect(tab.locator("#from-later")).to_contain_text("from your records: 691 lb on", timeout=TALL)
    expect(tab.locator("#shown")).to_be_visible()
    tab.locator("[name=price_cwt]").fill("$355")
    expect(tab.locator("#from-price_cwt")).to_be_empty(timeout=TALL)
    tab.get_by_role("button", name="Make this a full plan").click()
    expect(tab.get_by_role("heading", level=1)).to_have_text("Keep or sell")
    for part in (
        "groups.0.weight_lb=520",
        "groups.0.head=40",
        "groups.0.bid_cwt=355",
        "programs.0.gain_lb_day=1.9",
        "programs.0.cost_head_day=1.55",
    ):
        assert part in tab.url
    assert "forward" not in tab.url
    expect(tab.locator(".verdict")).to_have_count(1)
    tab.goto(page.address)
    expect(tab.locator("[name=weight_lb]")).to_have_value("520 lb")
    tab.context.close()


def test_it_works_by_its_button_without_javascript(chrome: Browser, empty_page: Running) -> None:
    tab = opened(chrome, PHONE, java_script_enabled=False)
    tab.goto(empty_page.address)
    for name, text in TYPED.items():
        tab.locator(f"[name={name}]").fill(text)
    tab.get_by_role("button", name="Work it out").click()
    asked = {"weight_lb": 520, "price_cwt": 312, "gain_lb_day": 1.9, "days": 90, "cost_head_day": 1.55}
    assert gain_shown(tab) == round(quick_answer({**asked, "later_price_cwt": 262}).gain_per_head)
    assert tab.locator("#grid td").count() == 26
    tab.locator("[name=weight_lb]").fill("heavy")
    tab.get_by_role("button", name="Work it out").click()
    expect(tab.locator("#e-weight_lb")).to_contain_text("is not a number")
    tab.context.close()


def test_the_only_region_is_chosen_by_itself(filled: Path, tmp_path: Path) -> None:
    for name in ("sales.duckdb", "slide.json"):
        shutil.copy(filled / name, tmp_path / name)
    with running(settings_in(tmp_path)) as found, found.client() as client:
        token = token_in(client.get("/regions").text)
        client.post("/regions/make", data={"token": token, "name": "West"})
        (tmp_path / "slide.json").unlink()
        (tmp_path / "sales.duckdb").unlink()
        first = client.get(
            "/", params={"weight_lb": "520", "days": "60", "growth": "2", "cost_head_day": "1.5"}
        )
        assert "from region West" in first.text and 'id="shown">' in first.text
        whole = client.get("/decide/example", follow_redirects=True)
        assert 'class="verdict' in whole.text and "From region West." in whole.text
        client.post("/regions/make", data={"token": token, "name": "East"})


NUMBERS = [
    ("540 lb", 540.0), ("1,9", 1.9), ("$365", 365.0), ("4%", 4.0), ("4 %", 4.0), ("1,250.50", 1250.5),
    ("12,500", 12500.0), ("-$3", -3.0), ("\u22123.5", -3.5), (".5", 0.5), ("1.55 a day", 1.55),
    ("90 days", 90.0), ("$2.78 /head", 2.78), ("", None), ("five", None), ("1,2,3", None), ("1e5", None),
    ("540 kg x y z", None), ("2.5.1", None), ("0x10", None), ("1" * 200, None),
]  # fmt: skip


@pytest.mark.parametrize(("text", "value"), NUMBERS)
def test_numbers_are_read_as_people_type_them(text: str, value: float | None) -> None:
    assert number_of(text) == value


def test_browser_and_server_read_numbers_alike(chrome: Browser, page: Running) -> None:
    tab = opened(chrome, DESK)
    tab.goto(page.address)
    for text, value in NUMBERS:
        there = tab.evaluate(
            "text => { const n = quick.number(text); return Number.isNaN(n) ? null : n; }", text
        )
        assert there == value or len(text) > 60, text
    tab.context.close()


@pytest.mark.parametrize(
    ("gain", "name"),
    [
        (150.0, "k2"),
        (149.9, "k1"),
        (15.0, "k1"),
        (14.9, "e"),
        (0.0, "e"),
        (-14.9, "e"),
        (-15.0, "s1"),
        (-150.0, "s2"),
    ],
)
def test_a_cell_is_shaded_by_its_sign_and_size(gain: float, name: str) -> None:
    assert shade(gain) == name


def test_a_field_that_lacks_is_asked_for_in_its_own_words() -> None:
    given = {"weight_lb": "520", "price_cwt": "312", "growth": "2", "days": "90", "later": "262"}
    assert answered(typed_of(given))[1] == {}
    for place, words in {
        "days": "number",
        "growth": "gain, or the weight",
        "later": "price then, or",
    }.items():
        lacking = {name: text for name, text in given.items() if name != place}
        (said,) = answered(typed_of(lacking))[1].items()
        assert said[0] == place and words in said[1]


def test_a_quick_question_becomes_a_plan_that_can_be_checked() -> None:
    from datetime import date

    for later_as, later in (("later_price_cwt", "262"), ("slide_pct", "9%")):
        typed = typed_of(
            {**TYPED, "later": later, "later_as": later_as, "death_loss_pct": "2", "interest_pct": "8"}
        )
        plan = plan_of(whole_plan(typed, date(2026, 11, 25), from_prices=False))
        assert plan.prices is not None and plan.prices.price_cwt == 312.0
        assert plan.groups[0].head == 40 and plan.groups[0].weight_lb == 520.0
        assert plan.programs[0].gain_lb_day == 1.9 and plan.programs[0].death_loss_pct == 2.0
        assert plan.dates.sale_months() == ("2027-02",) and plan.money.interest_pct == 8.0
    forward = plan_of(whole_plan(typed_of(TYPED), date(2026, 11, 25), from_prices=True))
    assert forward.prices is None and forward.groups[0].bid_cwt == 312.0
    assert forward.groups[0].forward[0].price_cwt == 262.0 and forward.groups[0].forward[0].weight_lb == 691.0
