"""A comparison as a workbook (.xlsx): every choice, every budget line and what they rest on, as plain numbers.

Cells hold values and no formulas, so that nothing in the file runs: names that begin like one are text.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from slidefit.decision.results import BudgetLine, Comparison, GroupResult, KeepOption
from slidefit.errors import OutputError
from slidefit.files import write_whole
from slidefit.market.outlook import Outlook
from slidefit.report import answers, sentences

Cell = str | float | int | date | None
WHOLE, CENTS, SHARE, POUNDS, DAY = '#,##0;-#,##0', '#,##0.00;-#,##0.00', "0%", "#,##0", "yyyy-mm-dd"  # fmt: skip
LONGEST_COLUMN = 60

CHOICE_COLUMNS: tuple[tuple[str, str], ...] = (
    ("Group", ""), ("Program", ""), ("Sold", DAY), ("Days kept", WHOLE), ("Head kept", WHOLE),
    ("Weight, lb", POUNDS), ("Pay weight, lb", POUNDS), ("Price, $/cwt", CENTS),
    ("Price, low (1 in 10 below), $/cwt", CENTS), ("Price, high (1 in 10 above), $/cwt", CENTS),
    ("Net, $ a head", CENTS), ("Gain over selling now, $ a head", CENTS),
    ("Gain, low (1 in 10 below), $ a head", WHOLE), ("Gain, middle, $ a head", WHOLE),
    ("Gain, high (1 in 10 above), $ a head", WHOLE), ("Worst case in twenty, mean, $ a head", WHOLE),
    ("Odds of beating selling now", SHARE), ("Gain, $ for the head kept", WHOLE),
    ("Gain, $ an acre", CENTS), ("Value of gain, $/lb", CENTS), ("Cost of gain, $/lb", CENTS),
    ("Best choice", ""),
)  # fmt: skip
BUDGET_COLUMNS: tuple[tuple[str, str], ...] = (
    ("Group", ""), ("Choice", ""), ("Sold", DAY), ("Line", ""), ("How it comes about", ""),
    ("Kind", ""), ("$ a head", CENTS), ("Head", WHOLE), ("$ in all", WHOLE),
)  # fmt: skip
BREAKEVEN_COLUMNS: tuple[tuple[str, str], ...] = (
    ("Group", ""), ("Program", ""), ("Sold", DAY), ("What", ""), ("Planned", ""), ("Even at", ""),
)  # fmt: skip


def comparison_workbook(comparison: Comparison, outlook: Outlook) -> bytes:
    """Return a comparison as the bytes of a workbook with five sheets.

    Answer (sentences), Choices (a row per group, program and sale date), Budgets (a row per line), Breakevens,
    and Basis (what it rests on, defaults taken, what is left out, cautions).

    Returns
    -------
    bytes
        An .xlsx file; the same comparison gives the same cells.
    """
    book = Workbook()
    book.remove(book["Sheet"])
    _text_sheet(book, "Answer", _answer_lines(comparison))
    _table_sheet(book, "Choices", CHOICE_COLUMNS, _choice_rows(comparison))
    _table_sheet(book, "Budgets", BUDGET_COLUMNS, _budget_rows(comparison))
    _table_sheet(book, "Breakevens", BREAKEVEN_COLUMNS, _breakeven_rows(comparison))
    _text_sheet(book, "Basis", _basis_lines(comparison, outlook))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def write_workbook(comparison: Comparison, outlook: Outlook, path: str | Path) -> Path:
    """Write a comparison as an .xlsx workbook, wholly or not at all.

    Raises
    ------
    OutputError
        Another ending than .xlsx, or a place that can't be written.
    """
    if Path(path).suffix.lower() != ".xlsx":
        raise OutputError(
            "a workbook is written as .xlsx only", where=str(path), remedy="End its name in .xlsx."
        )
    return write_whole(path, comparison_workbook(comparison, outlook))


def _answer_lines(comparison: Comparison) -> Iterable[tuple[str, bool]]:
    for group in comparison.groups:
        yield answers.answer(group), True
        yield from ((line, False) for line in answers.how_sure(group))
        yield from ((sentences.unavailable_line(each), False) for each in group.unavailable)
        yield from ((note, False) for note in group.notes)
    if len(comparison.groups) > 1:
        yield answers.herd_answer(comparison), True
    yield from ((caution, False) for caution in comparison.cautions)


def _basis_lines(comparison: Comparison, outlook: Outlook) -> Iterable[tuple[str, bool]]:
    yield "What it rests on", True
    yield from ((line, False) for line in answers.rests_on(comparison, outlook.basis))
    yield from ((note, False) for note in dict.fromkeys((*outlook.notes, *comparison.notes)))
    if comparison.defaults_used:
        yield sentences.DEFAULTS_TITLE, True
        for name, taken, meaning in answers.default_rows(comparison):
            yield f"{name}: {taken}. {meaning}", False
    if comparison.left_out:
        yield sentences.left_out_line(comparison.left_out), True


def _choice_rows(comparison: Comparison) -> Iterable[Sequence[Cell]]:
    for group in comparison.groups:
        best = answers.best_option(group)
        now = group.sell_now
        yield (
            group.group, "sell now", now.sale_date, 0, group.head, now.weight_lb, now.pay_weight_lb, now.price_cwt,
            *(None,) * 2, now.net_per_head, *(None,) * 10, "" if best else "best",
        )  # fmt: skip
        for option in group.keep:
            yield (
                group.group, option.program, option.sale_date, option.days, option.head_kept, option.weight_lb,
                option.pay_weight_lb, option.price_cwt, option.price_low_cwt, option.price_high_cwt,
                option.net_per_head, option.gain_per_head, option.p10, option.p50, option.p90, option.worst5_mean,
                option.odds, option.gain_herd, option.gain_per_acre, option.value_of_gain_per_lb,
                option.cost_of_gain_per_lb, "best" if option is best else "",
            )  # fmt: skip


def _budget_rows(comparison: Comparison) -> Iterable[Sequence[Cell]]:
    for group in comparison.groups:
        now = group.sell_now
        yield from _lines(group, "sell now", now.sale_date, now.lines, group.head)
        for option in group.keep:
            yield from _lines(group, option.program, option.sale_date, option.lines, option.head_kept)


def _lines(
    group: GroupResult, choice: str, sold: date, lines: Sequence[BudgetLine], head: int
) -> Iterable[Sequence[Cell]]:
    for line in lines:
        amount = line.amount_per_head
        yield group.group, choice, sold, line.label, line.arithmetic, line.kind, amount, head, amount * head


def _breakeven_rows(comparison: Comparison) -> Iterable[Sequence[Cell]]:
    for group in comparison.groups:
        for option in group.keep:
            yield from _evens(group, option)


def _evens(group: GroupResult, option: KeepOption) -> Iterable[Sequence[Cell]]:
    for each in option.breakevens:
        yield group.group, option.program, option.sale_date, *answers.breakeven_row(each)


def _text_sheet(book: Workbook, title: str, lines: Iterable[tuple[str, bool]]) -> None:
    sheet = book.create_sheet(title)
    sheet.column_dimensions["A"].width = 110
    for number, (line, strong) in enumerate(lines, start=1):
        _put(sheet, number, 1, line, bold=strong)
        sheet.cell(number, 1).alignment = Alignment(wrap_text=True, vertical="top")


def _table_sheet(
    book: Workbook, title: str, columns: Sequence[tuple[str, str]], rows: Iterable[Sequence[Cell]]
) -> None:
    sheet = book.create_sheet(title)
    widest = [len(heading) // 2 + 4 for heading, _ in columns]
    for place, (heading, _) in enumerate(columns, start=1):
        _put(sheet, 1, place, heading, bold=True)
        sheet.cell(1, place).alignment = Alignment(wrap_text=True, vertical="top")
    for number, row in enumerate(rows, start=2):
        bold = "total" in row
        for place, ((_, shape), value) in enumerate(zip(columns, row, strict=True), start=1):
            _put(sheet, number, place, value, bold=bold, shape=shape)
            widest[place - 1] = max(widest[place - 1], len(value) + 1 if isinstance(value, str) else 11)
    for place, width in enumerate(widest, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = min(width, LONGEST_COLUMN)
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions


def _put(sheet: Worksheet, row: int, column: int, value: Cell, *, bold: bool, shape: str = "") -> None:
    """Put a value into a cell; text is never a formula."""
    cell = sheet.cell(row, column, value)
    if isinstance(value, str):
        cell.data_type = "s"
    elif shape:
        cell.number_format = shape
    if bold:
        cell.font = Font(bold=True)
