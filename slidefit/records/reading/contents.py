"""Which reader a content needs; delimited text."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from slidefit.errors import RecordsError
from slidefit.facts import Action, Text
from slidefit.records.reading.market_text import FEWEST_LOTS, Residue, market_text
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.side_by_side import are_places, one_below_another
from slidefit.records.reading.sources import Source, decoded, plain
from slidefit.records.reading.suggestions import turned, unnamed_tables
from slidefit.records.reading.tables import (
    MOST_CELL,
    MOST_COLUMNS,
    Grid,
    Table,
    distinct_texts,
    few_blanks,
    find_tables,
    is_number,
)
from slidefit.records.reading.text_layout import aligned_grid, lots_in, more_in_clauses
from slidefit.records.reading.web_tables import html_grids
from slidefit.records.words.animals import class_line
from slidefit.records.words.dialects import text_dialect
from slidefit.records.words.fields import IGNORED_FIELDS, PRICE_FIELDS, WEIGHT_FIELDS
from slidefit.records.words.titles import is_of_land, weights_in
from slidefit.records.words.units import parse_price

DELIMITERS = (",", "\t", ";", "|")
NO_PUNCTUATION = ("\t", "|")  # these part columns only; commas and semicolons stand in sentences, too
SAMPLE_LINES = 400
MOST_CELL_CHARACTERS = 1 << 20
MOST_LINE = 1_000_000  # characters: a longer line is another kind of file, or one that lost its line ends
MOST_BLOCK_NAMES = (3, 30)  # names in a block of names and values


def find_delimiter(lines: Sequence[str]) -> str | None:
    """Return the sign that splits most lines into the same number of cells, or None.

    >>> find_delimiter(["a;b;c", "1,5;2;3", "2,5;3;4"]), find_delimiter(["only words here"])
    (';', None)
    """
    best, best_score = None, 0.0
    filled = [line for line in lines if line.strip()]
    for delimiter in DELIMITERS:
        try:
            widths = Counter(len(row) for row in csv.reader(filled, delimiter=delimiter))
        except csv.Error:
            continue
        del widths[0], widths[1]
        common = max(widths, key=lambda width: widths[width] * min(width, 8), default=0)
        near = sum(count for width, count in widths.items() if abs(width - common) <= 1)
        share = near / max(len(filled), 1)
        score = share * min(common, 6) if share >= 0.3 else 0.0
        if score > best_score:
            best, best_score = delimiter, score
    return best


def delimited_grid(text: str, name: str, delimiter: str, title: str = "") -> Grid:
    """Return the cells of delimited text; each row keeps the number of its first line.

    Raises
    ------
    RecordsError
        A cell is longer than any sale record's.
    """
    cells, numbers = _rows(text, name, delimiter, csv.QUOTE_MINIMAL)
    width = max(map(len, cells), default=0)
    over = (row for row, start, after in zip(cells, numbers, numbers[1:], strict=False) if after - start > 1)
    if any(cell.count(delimiter) >= width - 1 > 1 for row in over for cell in row):  # rows inside a quotation
        cells, numbers = _rows(text, name, delimiter, csv.QUOTE_NONE)
    common = Counter(map(len, cells)).most_common(1)[0][0] if cells else 0
    for row in cells:  # a line written with another sign than the others
        if len(row) == 1 and common > _FEWEST_KNOWN:
            parts = (row[0].split(sign) for sign in DELIMITERS)
            row[:] = next((part for part in parts if abs(len(part) - common) <= 1), row)
    return Grid(name, cells, numbers, title)


def _rows(text: str, name: str, delimiter: str, quoting: Literal[0, 3]) -> tuple[list[list[str]], list[int]]:
    csv.field_size_limit(MOST_CELL_CHARACTERS)
    lines = _ditto_marked(text.split("\n"), delimiter)
    reader = csv.reader(lines, delimiter=delimiter, quoting=quoting, skipinitialspace=True)
    cells: list[list[str]] = []
    numbers: list[int] = []
    start = 1
    try:
        for row in reader:
            cells.append(row[:MOST_COLUMNS])
            numbers.append(start)
            start = reader.line_num + 1
    except csv.Error as fault:
        raise RecordsError(f"line {start} is no line of a table ({fault})", where=name) from fault
    if quoting == csv.QUOTE_NONE:
        cells = [[cell.strip().strip('"') for cell in row] for row in cells]
    return cells, numbers


def _ditto_marked(lines: list[str], delimiter: str) -> list[str]:
    """Return lines whose cells of a single quotation mark, which stand for the cell above, can't open a quotation.

    >>> _ditto_marked(['a;b', '";2', '"x";2'], ";")
    ['a;b', '〃;2', '"x";2']
    """
    marked = []
    for line in lines:
        cells = ["〃" if cell.strip() == '"' else cell for cell in line.split(delimiter)]
        marked.append(line if any('"' in cell for cell in cells) else delimiter.join(cells))
    return marked


_REFUSED: tuple[tuple[bytes, str, str], ...] = (
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
_JSON = re.compile(r"^\s*+[{\[]\s*+[\"{\[\]}]")
_XML = re.compile(r"^\s*+<\?xml\b(?!.{0,400}<(?:!doctype )?html\b)", re.IGNORECASE | re.DOTALL)
_HTML = re.compile(
    r"^\s*<(?:!doctype html|!--|(?:html|table|head|body|meta|h\d|p|div|section|main|article|title|style|center)\b)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Contents:
    """The tables of one piece of content, what must be told about it, and lines that belong to no table."""

    name: str
    tables: list[Table]
    notes: list[str] = field(default_factory=list)
    other_lines: int = 0
    residue: Residue = field(default_factory=Residue)


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
        how = Text("Export it first: ", Action("export"), ".")
        raise RecordsError("is a DuckDB database, not a file of sale records", where=source.name, remedy=how)
    if data.startswith(b"%PDF"):
        from slidefit.records.reading.pdf_text import pdf_text

        return text_tables(plain(pdf_text(data, source.name)), source.name, options)
    if data[:4] == b"PAR1":
        from slidefit.records.reading.spreadsheets import parquet_table

        return Contents(source.name, [parquet_table(data, source.name, options)])
    if data[:4] == b"PK\x03\x04" or data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        from slidefit.records.reading.spreadsheets import workbook_grids

        grids, notes = workbook_grids(source, data, options)
        found = grid_tables(grids, source.name, options)
        return replace(found, notes=[*notes, *found.notes])
    return text_tables(decoded(data, source.name), source.name, options)


def grid_tables(grids: Sequence[Grid], name: str, options: ReadOptions) -> Contents:
    """Return the tables in the sheets of a file."""
    titled: list[tuple[str, Table]] = []
    key: list[str] = []
    other = 0
    for grid in grids:
        before = len(titled)
        cells = [[few_blanks(cell[: MOST_CELL + 1]) for cell in row] for row in grid.cells]
        lines = list(zip(cells, [*cells[1:], []][: len(cells)], grid.numbers, strict=True))[
            options.skip_rows :
        ]
        # all but a rule between two rows of headings
        kept = [(row, n) for row, below, n in lines if not _is_rule(row) or any(map(is_number, below))]
        cut = replace(grid, cells=[row for row, _ in kept], numbers=[n for _, n in kept])
        for part in one_below_another(turned(cut), options.mapping):
            lined = replace(part, cells=[*map(class_line, part.cells)])
            found, loose = find_tables(lined, options.mapping)
            found = [each for each in found or unnamed_tables(part, options.mapping) if _holds_number(each)]
            titled += [(grid.title, each) for each in found]
            other += len(loose)
        if len(titled) == before:  # a sheet of codes and what they mean
            texts = map(distinct_texts, cut.cells)
            key += [f"{' '.join(row[:-1])} = {row[-1]}" for row in texts if len(row) in _KEY_CELLS]
    tables = _placed(titled)
    return Contents(name, _shared([replace(each, lines=(*each.lines, *key)) for each in tables]), [], other)


_KEY_CELLS, _BEGINS = (2, 3), re.compile(r"^\W*+\d")


def _holds_number(table: Table) -> bool:
    return any(_BEGINS.match(text) for column in table.columns for text in column.distinct())


def _placed(titled: Sequence[tuple[str, Table]]) -> list[Table]:
    """Return the tables of sheets; where all sheets have names of places, with these as the place that is told."""
    names = list(dict.fromkeys(title for title, _ in titled))
    if not (any(map(is_of_land, names)) and are_places(names, fewest=2)):
        return [table for _, table in titled]
    return [replace(table, said={"market": title, **table.said}) for title, table in titled]


def _is_rule(row: Sequence[str]) -> bool:
    """Tell whether a row is nothing but a rule, as between the headings of a table in Markdown."""
    filled = [cell.strip() for cell in row if cell.strip()]
    return bool(filled) and all(len(cell) > 2 and not cell.strip(":-=") for cell in filled)


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
    if _JSON.match(text) or _XML.match(text):
        from slidefit.records.reading.json_records import json_document, json_tables, xml_document

        document = json_document if _JSON.match(text) else xml_document
        tables, grids = json_tables(document(text, name), name, options)
        found = grid_tables(grids, name, options)
        return replace(found, tables=[*tables, *found.tables])
    if _HTML.match(text):
        grids = html_grids(text, name)
        if (found := grid_tables(grids, name, options)).tables:
            return found
        text = "\n".join(" ".join(row) for grid in grids for row in grid.cells)  # lists and paragraphs
    if (longest := max(map(len, text.split("\n")))) > MOST_LINE:
        raise RecordsError(
            f"has a line of {longest:,} characters; a line of sale records has at most {MOST_LINE:,}",
            where=name,
            remedy="Check that it is a table or a report, saved with its line ends.",
        )
    if blocks := _blocks(text, name):
        kept = grid_tables([blocks], name, options)
        named = [t for t in kept.tables if _names_price(t) and (_is_weighed(t) or _is_known(t))]
        if named and not more_in_clauses(text, sum(map(_rows_told, named))):
            return kept
    cut = _delimited(text, name, NO_PUNCTUATION)
    if cut is not None:
        kept = grid_tables([cut], name, options)
        if any(_is_priced(table) or _is_known(table) for table in kept.tables):
            return kept
    if text_dialect(text) and (report := _sales_of_text(text, name)):
        return report
    tried: list[Contents] = []
    for made in (_delimited, aligned_grid):  # the second only where the first gives no prices
        grid = made(text, name)
        if grid is not None:
            tried.append(grid_tables([grid], name, options))
            tests = (_is_priced, _is_weighed, _is_regular)
            whole = [table for table in tried[-1].tables if all(test(table) for test in tests)]
            if whole and not more_in_clauses(text, sum(map(_rows_told, whole))):
                return tried[-1]
    if lots_in(text) >= FEWEST_LOTS and (report := _sales_of_text(text, name)):
        return report
    if tried:
        return next((contents for contents in tried if contents.tables), tried[-1])
    raise RecordsError(
        "no table and no market report was found in the text",
        where=name,
        remedy="See docs/records.md for what can be read.",
    )


_NAMED = re.compile(r"^\s*+([^:=\d\s>*•-][^:=]{0,38}?)\s*(:\s|=\s|\s[-–—]\s|\.{2,})\s*(\S.*)$")


def _blocks(text: str, name: str) -> Grid | None:
    """Return blocks of lines of a name, a colon and a value as rows under the names; None where names don't repeat."""
    titles: list[tuple[int, str]] = []
    records: list[tuple[int, dict[str, str]]] = []
    parts = [_NAMED.match(line) for line in text.split("\n")]
    signs = Counter(found[2].strip()[:1] for found in parts if found)
    for number, (line, found) in enumerate(zip(text.split("\n"), parts, strict=True), 1):
        if found is None or found[2].strip()[:1] != max(signs, key=signs.__getitem__):
            titles.append((number, line.strip()))
        else:
            if not records or found[1] in records[-1][1]:
                records.append((number, {}))
            records[-1][1][found[1]] = found[3]
    names = list(dict.fromkeys(key for _, record in records for key in record))
    told = sum(len(record) for _, record in records)
    few = len(records) < 2 or told < _TABLE_SHARE * len(names) * len(records)
    if few or not MOST_BLOCK_NAMES[0] <= len(names) <= MOST_BLOCK_NAMES[1]:
        return None
    rows = [(number, [record.get(key, "") for key in names]) for number, record in records]
    lines = sorted([*((number, [line]) for number, line in titles), (records[0][0] - 0.5, names), *rows])
    return Grid(name, [cells for _, cells in lines], [int(number) for number, _ in lines])


_TABLE_SHARE = 0.5  # of the cells of blocks that are filled, of the rows that are numbers under no heading


_NUMBERS = re.compile(r"(?<!\S)[$\d][\d$., –-]*+")


def _rows_told(table: Table) -> int:
    """Return how many rows a table tells: of one with classes across the top, those that hold a number or range."""
    if not any(heading.pins for heading in table.headings):
        return len(table.rows)
    numbers = [column.bools(lambda cell: bool(_NUMBERS.fullmatch(cell))) for column in table.columns]
    return int(np.any(numbers, axis=0).sum())


def _delimited(text: str, name: str, signs: tuple[str, ...] = DELIMITERS) -> Grid | None:
    delimiter = find_delimiter(text.split("\n", SAMPLE_LINES)[:SAMPLE_LINES])
    return delimited_grid(text, name, delimiter) if delimiter in signs else None


def _sales_of_text(text: str, name: str) -> Contents | None:
    table, other, residue = market_text(text, name)
    return None if table is None else Contents(name, [table], [], other, residue)


_LONGEST_NAME, _MOST_WORDS = 60, 9  # of a heading; what is longer is a sentence


def _is_regular(table: Table) -> bool:
    """Tell whether no heading is a sentence, and in a table of classes across the top none is missing over numbers."""
    long = any(len(h.text) > _LONGEST_NAME and len(h.text.split()) > _MOST_WORDS for h in table.headings)
    bare = [
        column.bools(is_number).mean() > _TABLE_SHARE
        for heading, column in zip(table.headings, table.columns, strict=True)
        if not heading.text and len(column)
    ]
    return not long and not (any(h.pins for h in table.headings) and any(bare))


def _is_weighed(table: Table) -> bool:
    """Tell whether a table has a column of weight, or classes of weight across the top, in titles or in most cells."""
    told = any(h.field in WEIGHT_FIELDS or "weight_range" in h.pins for h in table.headings)
    classes = (column.bools(lambda cell: bool(weights_in([cell]))) for column in table.columns[:1])
    return told or "weight_range" in table.said or any(of.mean() > _TABLE_SHARE for of in classes if len(of))


_FEWEST_KNOWN = 4  # columns of a table whose price is asked about rather than looked for in sentences


def _is_known(table: Table) -> bool:
    return len({heading.field for heading in table.headings} - {"", *IGNORED_FIELDS}) >= _FEWEST_KNOWN


def _names_price(table: Table) -> bool:
    return any(heading.field in (*PRICE_FIELDS, "average", "amount") for heading in table.headings)


def _is_priced(table: Table) -> bool:
    """Tell whether a table has a column of price, of its own or, with numbers in it, across the top."""
    return _names_price(table) or any(
        heading.pins and np.mean(column.bools(lambda text: parse_price(text).given)) >= _TABLE_SHARE
        for heading, column in zip(table.headings, table.columns, strict=True)
    )
