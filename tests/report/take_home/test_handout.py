"""The take-home page: one small file, no network, the server's numbers, and it can be used by everybody.

With a plan inside its money is ours to the cent, its odds within two points, also when typed over.
"""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from slidefit.decision.comparison import compare
from slidefit.decision.quick import quick_answer
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import parse_plan
from slidefit.regions.region_file import read_region
from slidefit.regions.region_outlook import outlook_of_region
from slidefit.report.take_home.handout import LARGEST_BYTES, handout_html, inline
from slidefit.report.take_home.plan_cells import plan_cells, with_number
from tests.report.take_home.conftest import FLOOR, PHASES

TODAY = date(2026, 10, 20)
TYPED = {
    "weight_lb": 520, "gain_lb_day": 1.8, "days": 120, "cost_head_day": 1.6, "death_loss_pct": 2, "shrink_pct": 3,
    "commission_pct": 3, "interest_pct": 8,
}  # fmt: skip


@pytest.fixture(scope="module")
def outlook() -> Outlook:
    return outlook_of_region(read_region(Path(__file__).parents[3] / "data_demo" / "kettle_fork.toml"))


@pytest.fixture(scope="module")
def html(outlook: Outlook) -> str:
    return handout_html(outlook, name="Kettle <b>Fork</b>", today=TODAY, office="Office, 555-0142")


def test_one_small_file_without_a_network(html: str) -> None:
    assert len(html.encode()) < LARGEST_BYTES
    outside = re.sub(r"data:[^\"']+", "", html)
    assert "http:" not in outside and "https:" not in outside and "@import" not in outside
    assert (
        not re.search(r"<(link|iframe|img)\b", html) and "default-src 'none'" in html and "eval(" not in html
    )


def test_the_date_the_age_the_cautions_and_the_office_are_in_it(html: str) -> None:
    assert (
        "Calf prices, Kettle &lt;b&gt;Fork&lt;/b&gt;: Oct 12, 2026</title>" in html
        and "<b>Fork</b>" not in html
    )
    for words in (
        "8 days after these prices",
        "not a promise",
        "ask a vet",
        "Office, 555-0142",
        "15,064 lots",
    ):
        assert words in html


def test_data_can_not_end_the_script() -> None:
    told = inline({"name": "</script><!-- x"})
    assert "</" not in told and "<!" not in told and json.loads(told) == {"name": "</script><!-- x"}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium")
    assert found, "the browser tests need chromium: apt-get install -y chromium"
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield started.new_context(offline=True, viewport={"width": 375, "height": 800})
        started.close()


@pytest.fixture(scope="module")
def page(browser: Any) -> Any:
    return browser.new_page()


@pytest.fixture(scope="module")
def opened(browser: Any, html: str, tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("stick") / "calves.html"
    path.write_text(html, encoding="utf-8")
    page = browser.new_page()
    page.complaints = []
    page.on("console", lambda message: page.complaints.append(message.text))
    page.on("pageerror", lambda fault: page.complaints.append(str(fault)))
    page.goto(path.as_uri())
    return page


def answer_of(page: Any, changes: dict[str, Any]) -> dict[str, Any]:
    page.evaluate("values => window.handout.set(values)", changes)
    told: dict[str, Any] = page.evaluate("window.handout.answer()")
    return told


@pytest.mark.browser
def test_prices_and_money_are_ours_to_the_cent(opened: Any, outlook: Outlook) -> None:
    for sex, weight, gain, days in (
        ("steer", 480, 1.4, 90),
        ("heifer", 455.5, 2.1, 151),
        ("bull", 500, 1.9, 40),
    ):
        told = answer_of(
            opened, {**TYPED, "sex": sex, "weight_lb": weight, "gain_lb_day": gain, "days": days}
        )
        (group,) = told["groups"]
        later = weight + gain * days
        now_cwt = float(outlook.price_cwt(sex, weight, TODAY, head=50))
        then_cwt = float(outlook.price_cwt(sex, later, TODAY + timedelta(days=days), head=50))
        assert group["sell_now"]["price_cwt"] == pytest.approx(now_cwt, abs=0.001)
        typed = {**TYPED, "weight_lb": weight, "gain_lb_day": gain, "days": days, "price_cwt": now_cwt}
        expected = quick_answer({**typed, "later_price_cwt": then_cwt, "later_weight_lb": later})
        (kept,) = group["keep"]
        assert group["sell_now"]["net_per_head"] == pytest.approx(expected.net_now, abs=0.005)
        assert kept["budget_gain_per_head"] == pytest.approx(expected.gain_per_head, abs=0.005)


PLAN = """
[dates]
weaning = 2026-10-20
first_sale = "{month}"
last_sale = "{month}"
sale_day = 15
[[groups]]
name = "calves"
sex = "{sex}"
head = 50
weight_lb = {weight}
frame = "ML"
muscle = "1"
{bid}
[[programs]]
name = "kept"
gain_lb_day = {gain}
cost_head_day = 1.6
death_loss_pct = 2
[selling]
shrink_pct = 3
checkoff_head = 0
"""


@pytest.mark.browser
@pytest.mark.parametrize("bid", ["", "bid_cwt = 380"])
def test_odds_are_those_of_a_plan_of_the_same_calves(opened: Any, outlook: Outlook, bid: str) -> None:
    for sex, weight, gain, sold in (
        ("steer", 480, 1.4, date(2027, 1, 15)),
        ("heifer", 450, 2.1, date(2027, 4, 15)),
    ):
        text = PLAN.format(month=f"{sold:%Y-%m}", sex=sex, weight=weight, gain=gain, bid=bid)
        (option,) = compare(outlook, parse_plan(text, "the plan")).groups[0].keep
        typed = {"sex": sex, "weight_lb": weight, "gain_lb_day": gain, "days": (sold - TODAY).days}
        told = answer_of(opened, {**TYPED, **typed, "price_cwt": 380 if bid else ""})
        assert told["groups"][0]["keep"][0]["odds"] == pytest.approx(option.odds, abs=0.02)


@pytest.mark.browser
def test_what_is_wrong_is_said_beside_its_field_and_goes_when_it_is_fixed(opened: Any) -> None:
    answer_of(opened, {**TYPED, "sex": "steer"})
    opened.fill("#f-weight_lb", "56")
    assert "outside the weights sold here" in opened.text_content("#e-weight_lb")
    assert "was" in (opened.get_attribute("#shown", "class") or "")
    opened.fill("#f-weight_lb", "520 lb")
    assert opened.is_hidden("#e-weight_lb") and "was" not in (opened.get_attribute("#shown", "class") or "")
    answer_of(opened, {"mineral_head_day": "0.1", "death_loss_pct": "2"})
    assert opened.text_content("#says-costs") == "mineral $0.10/head-day"
    assert "death loss 2%" in opened.text_content("#says-selling")
    answer_of(opened, {"mineral_head_day": "", "death_loss_pct": TYPED.get("death_loss_pct", "")})
    with pytest.raises(Exception, match="not a field of this page"):
        opened.evaluate("window.handout.set({no_such: 1})")


@pytest.mark.browser
def test_everybody_can_use_it_and_the_console_is_silent(opened: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    answer_of(opened, {**TYPED, "sex": "steer"})
    found = Axe().run(opened, options={"rules": {"color-contrast": {"enabled": True}}})
    assert found.violations_count == 0, found.generate_report()
    assert opened.evaluate("document.documentElement.scrollWidth") <= 375
    assert opened.complaints == []


HEAD = """
[dates]
weaning = 2026-10-14
first_sale = "2027-01"
last_sale = "2027-03"
[selling]
commission_pct = 3
shrink_pct = 3
[money]
interest_pct = 8
"""
GROUPS = """
[[groups]]
name = "Steers <b>"
sex = "steer"
head = 46
weight_lb = 520
weight_sd_lb = 35
frame = "ML"
muscle = "1"
{bid}
[[groups]]
name = "Heifers"
sex = "heifer"
head = 61
weight_lb = 480
frame = "ML"
muscle = "1-2"
"""
LOT = """
[[programs]]
name = "lot"
gain_lb_day = 2.1
cost_head_day = 1.6
health_head = 20
death_loss_pct = 2
"""
GRASS = """
[[programs]]
name = "grass"
gain_lb_day = 1.8
slump_lb = 10
earliest_on = 2026-11-12
wait_gain_lb_day = 0.5
wait_cost_head_day = 1.3
[programs.pasture]
kind = "cereal"
cost_acre = 110
forage_lb_acre = 3200
forage_sd_pct = 25
utilization_pct = 50
intake_pct = 2.6
acres = 90
"""
CONTRACT = "[selling.contract]\nprice_cwt = 305\nbase_weight_lb = 640\nslide_cwt = 12\n"
RATION = """
[[programs]]
name = "fed"
gain_lb_day = 2.1
death_loss_pct = 2
pens_head = 50
[[programs.ration]]
name = "silage"
lb_day = 34
price_ton = 52
waste_pct = 6
"""
PLANS = {
    "phases": HEAD + GROUPS.format(bid="") + PHASES,
    "ration": HEAD + GROUPS.format(bid="bid_cwt = 352") + RATION,
    "open": HEAD + GROUPS.format(bid="") + LOT + GRASS,
    "bid": HEAD + GROUPS.format(bid="bid_cwt = 380") + LOT,
    "floor": HEAD + FLOOR + GROUPS.format(bid="") + GRASS,
    "contract": HEAD + CONTRACT + GROUPS.format(bid="") + LOT,
}
CHANGED = 4
"""Each plan as it is, and with its numbers moved in ``CHANGED`` ways: thirty plans in all."""


def ways(outlook: Outlook, plan: Plan) -> list[tuple[Plan, dict[str, float]]]:
    """Return the plan as it is, and with some of its open numbers moved."""
    out: list[tuple[Plan, dict[str, float]]] = [(plan, {})]
    numbers = [each for each in plan_cells(outlook, plan).numbers if each.is_open]
    for way in range(CHANGED):
        moved, typed = plan, {}
        for number in numbers[way::CHANGED]:
            value = number.value * (1.08 if way % 2 else 0.95)
            value = float(round(value)) if number.path[-1] == "head" else value
            moved = with_number(moved, number.path, int(value) if number.path[-1] == "head" else value)
            typed[number.name] = value
        out.append((moved, typed))
    return out


@pytest.mark.browser
@pytest.mark.parametrize("name", PLANS)
def test_money_to_the_cent_and_odds_within_two_points(
    page: Any, outlook: Outlook, tmp_path: Path, name: str
) -> None:
    plan = parse_plan(PLANS[name], name)
    html = handout_html(outlook, name="Kettle Fork", today=TODAY, plan=plan)
    assert len(html.encode()) < LARGEST_BYTES
    (tmp_path / "calves.html").write_text(html, encoding="utf-8")
    complaints: list[str] = []
    page.on("pageerror", lambda fault: complaints.append(str(fault)))
    for moved, typed in ways(outlook, plan):
        page.goto((tmp_path / "calves.html").as_uri())
        page.evaluate("values => window.handout.set(values)", typed)
        told = {group["group"]: group for group in page.evaluate("window.handout.answer()")["groups"]}
        for group in compare(outlook, moved).groups:
            mine = told[group.group]
            assert mine["sell_now"]["net_per_head"] == pytest.approx(group.sell_now.net_per_head, abs=0.005)
            for option in group.keep:
                (kept,) = [
                    each
                    for each in mine["keep"]
                    if (each["program"], each["sale_date"]) == (option.program, option.sale_date.isoformat())
                ]
                assert kept["budget_gain_per_head"] == pytest.approx(option.budget_gain_per_head, abs=0.005)
                assert kept["odds"] == pytest.approx(option.odds, abs=0.02), (typed, option.sale_date)
    assert complaints == [] and "Steers <b>" in page.text_content("#plan-answer")


@pytest.mark.browser
def test_paths_may_be_written_with_dots_and_unknown_ones_are_refused(page: Any) -> None:
    page.evaluate("window.handout.set({'groups.2.weight_lb': 500})")
    (_, group) = page.evaluate("window.handout.answer()")["groups"]
    assert group["sell_now"]["weight_lb"] == 500
    with pytest.raises(Exception, match="not a field of this page"):
        page.evaluate("window.handout.set({groups_9_weight_lb: 1})")


@pytest.mark.browser
def test_everybody_can_use_it_with_a_plan_inside(page: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= 375
