"""A plan inside the take-home page: its money is ours to the cent, its odds within two points, also when typed over."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from slidefit.decision.comparison import compare
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import parse_plan
from slidefit.regions.region_file import read_region
from slidefit.regions.region_outlook import outlook_of_region
from slidefit.report.take_home.handout import LARGEST_BYTES, handout_html
from slidefit.report.take_home.plan_cells import plan_cells, with_number
from tests.report.take_home.conftest import FLOOR, PHASES

TODAY = date(2026, 10, 20)
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


@pytest.fixture(scope="module")
def outlook() -> Outlook:
    return outlook_of_region(read_region(Path(__file__).parents[3] / "data_demo" / "kettle_fork.toml"))


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


@pytest.fixture(scope="module")
def page() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium")
    assert found, "the browser tests need chromium: apt-get install -y chromium"
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser.new_context(offline=True, viewport={"width": 375, "height": 800}).new_page()
        browser.close()


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
def test_everybody_can_use_it(page: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= 375
