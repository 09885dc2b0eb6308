"""Delimited text (comma, tab, semicolon, bar) and text aligned in columns, as a grid of cells."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from typing import Literal

from slidefit.errors import RecordsError
from slidefit.records.tables import MOST_COLUMNS, Grid

DELIMITERS = (",", "\t", ";", "|")
SAMPLE_LINES = 400
MOST_CELL_CHARACTERS = 1 << 20
MOST_LINES_IN_CELL = 6
FEWEST_ALIGNED_LINES = 3


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
        common = max(
            (width for width in widths if width > 1),
            key=lambda width: widths[width] * min(width, 8),
            default=0,
        )
        near = sum(
            count for width, count in widths.items() if common and abs(width - common) <= 1 and width > 1
        )
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
    if any(cell.count("\n") > MOST_LINES_IN_CELL for row in cells for cell in row if "\n" in cell):
        cells, numbers = _rows(text, name, delimiter, csv.QUOTE_NONE)
    return Grid(name, cells, numbers, title)


def _rows(text: str, name: str, delimiter: str, quoting: Literal[0, 3]) -> tuple[list[list[str]], list[int]]:
    """Split text into rows of cells."""
    csv.field_size_limit(MOST_CELL_CHARACTERS)
    reader = csv.reader(
        _ditto_marked(text.split("\n"), delimiter),
        delimiter=delimiter,
        quoting=quoting,
        skipinitialspace=True,
    )
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
        if '"' in line:
            cells = line.split(delimiter)
            lone = [cell.strip() == '"' for cell in cells]
            if any(lone) and all(alone or '"' not in cell for alone, cell in zip(lone, cells, strict=True)):
                line = delimiter.join(
                    "〃" if alone else cell for alone, cell in zip(lone, cells, strict=True)
                )
        marked.append(line)
    return marked


def aligned_grid(text: str, name: str) -> Grid | None:
    """Return the cells of text whose columns are held apart by blanks, or None when it is no such text.

    A line splits where two or more blanks stand; where lines have fewer cells than the commonest, the edges of the
    columns decide which cell is missing.
    """
    lines = text.expandtabs(8).split("\n")
    split = [list(re.finditer(r"\S+(?: \S+)*", line)) for line in lines]
    widths = Counter(len(parts) for parts in split if len(parts) >= 3)
    if not widths or sum(widths.values()) < FEWEST_ALIGNED_LINES:
        return None
    width = max(widths, key=lambda size: (widths[size], size))
    full = [parts for parts in split if len(parts) == width]
    if len(full) < FEWEST_ALIGNED_LINES:
        return None
    spans = [
        (min(parts[place].start() for parts in full), max(parts[place].end() for parts in full))
        for place in range(width)
    ]
    cells = []
    for parts in split:
        if len(parts) == width or len(parts) < 2:
            cells.append([part.group() for part in parts])
            continue
        row = [""] * width
        for part in parts:
            middle = 0.5 * (part.start() + part.end())
            place = min(range(width), key=lambda at: abs(0.5 * (spans[at][0] + spans[at][1]) - middle))
            row[place] = f"{row[place]} {part.group()}".strip()
        cells.append(row)
    return Grid(name, cells, list(range(1, len(lines) + 1)))
