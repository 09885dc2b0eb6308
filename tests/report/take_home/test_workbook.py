"""The live workbook, recalculated by LibreOffice, against slidefit: before and after inputs are typed over."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest
from pypdf import PdfReader

from slidefit.decision.comparison import compare
from slidefit.errors import OutputError
from slidefit.market.outlook import Outlook
from slidefit.plan.plan_file import parse_plan
from slidefit.report.take_home.plan_cells import plan_cells
from slidefit.report.take_home.workbook import write_live_workbook
from tests.report.take_home.conftest import PLANS, named


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


def test_another_ending_or_a_full_disk_is_told_and_nothing_is_written(
    outlook: Outlook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = parse_plan(PLANS["ration"], "plan")
    comparison = compare(outlook, plan)
    with pytest.raises(OutputError, match="xlsx"):
        write_live_workbook(outlook, plan, comparison, tmp_path / "answer.xls")

    def full(*_: object) -> None:
        raise RuntimeError("IO_ENOSPC")  # what lxml says of the temporary file of a sheet

    monkeypatch.setattr(openpyxl.Workbook, "save", full)
    with pytest.raises(OSError, match="No space left"):
        write_live_workbook(outlook, plan, comparison, tmp_path / "answer.xlsx")
    assert list(tmp_path.iterdir()) == []
