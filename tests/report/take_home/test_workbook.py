"""The live workbook, recalculated by LibreOffice, against slidefit: before and after inputs are typed over."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from pypdf import PdfReader

from slidefit.decision.comparison import compare
from slidefit.errors import OutputError
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import parse_plan
from slidefit.regions.region_file import read_region
from slidefit.regions.region_outlook import outlook_of_region
from slidefit.report.take_home.plan_cells import plan_cells, with_number
from slidefit.report.take_home.workbook import live_workbook, write_live_workbook

HEAD = """
[dates]
weaning = 2026-10-14
first_sale = "2026-12"
last_sale = "2027-03"
sale_day = 15
[selling]
commission_pct = 3
yardage_head = 3.5
shrink_pct = 3
freight_loaded_mile = 5.5
miles = 45
[money]
interest_pct = 8
"""
STEERS = (
    '[[groups]]\nname = "=Steers"\nsex = "steer"\nhead = 46\nweight_lb = 520\nframe = "ML"\nmuscle = "1"\n'
)
HEIFERS = (
    '[[groups]]\nname = "Heifers"\nsex = "heifer"\nhead = 61\nweight_lb = 480\nframe = "ML"\nmuscle = "1-2"\n'
)
RATION = """
[[programs]]
name = "lot"
gain_lb_day = 2.1
health_head = 20
labor_head_day = 0.2
death_loss_pct = 2
pens_head = 50
[[programs.ration]]
name = "silage"
lb_day = 34
price_ton = 52
waste_pct = 6
[[programs.ration]]
name = "supplement"
lb_day = 3
price_ton = 360
"""
PASTURE = """
[[programs]]
name = "grass"
gain_lb_day = 1.8
slump_lb = 10
earliest_on = 2026-11-12
wait_gain_lb_day = 0.5
wait_cost_head_day = 1.3
mineral_head_day = 0.1
[programs.pasture]
kind = "cereal"
cost_acre = 110
forage_lb_acre = 3200
utilization_pct = 50
intake_pct = 2.6
acres = 90
"""
PHASES = """
[[programs]]
name = "two steps"
death_loss_pct = 1.5
[[programs.phases]]
name = "first"
days = 40
gain_lb_day = 1.2
cost_head_day = 1.1
[[programs.phases]]
name = "then"
gain_lb_day = 2.2
cost_head_day = 1.7
"""
LIST = STEERS.replace(
    "head = 46\nweight_lb = 520\n", "head = 6\nweights_lb = [430, 470, 505, 520, 560, 610]\n"
)
CONTRACT = "[selling.contract]\nprice_cwt = 305\nbase_weight_lb = 640\nslide_cwt = 12\nwindow_lb = 15\n"
FLOOR = "[selling.floor]\nfloor_cwt = 300\ncost_cwt = 5\n"
PLANS = {
    "ration": HEAD + STEERS + HEIFERS + RATION,
    "pasture": HEAD + HEIFERS + "weight_sd_lb = 40\n" + PASTURE,
    "phases": HEAD + STEERS + "bid_cwt = 372\n" + HEIFERS + PHASES,
    "weights": HEAD + LIST + RATION,
    "contract": HEAD + CONTRACT + STEERS + RATION,
    "floor": HEAD + FLOOR + HEIFERS + PASTURE,
}
CHANGES = 20


@pytest.fixture(scope="module")
def outlook() -> Outlook:
    return outlook_of_region(read_region(Path(__file__).parents[3] / "data_demo" / "kettle_fork.toml"))


def changed(outlook: Outlook, plan: Plan) -> tuple[Plan, dict[str, float]]:
    """Return the plan with up to 20 of its open numbers moved, and what is typed for them."""
    typed = {}
    for place, number in enumerate(
        [n for n in plan_cells(outlook, plan).numbers if n.is_open][: CHANGES * 2 : 2]
    ):
        value = round(number.value * (1.07 if place % 2 else 0.94), 2) if number.value else 0.5
        value = float(round(value)) if number.path[-1] in ("head", "pens_head") else value
        typed[number.name] = value
        plan = with_number(plan, number.path, int(value) if number.path[-1] == "head" else value)
    return plan, typed


def named(book: Any, name: str) -> Any:
    sheet, _, cell = book.defined_names[name].attr_text.partition("!")
    return book[sheet.strip("'")][cell.replace("$", "")]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("books")


@pytest.fixture(scope="module")
def calculated(outlook: Outlook, folder: Path) -> Iterator[dict[str, Any]]:
    """Every plan before and after, recalculated in one run of LibreOffice."""
    office = shutil.which("soffice")
    assert office, "the office tests need LibreOffice: apt-get install -y libreoffice-calc"
    plans = {}
    for name, text in PLANS.items():
        plan = parse_plan(text, name)
        (folder / f"{name}.xlsx").write_bytes(live_workbook(outlook, plan, compare(outlook, plan)))
        after, typed = changed(outlook, plan)
        book = openpyxl.load_workbook(folder / f"{name}.xlsx")
        for each, value in typed.items():
            named(book, each).value = value
        book.save(folder / f"{name}-after.xlsx")
        plans |= {name: plan, f"{name}-after": after}
    command = [office, f"-env:UserInstallation=file://{folder}/profile", "--headless", "--convert-to"]
    for kind, names in (("xlsx:Calc MS Excel 2007 XML", plans), ("pdf", PLANS)):
        files = [str(folder / f"{name}.xlsx") for name in names]
        made = [*command, kind, "--outdir", f"{folder}/out", *files]
        subprocess.run(made, check=True, capture_output=True, timeout=300)
    yield {
        name: (plan, openpyxl.load_workbook(folder / "out" / f"{name}.xlsx", data_only=True))
        for name, plan in plans.items()
    }


@pytest.mark.office
@pytest.mark.parametrize("name", [*PLANS, *(f"{name}-after" for name in PLANS)])
def test_every_gain_is_ours_to_the_cent(outlook: Outlook, calculated: dict[str, Any], name: str) -> None:
    plan, book = calculated[name]
    count = 0
    for g, group in enumerate(compare(outlook, plan).groups, start=1):
        for option in group.keep:
            p = [program.name for program in plan.programs].index(option.program) + 1
            gain = named(book, f"gain_head_{g}_{p}_{option.sale_date:%Y_%m}").value
            assert gain == pytest.approx(option.budget_gain_per_head, abs=0.005), (
                group.group,
                option.sale_date,
            )
            count += 1
    assert count >= 4


@pytest.mark.office
def test_every_line_of_a_budget_is_ours_and_no_cell_is_an_error(
    outlook: Outlook, calculated: dict[str, Any]
) -> None:
    for name, (plan, book) in calculated.items():
        errors = [
            (sheet.title, cell.coordinate, cell.value)
            for sheet in book.worksheets
            for row in sheet.iter_rows()
            for cell in row
            if isinstance(cell.value, str) and cell.value.startswith(("#", "Err:"))
        ]
        assert not errors, name
        cells = plan_cells(outlook, plan)
        keys = {
            row[2].value: row[0].row for row in book["Budget"].iter_rows(min_row=5, max_col=3) if row[2].value
        }
        for column, choice in enumerate(cells.choices, start=4):
            for key, value in choice.option.plain.items():
                told = book["Budget"].cell(keys[key], column).value
                assert told == pytest.approx(value, abs=0.005), (name, key, choice.sale_date)


def evens(book: Any, calves: str) -> dict[str, tuple[Any, Any]]:
    rows = book["Breakevens"].iter_rows(min_row=2, values_only=True)
    return {row[1]: (row[2], row[3]) for row in rows if row[0] == calves}


def budget_gain(outlook: Outlook, plan: Plan, group: int, day: Any) -> float:
    (option,) = [o for o in compare(outlook, plan).groups[group].keep if o.sale_date == day]
    return option.budget_gain_per_head


@pytest.mark.office
def test_breakevens_hold_when_they_are_typed(outlook: Outlook, calculated: dict[str, Any]) -> None:
    """Gain, cost and forage come out even in the plan; the days lie between the sale days around them."""
    for name, calves, group in (("ration", "Heifers: lot", 1), ("pasture", "Heifers: grass", 0)):
        plan, book = calculated[name]
        found, program = evens(book, calves), plan.programs[0]
        keep = compare(outlook, plan).groups[group].keep
        shown = max(keep, key=lambda option: option.gain_per_head)
        added = found["Daily gain added, lb"][1]
        cost = found["Keeping cost, $ a head and day"]
        tries = [
            (("programs", 0, "gain_lb_day"), program.gain_lb_day + added),
            (("programs", 0, "yardage_head_day"), program.yardage_head_day + cost[1] - cost[0]),
        ]
        if program.pasture is not None:
            forage = found["Forage grown, lb dry matter an acre"]
            assert forage[0] == program.pasture.forage_lb_acre
            tries.append((("programs", 0, "pasture", "forage_lb_acre"), forage[1]))
        for path, value in tries:
            moved = with_number(plan, path, value)
            assert budget_gain(outlook, moved, group, shown.sale_date) == pytest.approx(0.0, abs=0.05), path
        days = found["Days kept, about"][1]
        gains = {option.days: option.budget_gain_per_head for option in keep}
        signs = [(a, b) for a, b in pairwise(sorted(gains)) if gains[a] * gains[b] < 0]
        assert any(a < days < b for a, b in signs) if signs else days == "nowhere"


@pytest.mark.office
def test_the_slides_breakeven_is_where_the_slide_of_the_comparison_is(
    outlook: Outlook, calculated: dict[str, Any]
) -> None:
    """Without any spread the expected gain is the budget's, and both slides are one."""
    plan, book = calculated["ration"]
    still = plan.model_copy(update={"risk": plan.risk.model_copy(update={"vary": (), "draws": 200})})
    for g, group in enumerate(compare(outlook, still).groups):
        found = evens(book, f"{plan.groups[g].name}: lot")["Slide, percent per cwt"]
        shown = max(compare(outlook, plan).groups[g].keep, key=lambda option: option.gain_per_head)
        (option,) = [o for o in group.keep if o.sale_date == shown.sale_date]
        (mine,) = [each for each in option.breakevens if each.name == "slide_pct_cwt"]
        assert found[0] == pytest.approx(mine.planned, abs=0.01)
        assert found[1] == pytest.approx(mine.value, abs=0.02)


@pytest.mark.office
def test_the_two_way_table_is_there_for_every_group(outlook: Outlook, calculated: dict[str, Any]) -> None:
    plan, book = calculated["ration"]
    rows = list(book["Two ways"].iter_rows(values_only=True))
    tops = [k for k, row in enumerate(rows) if isinstance(row[0], str) and ": gain a head" in row[0]]
    assert len(tops) == len(plan.groups)
    for g, top in enumerate(tops):
        shown = max(compare(outlook, plan).groups[g].keep, key=lambda option: option.gain_per_head)
        assert rows[top + 1 + 3][3] == pytest.approx(shown.budget_gain_per_head, abs=0.005)
        assert [row[0] for row in rows[top + 2 : top + 7]] == pytest.approx([-0.4, -0.2, 0.0, 0.2, 0.4])


@pytest.mark.office
def test_it_prints_on_two_pages(calculated: dict[str, Any], folder: Path) -> None:
    for name in PLANS:
        assert len(PdfReader(folder / "out" / f"{name}.pdf").pages) == 2, name


@pytest.fixture(scope="module")
def book(outlook: Outlook, tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("one") / "plan.xlsx"
    plan = parse_plan(PLANS["phases"], "plan")
    write_live_workbook(outlook, plan, compare(outlook, plan), path)
    return openpyxl.load_workbook(path)


def test_inputs_are_open_named_and_have_their_limits_and_all_else_is_protected(book: Any) -> None:
    for name in (
        "groups_2_weight_lb",
        "groups_1_bid_cwt",
        "programs_1_phases_2_gain_lb_day",
        "selling_miles",
    ):
        assert not named(book, name).protection.locked, name
    assert "groups_1_weight_lb" not in book.defined_names
    assert all(sheet.protection.sheet for sheet in book.worksheets)
    assert len(book["Inputs"].data_validations.dataValidation) > 10
    formulas = sum(cell.data_type == "f" for row in book["Budget"].iter_rows() for cell in row)
    assert formulas > 300


def test_a_name_like_a_formula_stays_text_and_cautions_and_basis_are_there(book: Any) -> None:
    texts = [
        cell
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.value == "=Steers"
    ]
    assert texts and all(cell.data_type == "s" for cell in texts)
    words = " ".join(str(row[0]) for name in ("Cautions", "What it rests on") for row in book[name].values)
    assert "not a promise" in words and "15,064 lots" in words


def test_functions_are_those_that_every_spreadsheet_knows(book: Any) -> None:
    import re

    known = {
        "ABS", "AVERAGE", "EXP", "IF", "INDEX", "INT", "LN", "MATCH", "MAX", "MIN", "POWER", "ROWS",
    }  # fmt: skip
    used = {
        name
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
        for name in re.findall(r"([A-Z]+)\(", str(cell.value))
    }
    assert used <= known


def test_another_ending_is_refused_and_nothing_is_written(outlook: Outlook, tmp_path: Path) -> None:
    plan = parse_plan(PLANS["ration"], "plan")
    with pytest.raises(OutputError, match="xlsx"):
        write_live_workbook(outlook, plan, compare(outlook, plan), tmp_path / "answer.xls")
    assert list(tmp_path.iterdir()) == []
