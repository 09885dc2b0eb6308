"""The live workbook: a plan's whole budget as formulas, so that it computes where there is no slidefit."""

from __future__ import annotations

import errno
import io
import os
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from slidefit.errors import OutputError
from slidefit.files import write_whole
from slidefit.report import answers, sentences
from slidefit.report.plan_labels import path_label
from slidefit.report.take_home.plan_cells import Choice, PlanNumber, part_name, plan_cells
from slidefit.report.take_home.workbook_cells import (
    CENTS,
    CURVE_TOP,
    DAY,
    LABELS,
    NUMBER,
    POUNDS,
    Book,
    Change,
    Formula,
    budget_column,
    budget_labels,
    gain_name,
    give_name,
    price_curves,
    put,
    put_heads,
)  # fmt: skip
from slidefit.report.take_home.workbook_changes import breakevens, two_ways

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from slidefit.decision.results import Comparison
    from slidefit.market.outlook import Outlook
    from slidefit.plan.plan import Plan

LARGEST = 1e9
SHOWN_STEP_LB = 50
PRINTED: dict[str, Literal["landscape", "portrait"]] = {"Answer": "landscape", "Inputs": "portrait"}
"""Sheets that are printed, each on one page, and which way."""
EMPTY_CELL = "XFD1"
EXPLAINED = (
    "Type over the open cells of the sheet Inputs; every other sheet follows.",
    "These are the plan's own budgets, at the expected price: no odds. Odds and ranges are in the report.",
    "Dates, months and feeds stay as planned. To change those, change the plan and write a new workbook.",
    "Only this sheet and Inputs print; clear another sheet's print area to print it too.",
    "The numbers appear when a spreadsheet program first opens the file.",
    "An estimate, not a promise: ask your lender and a market adviser before you act.",
)


def live_workbook(outlook: Outlook, plan: Plan, comparison: Comparison) -> bytes:
    """Return a plan as the bytes of a workbook whose numbers are formulas.

    Sheets: Answer, Inputs, Months, Budget, Breakevens, Two ways, Alternatives, Prices, What it rests on, Cautions; and
    the work behind them. Every input has a defined name made from its path in the plan (``groups_1_weight_lb``);
    ``gain_head_G_P_YYYY_MM`` holds the gain of the plan's own budget for group G kept on program P.
    """
    from openpyxl import Workbook

    made = Book(Workbook(), plan_cells(outlook, plan))
    made.book.remove(made.book["Sheet"])
    for name in ("Answer", "Inputs", "Months", "Budget", "Breakevens", "Two ways", "Alternatives", "Prices"):
        made.book.create_sheet(name)
    _text_sheet(made.book, "What it rests on", _basis(comparison, outlook))
    _text_sheet(made.book, "Cautions", [*comparison.cautions, sentences.left_out_line(comparison.left_out)])
    for name in ("Curves", "Mix", "Work"):
        made.book.create_sheet(name)
    _inputs(made)
    price_curves(made)
    columns = _budget(made)
    _months(made, columns)
    best = _best(made, comparison)
    breakevens(made, columns, best)
    two_ways(made, best)
    _alternatives(made, columns, best)
    _prices(made)
    _answer(made, columns, best, plan.title)
    _finish(made)
    out = io.BytesIO()
    try:
        made.book.save(out)  # its sheets pass through temporary files
    except Exception as fault:
        code = getattr(
            errno, str(fault).removeprefix("IO_"), None
        )  # lxml, where there is one, has the name alone
        if code is None:
            raise
        raise OSError(code, os.strerror(code)) from fault
    return out.getvalue()


def write_live_workbook(outlook: Outlook, plan: Plan, comparison: Comparison, path: str | Path) -> Path:
    """Write a plan's live workbook, wholly or not at all.

    Raises
    ------
    OutputError
        Another ending than .xlsx, or a place that can't be written.
    """
    if Path(path).suffix.lower() != ".xlsx":
        raise OutputError(
            "a workbook is written as .xlsx only", where=str(path), remedy="End its name in .xlsx."
        )
    return write_whole(path, live_workbook(outlook, plan, comparison))


def _inputs(made: Book) -> None:
    """Write every number of the plan that moves an answer, open to be typed over, with its unit and limits."""
    sheet, row, part = made.book["Inputs"], 1, ""
    headings = ("What", "Number", "Unit", "Least", "Most", "What it is")
    put_heads(sheet, 1, headings, (34, 13, 22, 9, 9, 80))
    for number in made.cells.numbers:
        of_part = part_name(made.cells.plan, number.path)
        if of_part != part:
            row, part = row + 2, of_part
            put(sheet, row, 1, of_part, bold=True)
        row += 1
        told = path_label(number.path)
        for column, value in enumerate(
            (told, number.value, number.unit, number.low, number.high, number.meaning), start=1
        ):
            put(sheet, row, column, value, NUMBER if column == 2 else "")
        if number.is_open:
            _open(sheet, row, 2)
            _limit(sheet, row, number)
        give_name(made, number.name, sheet, row, 2)
    row += 2
    told = "Moves every price that the records or the region give; typed bids stay."
    for column, value in ((1, "All prices, percent up or down"), (2, 0.0), (3, "percent"), (6, told)):
        put(sheet, row, column, value, NUMBER if column == 2 else "")
    _open(sheet, row, 2)
    give_name(made, "price_level_pct", sheet, row, 2)


def _open(sheet: Worksheet, row: int, column: int) -> None:
    """Leave a cell open to be typed over, with an edge that says so."""
    from openpyxl.styles import Border, Protection, Side

    side = Side(style="medium", color="FF5C666D")
    cell = sheet.cell(row, column)
    cell.protection, cell.border = Protection(locked=False), Border(side, side, side, side)


def _limit(sheet: Worksheet, row: int, number: PlanNumber) -> None:
    """Let a program refuse a number off its limits."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if number.low is None and number.high is None:
        return
    low, high = (LARGEST * sign if end is None else end for sign, end in ((-1, number.low), (1, number.high)))
    ends = {"formula1": repr(low), "formula2": repr(high)}
    rule = DataValidation("decimal", operator="between", allow_blank=False, **ends)
    rule.error = f"Give a number from {low:g} to {high:g} {number.unit}".strip()
    rule.errorTitle, rule.showErrorMessage = "Out of range", True
    sheet.add_data_validation(rule)
    rule.add(sheet.cell(row, 2))


def _budget(made: Book) -> dict[tuple[int, int, date], int]:
    """Write every choice's budget as a column of formulas; return where each stands."""
    from openpyxl.utils import get_column_letter

    sheet = made.book["Budget"]
    budget_labels(made, sheet)
    out = {}
    for k, choice in enumerate(made.cells.choices):
        column = LABELS + 1 + k
        out[choice.group, choice.program, choice.sale_date] = column
        budget_column(made, sheet, column, choice, Change())
        name = gain_name(choice.group, choice.program, choice.sale_date)
        give_name(made, name, sheet, made.rows["gain_per_head"], column)
        sheet.column_dimensions[get_column_letter(column)].width = 15
    return out


def _months(made: Book, columns: Mapping[tuple[int, int, date], int]) -> None:
    """Write the gain by month of sale: a row a day, a column for each group and program; and draw it."""
    from openpyxl.chart import LineChart, Reference

    sheet, cells = made.book["Months"], made.cells
    ways = list(dict.fromkeys((g, p) for g, p, _ in columns))
    days = sorted({day for _, _, day in columns})
    told = "Gain from keeping against selling now, dollars a head, by the plan's own budget"
    put(sheet, 1, 1, told, bold=True)
    names = [f"{cells.plan.groups[g].name}, {cells.plan.programs[p].name}" for g, p in ways]
    put_heads(sheet, 3, ["Sold", *names])
    for row, day in enumerate(days, start=4):
        put(sheet, row, 1, day, DAY)
        for k, (g, p) in enumerate(ways, start=2):
            if (g, p, day) in columns:
                put(sheet, row, k, Formula(gain_name(g, p, day)), CENTS)
    last = 3 + len(days)
    put(sheet, last + 2, 1, "Best month", bold=True)
    for k in range(2, len(ways) + 2):
        letter = sheet.cell(1, k).column_letter
        span = f"{letter}4:{letter}{last}"
        put(sheet, last + 2, k, Formula(f"INDEX($A$4:$A${last},MATCH(MAX({span}),{span},0))"), DAY)
        sheet.column_dimensions[letter].width = 22
    sheet.column_dimensions["A"].width = 14
    chart = LineChart()
    chart.title, chart.height, chart.width = "Gain from keeping, $ a head", 9, 18
    chart.add_data(
        Reference(sheet, min_col=2, max_col=len(ways) + 1, min_row=3, max_row=last), titles_from_data=True
    )
    chart.set_categories(Reference(sheet, min_col=1, min_row=4, max_row=last))
    sheet.add_chart(chart, f"A{last + 5}")


def _best(made: Book, comparison: Comparison) -> tuple[Choice, ...]:
    """Return for each group that can be kept the choice whose budget is worth showing."""
    out = []
    for g, group in enumerate(comparison.groups):
        shown = answers.shown_option(group)
        out += [
            each
            for each in made.cells.choices
            if shown is not None
            and each.group == g
            and each.sale_date == shown.sale_date
            and made.cells.plan.programs[each.program].name == shown.program
        ]
    return tuple(out)


def _alternatives(made: Book, columns: Mapping[tuple[int, int, date], int], best: Sequence[Choice]) -> None:
    """Write selling all, keeping half and keeping all side by side, in dollars for the group."""
    sheet = made.book["Alternatives"]
    put(sheet, 1, 1, "Dollars for the group, by the plan's own budget; no odds here.", bold=True)
    headings = ("Calves", "Head kept if all", "Sell all now", "Sell half, keep half", "Keep all")
    put_heads(sheet, 3, headings, (22,) * len(headings))
    for row, choice in enumerate(best, start=4):
        letter = (
            made.book["Budget"].cell(1, columns[choice.group, choice.program, choice.sale_date]).column_letter
        )
        now = f"Budget!{letter}{made.rows['net_now']}"
        gain = gain_name(choice.group, choice.program, choice.sale_date)
        head = f"groups_{choice.group + 1}_head"
        put(sheet, row, 1, made.cells.plan.groups[choice.group].name)
        put(sheet, row, 2, Formula(_room(made, choice, letter)), POUNDS)
        put(sheet, row, 3, Formula(f"{now}*{head}"), POUNDS)
        put(sheet, row, 4, Formula(f"{now}*{head}+{gain}*MIN(B{row},INT({head}/2))"), POUNDS)
        put(sheet, row, 5, Formula(f"{now}*{head}+{gain}*B{row}"), POUNDS)


def _room(made: Book, choice: Choice, letter: str) -> str:
    """Return how many head the acres and pens hold, as a formula."""
    names = {each.name for each in made.cells.numbers}
    program = f"programs_{choice.program + 1}_"
    room = [f"groups_{choice.group + 1}_head"]
    room += [f"{program}pens_head"] if f"{program}pens_head" in names else []
    acres = f"{program}pasture_acres"
    grazed = [key for key in choice.option.budget.by_key if key.startswith("acres_head")]
    room += [f"INT({acres}/Budget!{letter}{made.rows[key]}+0.000000001)" for key in grazed if acres in names]
    return f"MIN({','.join(room)})"


def _prices(made: Book) -> None:
    """Write the expected price by weight and day for each group."""
    sheet, row = made.book["Prices"], 1
    for g, case in enumerate(made.cells.cases):
        days = sorted(day for group, day in made.curves if group == g)
        curve = case.outlook.curve(case.group.sex)
        put(sheet, row, 1, f"{case.group.name}: $/cwt by weight and day of sale", bold=True)
        put(sheet, row + 1, 1, "lb", bold=True)
        for k, day in enumerate(days, start=2):
            put(sheet, row + 1, k, day, DAY, bold=True)
        row += 2
        for place, weight in enumerate(case.prices.weights_lb):
            if weight % SHOWN_STEP_LB or not curve.low_lb <= weight <= curve.high_lb:
                continue
            put(sheet, row, 1, float(weight), POUNDS)
            for k, day in enumerate(days, start=2):
                letter = made.curves[g, day][1].split("$")[1]
                put(sheet, row, k, Formula(f"EXP(Curves!{letter}{CURVE_TOP + place})"), CENTS)
            row += 1
        row += 1


def _answer(
    made: Book, columns: Mapping[tuple[int, int, date], int], best: Sequence[Choice], title: str
) -> None:
    """Write the first sheet: what each group's best choice comes to, and how to use the file."""
    sheet = made.book["Answer"]
    put(sheet, 1, 1, title or sentences.REPORT_TITLE, bold=True)
    headings = (
        "Calves",
        "Choice",
        "Sold",
        "Sell now nets",
        "Kept nets",
        "Gain a head",
        "Head kept",
        "Gain, group",
    )
    put_heads(sheet, 3, headings, (22, 22, 12, 14, 12, 12, 11, 13))
    for row, choice in enumerate(best, start=4):
        column = columns[choice.group, choice.program, choice.sale_date]
        letter = made.book["Budget"].cell(1, column).column_letter
        for k, word in enumerate(made.called(choice), start=1):
            put(sheet, row, k, word)
        put(sheet, row, 3, choice.sale_date, DAY)
        for k, key in ((4, "net_now"), (5, "net_later"), (6, "gain_per_head")):
            put(sheet, row, k, Formula(f"Budget!{letter}{made.rows[key]}"), CENTS)
        put(sheet, row, 7, Formula(f"Alternatives!B{row}"), POUNDS)
        put(sheet, row, 8, Formula(f"F{row}*G{row}"), POUNDS)
    for row, words in enumerate(EXPLAINED, start=5 + len(best)):
        put(sheet, row, 1, words)


def _text_sheet(book: Workbook, title: str, lines: Iterable[str]) -> None:
    from openpyxl.styles import Alignment

    sheet = book.create_sheet(title)
    sheet.column_dimensions["A"].width = 110
    for row, line in enumerate(filter(None, lines), start=1):
        put(sheet, row, 1, line)
        sheet.cell(row, 1).alignment = Alignment(wrap_text=True, vertical="top")


def _basis(comparison: Comparison, outlook: Outlook) -> list[str]:
    told = [*answers.rests_on(comparison, outlook.basis), *map(sentences.sentence, comparison.notes)]
    return [*told, sentences.defaults_line(answers.default_rows(comparison))]


def _finish(made: Book) -> None:
    """Protect the formulas, and set the print up: the answer on one page and the inputs on another.

    A sheet whose print area is one empty cell is left out: spreadsheet programs print no empty page.
    """
    for sheet in made.book.worksheets:
        sheet.protection.sheet = True
        sheet.protection.formatColumns = False
        sheet.print_area = sheet.dimensions if sheet.title in PRINTED else EMPTY_CELL
        if sheet.title in PRINTED:
            sheet.page_setup.orientation = PRINTED[sheet.title]
            sheet.page_setup.fitToWidth = sheet.page_setup.fitToHeight = 1
            sheet.sheet_properties.pageSetUpPr.fitToPage = True
        if sheet.title in ("Curves", "Mix", "Work"):
            sheet.sheet_state = "hidden"
    for row in (1, 2):
        _open(made.book["Two ways"], row, 2)
    made.book.calculation.fullCalcOnLoad = True
