"""Spreadsheets (.xlsx, .xls, .ods) as grids of text: merged cells filled, formulas by their last value."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any

from slidefit.errors import RecordsError
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.sources import Source, open_zip, plain
from slidefit.records.reading.tables import MOST_COLUMNS, Grid
from slidefit.records.words.currencies import currency_of
from slidefit.records.words.units import price_unit_of, weight_unit_of

MOST_CELLS = 20_000_000
_GENERIC_SHEET = ("sheet", "table", "tabelle", "hoja", "feuil", "data")


def workbook_grids(source: Source, data: bytes, options: ReadOptions) -> tuple[list[Grid], list[str]]:
    """Return a grid for each sheet, and what must be told (hidden sheets passed over, formulas without a value).

    Raises
    ------
    RecordsError
        The workbook is damaged, locked or too large, or lacks the sheet asked for.
    """
    if data[:4] == b"PK\x03\x04":
        with open_zip(Source(source.name, data)) as archive:
            names = set(archive.namelist())
        reader = _read_xlsx if "xl/workbook.xml" in names else _read_ods
    else:
        reader = _read_xls
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            sheets, notes = reader(data)
    except RecordsError:
        raise
    except Exception as fault:  # the readers raise whatever a damaged file makes them trip over
        raise RecordsError(
            f"the workbook can't be read ({type(fault).__name__}: {str(fault)[:100]})",
            where=source.name,
            remedy="Open it in a spreadsheet program, save it again as .xlsx or CSV, and add that.",
        ) from fault
    return _chosen(sheets, notes, source.name, options)


def _chosen(
    sheets: Sequence[tuple[str, bool, list[list[str]]]], notes: list[str], name: str, options: ReadOptions
) -> tuple[list[Grid], list[str]]:
    """Return the sheets to read; hidden ones only when asked for by name."""
    if options.sheet:
        sheets = [sheet for sheet in sheets if sheet[0].strip().lower() == options.sheet.strip().lower()]
        if not sheets:
            raise RecordsError(
                f"has no sheet named {options.sheet!r}", where=name, remedy="Look at the names of its sheets."
            )
    else:
        hidden = [title for title, is_hidden, _ in sheets if is_hidden]
        if hidden:
            notes.append(f"hidden sheets were passed over: {', '.join(hidden)}")
        sheets = [sheet for sheet in sheets if not sheet[1]]
    grids = []
    for title, _, cells in sheets:
        shown = "" if title.lower().rstrip("0123456789 ") in _GENERIC_SHEET else title
        grids.append(Grid(name, cells, list(range(1, len(cells) + 1)), shown))
    return grids, notes


def cell_text(value: Any, number_format: str = "") -> str:
    """Return a cell as text: whole numbers without a point, dates as ISO, months without their day.

    >>> cell_text(158.0), cell_text(datetime(2019, 3, 1), "mmm-yy"), cell_text(452.75, '"C$"0.00')
    ('158', '2019-03', '452.75 CAD')
    >>> cell_text(312, '#,##0" kg"')
    '312 kg'
    """
    if value is None:
        return ""
    if isinstance(value, datetime | date):
        form = number_format.lower()
        if form and "m" in form and "d" not in form.replace("red", "") and "y" in form and value.day == 1:
            return f"{value.year}-{value.month:02d}"
        return value.strftime("%Y-%m-%d") if isinstance(value, date) else str(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, time):
        return value.isoformat()
    if isinstance(value, float | int):
        text = repr(round(float(value), 10)).removesuffix(".0")
        words = " ".join(re.findall(r'"([^"]*)"', number_format))
        extra = price_unit_of(number_format) or currency_of(number_format) or weight_unit_of(words)
        return f"{text} {extra}" if extra and number_format != "General" else text
    return plain(str(value))


def _read_xlsx(data: bytes) -> tuple[list[tuple[str, bool, list[list[str]]]], list[str]]:
    """Read a workbook of the Open XML kind."""
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), data_only=True, keep_links=False)
    sheets: list[tuple[str, bool, list[list[str]]]] = []
    for sheet in book.worksheets:
        if sheet.max_row * min(sheet.max_column, MOST_COLUMNS) > MOST_CELLS:
            raise RecordsError(
                f"sheet {sheet.title!r} has {sheet.max_row:,} x {sheet.max_column:,} cells",
                remedy="Save the part with the sales as CSV.",
            )
        rows = sheet.iter_rows(max_col=min(sheet.max_column, MOST_COLUMNS))
        cells = [
            [cell_text(cell.value, cell.number_format) if cell.value is not None else "" for cell in row]
            for row in rows
        ]
        for merged in sheet.merged_cells.ranges:
            _fill(cells, merged.min_row - 1, merged.max_row, merged.min_col - 1, merged.max_col)
        sheets.append((sheet.title, sheet.sheet_state != "visible", cells))
    return sheets, []


def _fill(cells: list[list[str]], top: int, bottom: int, left: int, right: int) -> None:
    """Give every cell of a merged block the text of its first."""
    if top >= len(cells) or left >= len(cells[top]):
        return
    text = cells[top][left]
    for row in cells[top:bottom]:
        for place in range(left, min(right, len(row))):
            row[place] = text


def _read_xls(data: bytes) -> tuple[list[tuple[str, bool, list[list[str]]]], list[str]]:
    """Read a workbook of the old binary kind."""
    try:
        import xlrd  # type: ignore[import-untyped]
    except ImportError as fault:
        raise RecordsError(
            "reading .xls needs the package xlrd", remedy="Save it as .xlsx, or: pip install xlrd."
        ) from fault

    book = xlrd.open_workbook(file_contents=data, formatting_info=True, logfile=io.StringIO())
    sheets: list[tuple[str, bool, list[list[str]]]] = []
    for sheet in book.sheets():
        cells = [
            [_xls_text(book, sheet.cell(row, column)) for column in range(min(sheet.ncols, MOST_COLUMNS))]
            for row in range(sheet.nrows)
        ]
        for top, bottom, left, right in sheet.merged_cells:
            _fill(cells, top, bottom, left, right)
        sheets.append((sheet.name, sheet.visibility != 0, cells))
    return sheets, []


def _xls_text(book: Any, cell: Any) -> str:
    """Return a cell of an old workbook as text."""
    import xlrd

    if cell.ctype == xlrd.XL_CELL_DATE:
        form = book.format_map[book.xf_list[cell.xf_index].format_key].format_str
        return cell_text(xlrd.xldate_as_datetime(cell.value, book.datemode), form)
    if cell.ctype == xlrd.XL_CELL_BOOLEAN:
        return cell_text(bool(cell.value))
    return "" if cell.ctype == xlrd.XL_CELL_ERROR else cell_text(cell.value)


def _read_ods(data: bytes) -> tuple[list[tuple[str, bool, list[list[str]]]], list[str]]:
    """Read an OpenDocument spreadsheet."""
    try:
        import odf  # type: ignore[import-untyped]  # noqa: F401
    except ImportError as fault:
        raise RecordsError(
            "reading .ods needs the package odfpy", remedy="Save it as .xlsx, or: pip install odfpy."
        ) from fault
    import pandas as pd

    frames = pd.read_excel(io.BytesIO(data), sheet_name=None, header=None, engine="odf", dtype=object)
    sheets: list[tuple[str, bool, list[list[str]]]] = []
    for title, frame in frames.items():
        cells = [
            ["" if pd.isna(value) else cell_text(value) for value in row]
            for row in frame.itertuples(index=False, name=None)
        ]
        sheets.append((str(title), False, cells))
    return sheets, []
