"""Cells of the live workbook: text stays text, and a formula of ours is what it says."""

from __future__ import annotations

from datetime import date

import openpyxl

from slidefit.report.take_home.plan_cells import PlanCells
from slidefit.report.take_home.workbook_cells import (
    Book,
    Formula,
    gain_name,
    give_name,
    place_formula,
    price_formula,
    put,
    put_heads,
)


def test_only_our_own_formulas_are_formulas() -> None:
    sheet = openpyxl.Workbook().active
    assert put(sheet, 2, 3, "=1+1") == "'Sheet'!C2" and sheet["C2"].data_type == "s"
    put(sheet, 3, 3, Formula("1+1"), "#,##0", bold=True)
    assert sheet["C3"].value == "=1+1" and sheet["C3"].data_type == "f" and sheet["C3"].font.bold
    put_heads(sheet, 1, ("Calves", "What"), (40, 12))
    assert [cell.value for cell in sheet[1]][:2] == ["Calves", "What"]
    assert (sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width) == (40, 12)


def test_a_name_is_one_cell_of_the_whole_workbook() -> None:
    book = openpyxl.Workbook()
    made = Book(book, PlanCells(None, (), (), (), {}))  # type: ignore[arg-type]
    give_name(made, gain_name(0, 1, date(2026, 11, 15)), book.active, 7, 4)
    assert book.defined_names["gain_head_1_2_2026_11"].attr_text == "'Sheet'!$D$7"


def test_a_price_is_read_straight_between_the_weights_around_and_held_at_the_ends() -> None:
    """The formulas, worked out by hand on three weights: MATCH and INDEX as spreadsheets define them."""
    made = Book(openpyxl.Workbook(), PlanCells(None, (), (), (), {}))  # type: ignore[arg-type]
    made.curves[0, date(2026, 11, 15)] = ("Curves!$A$4:$A$6", "Curves!$B$4:$B$6")
    weights = made.curves[0, date(2026, 11, 15)][0]
    assert place_formula(weights, "W") == (
        "MIN(MATCH(MAX(MIN(W,Curves!$A$6),Curves!$A$4),Curves!$A$4:$A$6,1),ROWS(Curves!$A$4:$A$6)-1)"
    )
    told = price_formula(made, (0, date(2026, 11, 15)), "W", "P")
    assert (
        told.startswith("EXP(")
        and told.count("INDEX(") >= 2
        and "MAX(MIN(W,Curves!$A$6),Curves!$A$4)" in told
    )
