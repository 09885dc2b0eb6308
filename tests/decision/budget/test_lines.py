"""The readers of the declared budget agree: numpy, JavaScript by node, a spreadsheet by LibreOffice."""

import json
import shutil
import subprocess

import numpy as np
import pytest

from slidefit.decision.budget.lines import budget_of
from slidefit.decision.budget.sale import BudgetShape, StretchShape
from slidefit.plan.costs import KEEPING_COSTS

SHAPES = {
    "market": BudgetShape(
        (
            StretchShape("waiting", waits=True),
            StretchShape("rye", pasture="by weight"),
            StretchShape("yard", feeds=("silage", "cubes")),
        )
    ),
    "floor": BudgetShape((StretchShape("grass", pasture="pounds"),), floor=True),
    "typed": BudgetShape((StretchShape("kept"),), "typed"),
    "contract": BudgetShape((StretchShape("yard"),), "two-way contract"),
}


def some_inputs(budget, seed):
    rng = np.random.default_rng(seed)
    out = {}
    for each in budget.inputs:
        high = (
            min(each.high, 2.0 * each.default) if each.default else min(each.high, max(100.0, 2.0 * each.low))
        )
        low = max(each.low, 0.5 * each.default)
        out[each.key] = float(np.round(rng.uniform(low, high), 3))
    near = {"start_lb": 540.0, "start_price_cwt": 330.0, "later_weight_lb": 700.0, "later_price_cwt": 280.0}
    near |= {
        "floor_cwt": 290.0,
        "contract_price_cwt": 300.0,
        "contract_weight_lb": 690.0,
        "death_loss_pct": 2.0,
    }
    near |= {"gain_change": 0.3, "gain_miss": -0.2, "cost_add_head_day": 0.11, "slide_pct": 7.0}
    return out | {key: value for key, value in near.items() if key in out}


def rows_of(budget):
    return {each.key: f"B{row}" for row, each in enumerate(budget.entries, start=1)}


def price(weight, day):
    return 500.0 - 0.3 * weight + 0.05 * day


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.skipif(shutil.which("node") is None, reason="no node here")
def test_javascript_gives_the_same_numbers(name):
    budget = budget_of(SHAPES[name])
    given = some_inputs(budget, 3)
    script = f"{budget.javascript()}\nconst price = (w, d) => 500.0 - 0.3 * w + 0.05 * d;\n"
    script += f"console.log(JSON.stringify(budget({json.dumps(given)}, price)));"
    done = subprocess.run(["node", "-e", script], capture_output=True, text=True, check=True, timeout=20)
    assert json.loads(done.stdout) == pytest.approx(budget.values(given, price), rel=1e-12)


def test_a_spreadsheet_gives_the_same_numbers(tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    if shutil.which("soffice") is None:
        pytest.skip("no LibreOffice here")
    book = openpyxl.Workbook()
    wanted = {}
    for place, (name, shape) in enumerate(SHAPES.items()):
        budget, sheet = budget_of(shape), book.create_sheet(name)
        given = some_inputs(budget, place)
        values, formulas = (
            budget.values(given, price),
            budget.spreadsheet(
                rows_of(budget).__getitem__, lambda weight, day: f"(500-0.3*({weight})+0.05*({day}))"
            ),
        )
        for row, each in enumerate(budget.entries, start=1):
            sheet.cell(row, 1, each.key)
            sheet.cell(row, 2, given[each.key] if each.formula is None else f"={formulas[each.key]}")
        wanted[name] = values
    book.save(tmp_path / "budget.xlsx")
    home = f"-env:UserInstallation=file://{tmp_path}/home"
    command = [
        "soffice",
        home,
        "--headless",
        "--convert-to",
        "xlsx:Calc MS Excel 2007 XML",
        "--outdir",
        str(tmp_path / "out"),
    ]
    subprocess.run([*command, str(tmp_path / "budget.xlsx")], check=True, capture_output=True, timeout=120)
    done = openpyxl.load_workbook(tmp_path / "out" / "budget.xlsx", data_only=True)
    for name, values in wanted.items():
        got = {row[0].value: row[1].value for row in done[name].iter_rows()}
        assert got == pytest.approx(values, rel=1e-10, abs=1e-10)


def test_daily_gain_means_the_days_on_the_program_everywhere():
    budget = budget_of(SHAPES["market"])
    given = some_inputs(budget, 5) | {"gain_change": 0.0, "gain_miss": 0.0}
    plain = budget.values(given, price)
    changed = budget.values(given | {"gain_change": 0.4}, price)
    typed = given | {key: given[key] + 0.4 for key in ("gain_lb_day_2", "gain_lb_day_3")}
    assert changed["gain_per_head"] == pytest.approx(budget.values(typed, price)["gain_per_head"])
    on = given["days_2"] + given["days_3"]
    assert changed["sale_lb"] - plain["sale_lb"] == pytest.approx(0.4 * on)
    missed = budget.values(given | {"gain_miss": 0.4}, price)
    assert missed["sale_lb"] == pytest.approx(changed["sale_lb"])
    assert missed["pasture_head_2"] == pytest.approx(changed["pasture_head_2"])


def test_a_very_poor_year_is_held_at_half_a_pound_lost_a_day():
    budget = budget_of(SHAPES["typed"])
    given = {
        "start_lb": 500.0,
        "days": 100.0,
        "gain_lb_day": 2.0,
        "later_price_cwt": 300.0,
        "later_weight_lb": 600.0,
    }
    poor = budget.values({**given, "gain_miss": np.array([-2.4, -2.5, -2.6, -9.0])})["sale_lb"]
    assert poor == pytest.approx([460.0, 450.0, 450.0, 450.0])


def test_every_declared_cost_is_a_line_of_cash_and_lowers_the_gain():
    for shape in SHAPES.values():
        budget = budget_of(shape)
        given = some_inputs(budget, 7)
        plain = budget.values(given, price)
        for each in KEEPING_COSTS:
            more = budget.values(given | {each.key: given[each.key] + 1.0}, price)
            added = float(plain["days_all"]) if each.per == "day" else 1.0
            assert more["cash_head"] - plain["cash_head"] == pytest.approx(added)
            assert more["gain_per_head"] < plain["gain_per_head"] - added
