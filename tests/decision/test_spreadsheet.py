"""The budget against the same budget as a spreadsheet, worked out by LibreOffice (spreadsheet/make_workbook.py).

LibreOffice 7.4.7 made spreadsheet/values.csv. It holds the plans' numbers beside the results: neither can change alone.
"""

import csv
import tomllib
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from outlooks import WEIGHTS, certain

from slidefit.decision.comparison import compare
from slidefit.decision.results import GroupResult, KeepOption
from slidefit.market.outlook import SexCurve
from slidefit.plan.plan_file import build_plan

FOLDER = Path(__file__).parent / "spreadsheet"
PLANS = ("pasture", "ration", "yard", "contract", "floor")
CENT = 0.005
MONTHS = {"october": 10, "january": 1, "february": 2, "march": 3, "april": 4}


@dataclass(frozen=True)
class Cell:
    formula: str
    value: float | str


@cache
def sheets() -> dict[str, dict[str, Cell]]:
    out: dict[str, dict[str, Cell]] = {name: {} for name in PLANS}
    with (FOLDER / "values.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            try:
                value: float | str = float(row["value"])
            except ValueError:
                value = row["value"]
            out[row["sheet"]][row["name"]] = Cell(row["formula"], value)
    return out


def results_of(name: str) -> dict[str, float]:
    return {row: float(cell.value) for row, cell in sheets()[name].items() if cell.formula}


def table(name: str) -> dict:
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


def flat(value, prefix=""):
    pairs = (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    )
    if pairs is None:
        return {prefix: value}
    return {k: v for key, each in pairs for k, v in flat(each, f"{prefix}.{key}".strip(".")).items()}


def market():
    """The market of the sheets as an outlook without any spread."""
    told = table("market")
    season = np.zeros(12)
    for month, value in told["season_log"].items():
        season[MONTHS[month] - 1] = value
    outlook = certain(price_550=told["price_550_cwt"], season=season)

    def straight(level, slide):
        row = level - slide * (WEIGHTS - 550.0) / 100.0
        return SexCurve(WEIGHTS, np.tile(row, (12, 1)), np.zeros(len(WEIGHTS)), 300.0, 900.0)

    grades = {
        "ML 1": outlook.grades["ML 1"],
        "ML 1-2": replace(
            outlook.grades["ML 1"], log_offset=told["grade_12_level"], slope_cwt=told["grade_12_slope"]
        ),
    }
    curves = {
        "steer": straight(0.0, told["steer_slide"]),
        "heifer": straight(told["heifer_level"], told["heifer_slide"]),
    }
    return replace(outlook, curves=curves, grades=grades)


@cache
def answered(name: str) -> tuple[GroupResult, KeepOption]:
    plan = build_plan({**table(name), "risk": {"draws": 100, "vary": []}})
    group = compare(market(), plan).groups[0]
    (option,) = group.keep
    return group, option


def bid_of_one_buyer(name: str) -> float | None:
    """The breakeven bid where it says nothing of later prices, as on the sheets."""
    plan = {**table(name), "risk": {"draws": 100, "vary": []}}
    now = answered(name)[0].sell_now.price_cwt
    plan["groups"] = [{**plan["groups"][0], "bid_cwt": now, "bid_is": "this buyer"}]
    (option,) = compare(market(), build_plan(plan)).groups[0].keep
    return {each.name: each.value for each in option.breakevens}["bid_cwt"]


def ours(name: str) -> dict[str, float]:
    """slidefit's numbers by the sheet's names."""
    group, option = answered(name)
    now = group.sell_now
    line = {each.label: each.amount_per_head for each in option.lines}
    out = {
        "days": option.days,
        "start_lb": now.weight_lb,
        "weight_lb": option.weight_lb,
        "pay_now_lb": now.pay_weight_lb,
        "pay_later_lb": option.pay_weight_lb,
        "price_now_cwt": now.price_cwt,
        "price_later_cwt": option.price_cwt,
        "net_now": now.net_per_head,
        "net_keep": option.net_per_head,
        "gain": option.budget_gain_per_head,
        "gain_herd": option.budget_gain_per_head * option.head_kept,
        "head_kept": option.head_kept,
        "value_of_gain": option.value_of_gain_per_lb,
        "cost_of_gain": option.cost_of_gain_per_lb,
        "interest": -line["interest"],
        "feed": -sum(amount for label, amount in line.items() if label.startswith(("feed", "pasture"))),
        "floor_cost": -line.get("price floor", 0.0),
        "cash": option.cash[-1].total_herd / option.head_kept,
    }
    if option.pasture is not None:
        out |= {
            "head_days_acre": option.pasture.head_days_per_acre,
            "pasture_head_day": option.pasture.cost_head_day,
            "head_acre": option.pasture.head_per_acre,
            "acres_needed": option.pasture.acres_needed,
            "gain_acre": option.gain_per_acre,
        }
    return out


def misses(name: str, theirs: dict[str, float]) -> list[str]:
    """Return which of slidefit's numbers are a cent or more off the sheet's."""
    return [row for row, value in ours(name).items() if abs(value - theirs[row]) >= CENT]


@pytest.mark.parametrize("name", PLANS)
def test_the_sheets_inputs_are_the_plans(name):
    given = flat(table(name)) | {f"market.{key}": value for key, value in flat(table("market")).items()}
    inputs = {row: cell.value for row, cell in sheets()[name].items() if not cell.formula}
    assert inputs.keys() == given.keys()
    for row, value in given.items():
        assert inputs[row] == (value.isoformat() if isinstance(value, date) else value), row


@pytest.mark.parametrize("name", PLANS)
def test_every_figure_is_the_spreadsheets_to_the_cent(name):
    assert misses(name, results_of(name)) == []


@pytest.mark.parametrize("name", PLANS)
def test_breakevens_are_the_spreadsheets(name):
    _, option = answered(name)
    theirs = {row[5:]: value for row, value in results_of(name).items() if row.startswith("even_")}
    mine = {each.name: each.value for each in option.breakevens}
    assert mine["later_bid_cwt"] == pytest.approx(theirs["sale_price_cwt"], abs=CENT)
    mine["bid_cwt"] = bid_of_one_buyer(name)
    if answered(name)[0].sell_now.has_bid:  # the sheet carries that bid to the later price and holds it there
        del theirs["bid_cwt"], mine["bid_cwt"]
    assert theirs.keys() == mine.keys() - {"gain_lb_day", "days", "later_bid_cwt"}
    for row, value in theirs.items():
        if mine[row] is None:
            held = name == "floor" or (row, name) == ("slide_pct_cwt", "contract")
            assert held or value < 0.0, row
        else:
            assert mine[row] == pytest.approx(value, abs=CENT), row


@pytest.mark.parametrize("name", PLANS)
def test_selling_costs_are_the_spreadsheets(name):
    group, option = answered(name)
    theirs = results_of(name)
    words = ("commission", "yardage at the market", "checkoff", "insurance", "freight")
    for lines, when, alive in ((group.sell_now.lines, "now", 1.0), (option.lines, "later", theirs["alive"])):
        taken = -sum(each.amount_per_head for each in lines if each.label in words)
        assert taken == pytest.approx(alive * theirs[f"selling_{when}"], abs=CENT)


@pytest.mark.parametrize("name", PLANS)
def test_a_cent_on_the_sheet_is_seen(name):
    """A check of the check: move any figure of the sheet by a cent, and exactly that one is missed."""
    theirs = results_of(name)
    for row in ours(name):
        assert misses(name, {**theirs, row: theirs[row] + 2 * CENT}) == [row]


def test_the_sheets_hold_formulas_and_no_typed_results():
    for name in PLANS:
        assert len(results_of(name)) > 40
        assert all(cell.formula.startswith("=") for cell in sheets()[name].values() if cell.formula)
