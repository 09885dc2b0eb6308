"""A document as terminal text, page, workbook, picture files.

Cells hold values and no formulas, so that nothing in the file runs: names that begin like one are text.
"""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Literal

import pandas as pd
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from matplotlib.figure import Figure
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from slidefit.decision.results import BudgetLine, Comparison, GroupResult, KeepOption
from slidefit.errors import OutputError
from slidefit.files import write_whole
from slidefit.market.fit.coding import RecordTable
from slidefit.market.market_fit import MarketFit
from slidefit.market.outlook import Outlook
from slidefit.regions.region import Region, age_notes
from slidefit.regions.region_outlook import outlook_of_region, price_sheet, region_season
from slidefit.report import answers, sentences
from slidefit.report import formatting as f
from slidefit.report import region_content as words
from slidefit.report.charts.answer_charts import gain_by_month
from slidefit.report.charts.market_charts import price_by_weight, season_chart, slide_by_weight
from slidefit.report.charts.style import narrowed, rendered
from slidefit.report.report_content import Chart, Report


@dataclass(frozen=True)
class Picture:
    """A chart as it goes into the page: the image itself as a data address, and what it shows in words."""

    address: str
    alt: str


def report_html(report: Report, *, ways: tuple[tuple[str, str], ...] = ()) -> str:
    """Return the report as the text of one HTML page that needs no other file and no network.

    Parameters
    ----------
    ways : tuple of (words, address)
        Links above the report that are not printed; none for a page that is handed over.

    Notes
    -----
    On the screen each group stands apart; on paper the groups stand side by side, on two pages for up to three.
    """
    return page_template("report.html.j2").render(
        report=report, ways=ways, sentences=sentences, picture=_picture
    )


@cache
def page_template(name: str) -> Template:
    """Return a page's template by its file name, escaping what is put into it."""
    folder = Path(__file__).parent / "templates"
    environment = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)


def picture_of(figure: Figure, alt: str) -> Picture:
    """Return a figure as a picture that a page holds in itself."""
    data = base64.b64encode(rendered(figure, "svg")).decode()
    return Picture(f"data:image/svg+xml;base64,{data}", alt)


def _picture(chart: Chart) -> Picture:
    return picture_of(chart.figure, chart.alt)


def write_picture(figure: Figure, path: str | Path) -> Path:
    """Write a picture as PNG or SVG, by the ending of its name.

    Raises
    ------
    OutputError
        Another ending, or a place that can't be written.
    """
    kind = Path(path).suffix.lower()
    if kind == ".png":
        return write_whole(path, rendered(figure, "png"))
    if kind == ".svg":
        return write_whole(path, rendered(figure, "svg"))
    raise OutputError(
        f"a picture can't be written as {kind or 'a file without an ending'!r}",
        where=str(path),
        remedy="Use .png or .svg.",
    )


def pictures(
    fit: MarketFit, outlook: Outlook, records: pd.DataFrame | RecordTable, comparison: Comparison
) -> dict[str, bytes]:
    """Return file names and contents: price by weight, slide, season, and each group's gain from keeping."""
    figures = {
        "price_by_weight": price_by_weight(outlook, records),
        "slide_by_weight": slide_by_weight(fit.slide(), fit.basis),
        "season": season_chart(fit.season(), fit.basis),
    }
    for number, group in enumerate(comparison.groups, start=1):
        if group.keep:
            name = f"gain_{re.sub(r'[^a-z0-9]+', '_', group.group.lower()).strip('_') or number}"
            figures[f"{name}_{number}" if name in figures else name] = gain_by_month(group)
    kinds: tuple[Literal["png", "svg"], ...] = ("png", "svg")
    return {f"{name}.{kind}": rendered(figure, kind) for name, figure in figures.items() for kind in kinds}


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


LEVELS = (0.8, 1.0, 1.2)
LEVEL_STEP_CWT = 10.0
SEASON_HIGH_IN = 2.3
SHEET_SEXES = ("steer", "heifer")


@dataclass(frozen=True)
class SheetTable:
    """One table of the sheet, all of it text."""

    caption: str
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def region_sheet_html(region: Region, today: date) -> str:
    """Return the sheet as the text of one HTML page that needs no other file and no network.

    Three price levels: 80, 100 and 120 percent of the file's own (mean of the year), to the nearest $10/cwt; the
    slide of each is that of its level, as far as the file knows.
    """
    outlook = outlook_of_region(region)
    season = region_season(region)
    sexes = [sex for sex in SHEET_SEXES if sex in region.sexes()] or list(region.sexes())
    groups = [[_table(region, sex, name, level) for name, level in _levels(region)] for sex in sexes]
    return page_template("region_sheet.html.j2").render(
        title=words.sheet_title(region),
        as_of=f.day(region.price.as_of),
        printed=f.day(today),
        groups=groups,
        months=[f.month_name(month, short=True) for month in range(1, 13)],
        season=picture_of(_low(season_chart(season, outlook.basis)), sentences.season_picture_alt(season)),
        use=words.SHEET_USE,
        basis=words.sheet_basis(region),
        notes=[f"{note}." for note in (*region.remarks, *age_notes(region, today))],
        caution=words.SHEET_CAUTION,
        standard=words.sheet_standard(region),
    )


def _low(figure: Figure) -> Figure:
    """Return a picture as wide as half the page and low enough to leave the tables their room."""
    narrow = narrowed(figure)
    narrow.set_size_inches(float(narrow.get_size_inches()[0]), SEASON_HIGH_IN)
    return narrow


def _levels(region: Region) -> list[tuple[str, float]]:
    mean_cwt = region.price.standard_cwt / region.season.months()[region.price.as_of.month - 1][0] * 100.0
    return [
        (name, max(round(share * mean_cwt / LEVEL_STEP_CWT), 1) * LEVEL_STEP_CWT)
        for name, share in zip(words.SHEET_LEVELS, LEVELS, strict=True)
    ]


def _table(region: Region, sex: str, level: str, standard_cwt: float) -> SheetTable:
    prices = price_sheet(region, sex, standard_cwt)
    rows = tuple(
        (f.count(float(weight)), tuple(f"{price:.0f}" for price in row))
        for weight, row in zip(prices.index, prices.to_numpy(), strict=True)
    )
    return SheetTable(words.level_caption(sex, level, standard_cwt), rows)
