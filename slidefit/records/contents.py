"""One piece of content to tables: which reader it needs, by what it holds and not by what it is called."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from slidefit.errors import RecordsError
from slidefit.records.delimited import SAMPLE_LINES, aligned_grid, delimited_grid, find_delimiter
from slidefit.records.options import ReadOptions
from slidefit.records.prose import is_running_text, prose_table, reads_as_prose
from slidefit.records.report_text import is_report, report_table
from slidefit.records.sources import Source
from slidefit.records.tables import Grid, Table, find_tables
from slidefit.records.texts import decoded

_REFUSED: tuple[tuple[bytes, str, str], ...] = (
    (
        b"%PDF",
        "is a PDF",
        "Get the report as text, CSV or JSON from its publisher, or copy its table into a spreadsheet.",
    ),
    (b"{\\rtf", "is a rich-text document", "Save it as plain text."),
    (b"\x89PNG", "is a picture", "Type or export its table as CSV."),
    (b"\xff\xd8\xff", "is a picture", "Type or export its table as CSV."),
    (b"SQLite format 3", "is a SQLite database", "Export its table as CSV."),
    (b"Rar!", "is a RAR archive", "Unpack it first."),
    (b"7z\xbc\xaf", "is a 7z archive", "Unpack it first."),
    (b"BZh", "is a bzip2 archive", "Unpack it first."),
    (b"\xfd7zXZ", "is an xz archive", "Unpack it first."),
)
SHARED_TITLES = ("market", "price_unit", "weight_unit", "currency")
_HTML = re.compile(r"^\s*<(?:!doctype html|html|table|head|body|meta)", re.IGNORECASE)


@dataclass(frozen=True)
class Contents:
    """The tables of one piece of content, what must be told about it, and lines that belong to no table."""

    name: str
    tables: list[Table]
    notes: list[str] = field(default_factory=list)
    other_lines: int = 0


def tables_of(source: Source, data: bytes, options: ReadOptions) -> Contents:
    """Return the tables in a piece of content.

    Raises
    ------
    RecordsError
        The content is of no kind that can be read.
    """
    for mark, what, remedy in _REFUSED:
        if data.startswith(mark):
            raise RecordsError(f"{what}, which can't be read", where=source.name, remedy=remedy)
    if data[8:12] == b"DUCK":
        raise RecordsError(
            "is a DuckDB database, not a file of sale records",
            where=source.name,
            remedy="Export it first: slidefit export OUT.csv --book FILE.",
        )
    if data[:4] == b"PAR1":
        from slidefit.records.json_records import parquet_table

        return Contents(source.name, [parquet_table(data, source.name, options)])
    if data[:4] == b"PK\x03\x04" or data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        from slidefit.records.workbook import workbook_grids

        grids, notes = workbook_grids(source, data, options)
        found = grid_tables(grids, source.name, options)
        return Contents(source.name, found.tables, notes, found.other_lines)
    return text_tables(decoded(data, source.name), source.name, options)


def grid_tables(grids: Sequence[Grid], name: str, options: ReadOptions) -> Contents:
    """Return the tables in the sheets of a file."""
    tables: list[Table] = []
    other = 0
    for grid in grids:
        cut = Grid(grid.name, grid.cells[options.skip_rows :], grid.numbers[options.skip_rows :], grid.title)
        found, lines = find_tables(cut, options.mapping)
        tables.extend(found)
        other += len(lines)
    return Contents(name, _shared(tables), [], other)


def _shared(tables: list[Table]) -> list[Table]:
    """Give tables that name no place or unit those that the titles of one other table name, when only one does."""
    for key in SHARED_TITLES:
        said = {table.said[key] for table in tables if key in table.said}
        if len(said) == 1:
            value = said.pop()
            tables = [replace(table, said={key: value, **table.said}) for table in tables]
    return tables


def text_tables(text: str, name: str, options: ReadOptions) -> Contents:
    """Return the tables in a text: JSON, a market report, prose, delimited or aligned columns.

    Raises
    ------
    RecordsError
        There is no table and no report in it.
    """
    if text.lstrip()[:1] in ("{", "["):
        from slidefit.records.json_records import json_document, json_tables

        tables, grids = json_tables(json_document(text, name), name, options)
        found = grid_tables(grids, name, options)
        return Contents(name, [*tables, *found.tables], [], found.other_lines)
    if _HTML.match(text):
        from slidefit.records.html_tables import html_grids

        return grid_tables(html_grids(text, name), name, options)
    if is_report(text):
        table, other = report_table(text, name)
        return Contents(name, [table], [], other)
    if is_running_text(text):
        table, other = prose_table(text, name)
        return Contents(name, [table], [], other)
    delimiter = find_delimiter(
        [line for line in text.split("\n", SAMPLE_LINES)[:SAMPLE_LINES] if line.strip()]
    )
    if delimiter is not None:
        found = grid_tables([delimited_grid(text, name, delimiter)], name, options)
        if found.tables or not reads_as_prose(text):
            return found
    if reads_as_prose(text):
        table, other = prose_table(text, name)
        return Contents(name, [table], [], other)
    aligned = aligned_grid(text, name)
    if aligned is not None:
        return grid_tables([aligned], name, options)
    raise RecordsError(
        "no table and no market report was found in the text",
        where=name,
        remedy="See docs/records.md for what can be read.",
    )
