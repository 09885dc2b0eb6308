"""Spreadsheets (.xlsx, .xls, .ods) as grids of text: merged cells filled, formulas by their last value; Parquet."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import numpy as np

from slidefit.errors import RecordsError
from slidefit.records.columns import TextColumn
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.sources import Source, open_zip, plain
from slidefit.records.reading.tables import MOST_CELL, MOST_COLUMNS, Grid, Table
from slidefit.records.words.headings import parse_headings
from slidefit.records.words.units import currency_of, price_unit_of, weight_unit_of

if TYPE_CHECKING:
    import pandas as pd

MOST_CELLS = 2_000_000  # filled ones, of all sheets: 100,000 sale rows of 20 columns
MOST_SHEET_BYTES = 150 << 20  # unpacked; what a sheet takes to be read is in proportion
_GENERIC_SHEET = ("sheet", "table", "tabelle", "hoja", "feuil", "data")


@dataclass
class Sheet:
    """The filled cells of a sheet by row and column, counted from 1; rows and sheets that are not shown are marked."""

    title: str
    hidden: bool = False
    cells: dict[int, dict[int, str]] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    struck: dict[int, set[int]] = field(default_factory=dict)

    def put(self, row: int, column: int, text: str) -> None:
        """Take in a cell, if it holds anything."""
        if text and column <= MOST_COLUMNS:
            self.cells.setdefault(row, {})[column] = text

    def merge(self, top: int, bottom: int, left: int, right: int) -> None:
        """Give the text of a merged block's first cell to all its cells, in the rows that hold anything."""
        text = self.cells.get(top, {}).get(left, "")
        if not text:
            return
        width = max(max(cells) for cells in self.cells.values())
        for row, cells in self.cells.items():
            if top <= row <= bottom:
                cells.update(dict.fromkeys(range(left, min(right, width) + 1), text))

    def pass_over(self) -> None:
        """Take out hidden columns and struck cells; a row mostly struck is one that is not shown."""
        for row, struck in self.struck.items():
            if 2 * len(struck) > len(self.cells.get(row, {})):
                self.hidden_rows.add(row)
        for row, cells in list(self.cells.items()):
            gone = self.hidden_columns | (set() if row in self.hidden_rows else self.struck.get(row, set()))
            self.cells[row] = {column: text for column, text in cells.items() if column not in gone}
        self.cells = {row: cells for row, cells in self.cells.items() if cells}

    def grid(self, name: str) -> Grid:
        """Return the rows that hold anything, each up to its last filled cell; an empty one stands for a gap."""
        numbers = sorted({each for row in self.cells for each in (row - 1, row) if each})
        rows = [
            [self.cells[row].get(column, "") for column in range(1, max(self.cells[row]) + 1)]
            if row in self.cells
            else []
            for row in numbers
        ]
        shown = "" if self.title.lower().rstrip("0123456789 ") in _GENERIC_SHEET else self.title
        return Grid(name, rows, numbers, shown, frozenset(self.hidden_rows.intersection(numbers)))


def workbook_grids(source: Source, data: bytes, options: ReadOptions) -> tuple[list[Grid], list[str]]:
    """Return a grid for each sheet, and what must be told (hidden sheets passed over).

    Raises
    ------
    RecordsError
        The workbook is damaged, locked or too large, or lacks the sheet asked for.
    """
    reader = _read_xls
    if data[:4] == b"PK\x03\x04":
        with open_zip(Source(source.name, data)) as archive:
            sizes = {member.filename: member.file_size for member in archive.infolist()}
        reader = _read_xlsx if "xl/workbook.xml" in sizes else _read_ods
        unpacked = sum(size for name, size in sizes.items() if name.endswith(".xml"))
        if unpacked > MOST_SHEET_BYTES:
            most = f"at most {MOST_SHEET_BYTES >> 20} MB are read"
            large = f"the sheets unpack to {unpacked >> 20:,} MB; {most}"
            raise RecordsError(large, where=source.name, remedy=_SMALLER)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            sheets = reader(data)
    except RecordsError as fault:
        raise RecordsError(fault.what, where=source.name, remedy=fault.remedy) from fault
    except Exception as fault:  # the readers raise whatever a damaged file makes them trip over
        raise RecordsError(
            f"the workbook can't be read ({type(fault).__name__}: {str(fault)[:100]})",
            where=source.name,
            remedy="Open it in a spreadsheet program, save it again as .xlsx or CSV, and add that.",
        ) from fault
    return _chosen(sheets, source.name, options)


_SMALLER = "Save the part with the sales as CSV."


def _check_cells(count: int) -> None:
    if count > MOST_CELLS:
        raise RecordsError(f"the sheets hold more than {MOST_CELLS:,} filled cells", remedy=_SMALLER)


def _chosen(sheets: Sequence[Sheet], name: str, options: ReadOptions) -> tuple[list[Grid], list[str]]:
    """Return the sheets to read; hidden ones only when asked for by name."""
    notes = []
    if options.sheet:
        sheets = [sheet for sheet in sheets if sheet.title.strip().lower() == options.sheet.strip().lower()]
        if not sheets:
            raise RecordsError(
                f"has no sheet named {options.sheet!r}", where=name, remedy="Look at the names of its sheets."
            )
    else:
        if hidden := [sheet.title for sheet in sheets if sheet.hidden]:
            notes.append(f"hidden sheets were passed over: {', '.join(hidden)}")
        sheets = [sheet for sheet in sheets if not sheet.hidden]
    for sheet in sheets:
        if shown := sheet.hidden_columns.intersection(set().union(*sheet.cells.values())):
            from openpyxl.utils import get_column_letter

            letters = ", ".join(map(get_column_letter, sorted(shown)))
            notes.append(f"hidden columns of a sheet were not read: {letters}")
        if sheet.struck:
            notes.append("cells that are struck through were not read, and rows of them set aside")
        sheet.pass_over()
    return [sheet.grid(name) for sheet in sheets], notes


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


def _read_xlsx(data: bytes) -> list[Sheet]:
    """Read a workbook of the Open XML kind; a cell that is formatted and empty costs nothing, however far it lies."""
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), data_only=True, keep_links=False)
    struck = {place for place, font in enumerate(book._fonts) if font.strike}
    sheets, count = [], 0
    for sheet in book.worksheets:
        made = Sheet(sheet.title, sheet.sheet_state != "visible")
        for (row, column), cell in sheet._cells.items():
            if cell.value is not None:
                made.put(row, column, cell_text(cell.value, cell.number_format))
                _check_cells(count := count + 1)
                if struck and cell._style.fontId in struck:
                    made.struck.setdefault(row, set()).add(column)
        made.hidden_rows = {row for row, look in sheet.row_dimensions.items() if look.hidden}
        for look in sheet.column_dimensions.values():
            if look.hidden:
                made.hidden_columns.update(range(look.min, min(look.max, MOST_COLUMNS) + 1))
        for block in sheet.merged_cells.ranges:
            made.merge(block.min_row, block.max_row, block.min_col, block.max_col)
        sheets.append(made)
    return sheets


def _read_xls(data: bytes) -> list[Sheet]:
    import xlrd  # type: ignore[import-untyped]

    book = xlrd.open_workbook(file_contents=data, formatting_info=True, logfile=io.StringIO())
    sheets, count = [], 0
    for sheet in book.sheets():
        made = Sheet(sheet.name, sheet.visibility != 0)
        for row in range(sheet.nrows):
            for column in range(min(sheet.row_len(row), MOST_COLUMNS)):
                if text := _xls_text(book, cell := sheet.cell(row, column)):
                    made.put(row + 1, column + 1, text)
                    _check_cells(count := count + 1)
                    if book.font_list[book.xf_list[cell.xf_index].font_index].struck_out:
                        made.struck.setdefault(row + 1, set()).add(column + 1)
        made.hidden_columns = {column + 1 for column, look in sheet.colinfo_map.items() if look.hidden}
        made.hidden_rows = {row + 1 for row, look in sheet.rowinfo_map.items() if look.hidden}
        for top, bottom, left, right in sheet.merged_cells:
            made.merge(top + 1, bottom, left + 1, right)
        sheets.append(made)
    return sheets


def _xls_text(book: Any, cell: Any) -> str:
    import xlrd

    if cell.ctype == xlrd.XL_CELL_DATE:
        form = book.format_map[book.xf_list[cell.xf_index].format_key].format_str
        return cell_text(xlrd.xldate_as_datetime(cell.value, book.datemode), form)
    if cell.ctype == xlrd.XL_CELL_ERROR:
        return ""
    return cell_text(bool(cell.value) if cell.ctype == xlrd.XL_CELL_BOOLEAN else cell.value)


# names of OpenDocument 1.3, part 3 (OASIS), by the namespaces that it gives them
_TABLE, _OFFICE, _TEXT, _STYLE = (
    f"{{urn:oasis:names:tc:opendocument:xmlns:{name}:1.0}}" for name in ("table", "office", "text", "style")
)


def _read_ods(data: bytes) -> list[Sheet]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        content = archive.read("content.xml")
    if b"<!ENTITY" in content:
        raise RecordsError("the sheet defines entities, as no spreadsheet program does")
    root = ElementTree.fromstring(content)
    unseen = {
        style.get(f"{_STYLE}name")
        for style in root.iter(f"{_STYLE}style")
        for look in style.iter(f"{_STYLE}table-properties")
        if look.get(f"{_TABLE}display") == "false"
    }
    sheets, count = [], 0
    for table in root.iter(f"{_TABLE}table"):
        sheet = Sheet(table.get(f"{_TABLE}name", ""), table.get(f"{_TABLE}style-name") in unseen)
        merges, row = [], 0
        for element in table.iter(f"{_TABLE}table-row"):
            cells, blocks = _ods_row(element)
            again = int(element.get(f"{_TABLE}number-rows-repeated", "1"))
            for number in range(row + 1, row + again + 1) if cells else ():
                for column, text in cells.items():
                    sheet.put(number, column, text)
                    _check_cells(count := count + 1)
                if element.get(f"{_TABLE}visibility", "visible") != "visible":
                    sheet.hidden_rows.add(number)
            merges += [(row + 1, row + down, left, right) for left, right, down in blocks]
            row += again
        for block in merges:
            sheet.merge(*block)
        sheets.append(sheet)
    return sheets


def _ods_row(row: ElementTree.Element) -> tuple[dict[int, str], list[tuple[int, int, int]]]:
    """Return the filled cells of a row by column, and blocks that begin there: first and last column, rows."""
    cells: dict[int, str] = {}
    blocks, column = [], 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        again = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
        text = _ods_text(cell)
        if text:
            cells.update(dict.fromkeys(range(column + 1, min(column + again, MOST_COLUMNS) + 1), text))
        across, down = (int(cell.get(f"{_TABLE}number-{way}-spanned", "1")) for way in ("columns", "rows"))
        if text and (across > 1 or down > 1):
            blocks.append((column + 1, column + across, down))
        column += again
    return cells, blocks


def _ods_text(cell: ElementTree.Element) -> str:
    kind = cell.get(f"{_OFFICE}value-type", "")
    if kind in ("float", "percentage", "currency"):
        money = cell.get(f"{_OFFICE}currency", "")
        return " ".join(filter(None, (cell_text(float(cell.get(f"{_OFFICE}value", "nan"))), money)))
    if kind == "date":
        return cell.get(f"{_OFFICE}date-value", "")[:10]
    if kind == "boolean":
        return cell_text(cell.get(f"{_OFFICE}boolean-value") == "true")
    return plain("\n".join(_ods_words(line) for line in cell.findall(f"{_TEXT}p")).strip())


def _ods_words(element: ElementTree.Element) -> str:
    """Return the text of a paragraph, its blanks and tabs written out."""
    words = [element.text or ""]
    for part in element:
        if part.tag == f"{_TEXT}s":
            words.append(" " * min(int(part.get(f"{_TEXT}c", "1")), MOST_CELL))
        elif part.tag in (f"{_TEXT}tab", f"{_TEXT}line-break"):
            words.append(" ")
        elif part.tag != f"{_OFFICE}annotation":
            words.append(_ods_words(part))
        words.append(part.tail or "")
    return "".join(words)


def parquet_table(data: bytes, name: str, options: ReadOptions) -> Table:
    """Return a Parquet file as a table.

    Raises
    ------
    RecordsError
        The file is damaged.
    """
    import pandas as pd
    import pyarrow as pa

    try:
        found = pd.read_parquet(io.BytesIO(data)).iloc[:, :MOST_COLUMNS]
    except (pa.ArrowException, OSError, ValueError) as fault:
        raise RecordsError(f"the Parquet file can't be read ({str(fault)[:80]})", where=name) from fault
    columns = tuple(_coded(found.iloc[:, place]) for place in range(found.shape[1]))
    headings = parse_headings(map(str, found.columns), options.mapping)
    return Table(name, headings, columns, np.arange(1, len(found) + 1, dtype=np.int64))


def _coded(column: pd.Series[Any]) -> TextColumn:
    if column.dtype == object:  # lists and records in a cell can't be told apart by their value
        column = column.map(lambda value: value if isinstance(value, Hashable) else str(value))
    codes, values = column.factorize(use_na_sentinel=False)
    texts = ("" if value is None or value != value else cell_text(value).strip() for value in values)
    return TextColumn(codes.astype(np.int32), tuple(texts)).mapped(str)
