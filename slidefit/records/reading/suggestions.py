"""What unknown headings may mean, by their spelling, then by their cells: for a question, never for reading."""

from __future__ import annotations

import difflib
import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from slidefit.records.columns import TextColumn
from slidefit.records.reading.tables import (
    Grid,
    Table,
    columns_of,
    distinct_texts,
    is_number,
    labels_value,
    lone_text,
)
from slidefit.records.words.animals import parse_grade, sex_of
from slidefit.records.words.dates import is_full_date
from slidefit.records.words.fields import IGNORED_FIELDS, MEASURE_FIELDS, PHRASES, normal
from slidefit.records.words.headings import ColumnHeading, parse_heading, without_unit
from slidefit.records.words.numerals import is_missing, parse_number
from slidefit.records.words.titles import read_titles

NEAR = 0.74  # likeness of spellings (difflib) from which a heading is suggested: tried on 40 slips of the pen
_DIGIT, _CLOCK = re.compile(r"\d"), re.compile(r"\d{1,2}:\d\d")
_FIRST_ROWS = 30
SAMPLE = 200
MOST = 0.8
_FEWEST_CELLS = 3
_NEEDED = frozenset({"price", "weight"})
_HEAD_BELOW, _WEIGHT_LB, PRICE = 150.0, (200.0, 1_500.0), (0.8, 700.0)


@dataclass(frozen=True)
class Suggestion:
    """A heading and the field that it may be."""

    heading: str
    field: str


def near_field(heading: str) -> str:
    """Return the field whose heading is spelt most like this one, or blank.

    >>> near_field("Avrage Wieght"), near_field("Haed"), near_field("Pirce ($/cwt)"), near_field("Zebra")
    ('weight', 'head', 'price', '')
    """
    for plain in (normal(heading), normal(without_unit(heading))):
        if len(plain) > 2 and (found := difflib.get_close_matches(plain, PHRASES, n=1, cutoff=NEAR)):
            name = PHRASES[found[0]][0]
            return "" if name in IGNORED_FIELDS else name
    return ""


def field_by_cells(cells: Sequence[str]) -> str:
    """Return the field that cells look like: days, classes, or numbers of the size of heads, weights and prices.

    >>> field_by_cells(["10/03/2023", "10/10/2023"]), field_by_cells(["512", "498"]), field_by_cells(["251.25", "228"])
    ('date', 'weight', 'price')
    """
    filled = [text for text in cells[:SAMPLE] if not is_missing(text)]
    if not filled:
        return ""
    if np.mean(list(map(is_full_date, filled))) >= MOST:
        return "date"
    numbers = [number.value for number in map(parse_number, filled) if number is not None]
    if len(numbers) >= MOST * len(filled):
        middle, whole = float(np.median(numbers)), all(number == int(number) for number in numbers)
        if whole:
            heavy = "weight" if _WEIGHT_LB[0] <= middle <= _WEIGHT_LB[1] else ""
            return "head" if middle < _HEAD_BELOW else heavy
        return "price" if PRICE[0] <= middle <= PRICE[1] else ""
    return "sex" if np.mean([bool(sex_of(text)) for text in filled]) >= MOST else ""


def _fits(name: str, cells: Sequence[str]) -> bool:
    """Tell whether cells can be those of a field: numbers for a measure, days for a date, words for a place."""
    filled = [text for text in cells[:SAMPLE] if not is_missing(text)]
    if name == "date":
        return not filled or field_by_cells(filled) == "date" or not any(map(_is_measure, filled))
    if name in ("frame", "muscle", "grade"):
        return any(parse_grade(text).text for text in filled)
    numbers = np.mean([bool(_DIGIT.search(text)) for text in filled]) if filled else name in MEASURE_FIELDS
    return bool(numbers >= MOST) if name in MEASURE_FIELDS else name != "market" or not numbers


def _is_measure(text: str) -> bool:
    """Tell whether a cell is a number or a time, but no day."""
    return parse_number(text) is not None or bool(_CLOCK.match(text.strip()))


def suggestions(headings: Sequence[ColumnHeading], columns: Sequence[TextColumn]) -> list[Suggestion]:
    """Return what the headings that are not known may be, each field once; the spelling counts before the cells."""
    taken = {heading.field for heading in headings if heading.field}
    found: dict[int, str] = {}
    for judge in (near_field, None):
        for place, (heading, column) in enumerate(zip(headings, columns, strict=True)):
            if not heading.unexplained or place in found:
                continue
            cells = column.distinct()
            varied = len(cells) > 1 or len(column) < _FEWEST_CELLS
            name = judge(heading.text) if judge is not None else field_by_cells(cells)
            if name in _NEEDED and not varied:
                continue
            if name and name not in taken and (judge is None or _fits(name, cells)):
                found[place] = name
                taken.add(name)
    return [Suggestion(headings[place].text, found[place]) for place in sorted(found)]


def unnamed_tables(
    grid: Grid, mapping: Mapping[str, str] | None = None, said: Mapping[str, str] | None = None
) -> list[Table]:
    """Return tables whose headings are not known, or that have none, when their columns look like those of sales.

    Columns without a heading are called ``column 1`` and so on, so that the user can name them. A line between rows,
    such as a class, begins the next table, under the same headings.
    """
    for at in range(min(len(grid.cells) - 1, _FIRST_ROWS)):
        row, below = grid.cells[at], grid.cells[at + 1]
        filled, filled_below = ([bool(cell.strip()) for cell in cells] for cells in (row, below))
        if sum(filled) < _FEWEST_CELLS or sum(map(is_number, below)) < 2:
            continue
        bare = sum(map(is_number, row)) >= 2 and filled == filled_below
        first = at if bare else at + 1
        names = [f"column {place}" if bare else cell.strip() for place, cell in enumerate(row, 1)]
        told = (parse_heading(name, mapping) for name in names)
        headings = tuple(ColumnHeading(each.text) if each.unexplained else each for each in told)
        lines = (n for n in range(first, len(grid.cells)) if lone_text(grid.cells[n]))
        line = next(lines, len(grid.cells))
        rows = [
            n for n in range(first, line) if sum(map(bool, map(str.strip, grid.cells[n]))) >= _FEWEST_CELLS
        ]
        columns = tuple(columns_of([grid.cells[n] for n in rows], len(names)))
        titles = [" ".join(filter(None, (cell.strip() for cell in cells))) for cells in grid.cells[:at]]
        own = read_titles(titles)
        said = {k: text for k, text in (said or {}).items() if k != "grade" or "category" not in own} | own
        fields = {each.field for each in headings} | {each.field for each in suggestions(headings, columns)}
        if not fields | ({"weight"} if "weight_range" in said else set()) >= _NEEDED:
            return []
        numbered = np.array([grid.numbers[n] for n in rows], dtype=np.int64)
        table = Table(grid.name, headings, columns, numbered, said, tuple(filter(None, titles)))
        rest, numbers = [*grid.cells[line:]], [*grid.numbers[line:]]
        again = next((n for n, cells in enumerate(rest) if any(cells) and not lone_text(cells)), len(rest))
        if not bare and again < len(rest) and rest[again] != row:
            rest.insert(again, row)
            numbers.insert(again, grid.numbers[at])
        return [table, *unnamed_tables(replace(grid, cells=rest, numbers=numbers), mapping, said)]
    return []


def turned(grid: Grid) -> Grid:
    """Return a grid whose headings stand in its first column with rows and columns changed; any other as it is.

    >>> rows = [["Oak Sale, 10/3/26"], ["Class", "Steers"], ["Head", "12"], ["Wt", "512"], ["Price", "251.25"]]
    >>> turned(Grid("a", rows, [1, 2, 3, 4, 5])).cells[::2]
    [['Oak Sale, 10/3/26'], ['Steers', '12', '512', '251.25']]
    """
    rows = [row for row in grid.cells if any(cell.strip() for cell in row)]
    titles = next((at for at, row in enumerate(rows) if not _is_title(row)), len(rows))
    above, rows = rows[:titles], rows[titles:]
    width = max(map(len, rows), default=0)
    if not _FEWEST_CELLS < len(rows) <= _FIRST_ROWS or width < 2:
        return grid
    left = [parse_heading(row[0]).field for row in rows]
    top = [parse_heading(cell).field for cell in rows[0]]
    if not set(left) >= _NEEDED or sum(map(bool, top)) > 1 or len(set(filter(None, left))) < _FEWEST_CELLS:
        return grid
    cells = map(list, itertools.zip_longest(*rows, fillvalue=""))
    return replace(grid, cells=[*above, *cells], numbers=[*[0] * titles, *range(1, width + 1)])


def _is_title(row: Sequence[str]) -> bool:
    texts = distinct_texts(row)
    return len(texts) == 1 or labels_value(texts)
