"""Tables inside a grid of cells: where the heading is, which rows are data, and what the lines around them say."""

from __future__ import annotations

import functools
import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from slidefit.records.columns import IntArray, TextColumn
from slidefit.records.words.dates import is_date, parse_date
from slidefit.records.words.fields import DATE_FIELDS, IGNORED_FIELDS, PRICE_FIELDS, WEIGHT_FIELDS
from slidefit.records.words.headings import (
    ColumnHeading,
    Evidence,
    only_units,
    parse_heading,
    parse_headings,
)
from slidefit.records.words.report_days import names_other_day
from slidefit.records.words.titles import is_name, market_in, name_beside_day, read_titles, told_around

MOST_COLUMNS = 2_000
MOST_CELL = 1_000  # characters; what is longer is a pasted page, not a cell
HEADING_ROWS = 3
_FEWEST_WITH_MARKET, _MOST_IN_TITLE = 4, 3  # cells
SCAN_ROWS = 200
_ACROSS = (Evidence.YEAR_ACROSS, Evidence.MONTH_ACROSS, Evidence.DATE_ACROSS)
_MOST_SHIFTED = 0.5  # of the rows; numbers beyond the heading in more of them are a column without a name
_PURE_NUMBER = re.compile(r"^[^\w]*+\d[\d.,]*+[^\w]*+$")
_CENTS = (
    re.compile(  # a price, a time, a label with its number, thousands, a day and a dash: no heading holds one
        r"(?<![\d.])\d+\.\d{2,4}(?![\d.])|\d:\d{2}|\$\s?\d|\w: *+\$?\d[\d,.]*+$|\d,\d{3}\b|/\d{2,4} +[-–—]"
    )
)
_YEAR = re.compile(r"^(?:19|20)\d{2}[rp*]?$")


@dataclass(frozen=True)
class Grid:
    """Cells of a sheet or a delimited file, as text; ``numbers`` are their row numbers in the file.

    ``hidden`` are the numbers of rows that a spreadsheet does not show.
    """

    name: str
    cells: Sequence[Sequence[str]]
    numbers: Sequence[int]
    title: str = ""
    hidden: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Table:
    """One table: columns with their headings, and what its titles say of all rows (field -> text).

    ``lines`` are the texts around it; ``other_lines`` counts those between its rows that are no rows; ``marked``
    holds, for a reason to set rows aside, the numbers of the rows that the reader of the file found it for.
    """

    name: str
    headings: tuple[ColumnHeading, ...]
    columns: tuple[TextColumn, ...]
    rows: IntArray
    said: Mapping[str, str] = field(default_factory=dict)
    lines: tuple[str, ...] = ()
    other_lines: int = 0
    wide: str = ""
    marked: Mapping[str, frozenset[int]] = field(default_factory=dict)


_BLANKS = re.compile(r"\s{3,}")
_LONG_WITH_BLANKS = 100  # characters, from which a run of blanks is worth shortening


def few_blanks(cell: str) -> str:
    """Return a long cell with two blanks for each longer run of them, over which patterns would go again and again.

    >>> len(few_blanks("1" + " " * 900 + "x")), few_blanks("a   b")
    (4, 'a   b')
    """
    return _BLANKS.sub("  ", cell) if _LONG_WITH_BLANKS < len(cell) <= MOST_CELL else cell


def cut_short(table: Table) -> Table:
    """Return a table whose cells have at most ``MOST_CELL`` characters; rows that had a longer one are marked."""
    columns, long = list(table.columns), np.zeros(len(table.rows), dtype=bool)
    for place, column in enumerate(columns):
        if isinstance(column.values, tuple) and any(len(text) > MOST_CELL for text in column.values):
            long |= column.bools(lambda text: len(text) > MOST_CELL)
            columns[place] = TextColumn(
                column.codes, tuple(few_blanks(text[:MOST_CELL]) for text in column.values)
            )
    if not long.any():
        return table
    marked = {**table.marked, "too_long": frozenset(table.rows[long].tolist())}
    return replace(table, columns=tuple(columns), marked=marked)


@dataclass
class _Found:
    """A table under way: its heading, its data rows and the sections between them."""

    headings: tuple[ColumnHeading, ...]
    cells: list[Sequence[str]]
    numbers: list[int]
    sections: list[tuple[int, dict[str, str]]]
    above: list[str]
    other: list[str]


def is_number(cell: str) -> bool:
    """Tell whether a cell is a plain number that is not a year."""
    return bool(_PURE_NUMBER.match(cell)) and not _YEAR.match(cell)


def distinct_texts(row: Sequence[str]) -> list[str]:
    """Return the texts of a row without blanks, each once when merged cells repeat it."""
    return list(dict.fromkeys(cell.strip() for cell in row if cell.strip()))


def lone_text(row: Sequence[str]) -> str:
    """Return the text of a row that holds one text and no number, or blank."""
    texts = distinct_texts(row)
    return texts[0] if len(texts) == 1 and not is_number(texts[0]) else ""


def columns_of(rows: Sequence[Sequence[str]], width: int) -> list[TextColumn]:
    """Return the columns of rows of cells; what a row lacks is blank."""
    cells = ([row[place].strip() if place < len(row) else "" for row in rows] for place in range(width))
    return list(map(TextColumn.of, cells))


def _filled_right(row: Sequence[str]) -> list[str]:
    """Return an upper heading row with each text carried over the blanks to its right, unless it ends in a stroke."""
    last = ""
    return [last := cell.strip() or ("" if last.endswith("/") else last) for cell in row]


def labels_value(texts: Sequence[str]) -> bool:
    """Tell whether two cells are a label and its value: ``Sale`` and a date, ``Barn`` and a name.

    >>> labels_value(["Sale date", "11/3/2026"]), labels_value(["Date", "Price"]), labels_value(["Barn", "Sage Flat"])
    (True, False, True)
    """
    if len(texts) != 2:
        return False
    label, value = parse_heading(texts[0].strip(" :")), parse_heading(texts[1])
    if label.field == "date" or texts[0].strip(" :").lower() == "sale":
        return is_date(texts[1])
    return label.field == "market" and not value.field and not is_number(texts[1])


def _heading_like(row: Sequence[str], mapping: Mapping[str, str] | None) -> bool:
    """Tell whether a row can be (part of) a heading: two known cells, few unknown ones, no plain numbers."""
    texts = [cell.strip() for cell in row if cell.strip()]
    if len(texts) < 2 or any(is_number(t) or _CENTS.search(t) for t in texts) or labels_value(texts):
        return False
    headings = parse_headings(texts, mapping)
    fields = {heading.field for heading in headings if heading.field}
    if len(fields) < 3 and any(not heading.known and market_in(heading.text) for heading in headings):
        return False
    known = sum(heading.known for heading in headings)
    return known >= 2 and (known >= 0.4 * len(texts) or known >= 4)


def _score(headings: Sequence[ColumnHeading]) -> int:
    """Return how much a heading row says: known columns, and more for price, weight and differing pins."""
    fields = {heading.field for heading in headings if heading.field and heading.field not in IGNORED_FIELDS}
    pinned = {tuple(sorted(heading.pins.items())) for heading in headings if heading.pins}
    return len(fields) + len(pinned) + sum(heading.known for heading in headings)


def _heading_at(
    cells: Sequence[Sequence[str]], at: int, mapping: Mapping[str, str] | None
) -> tuple[tuple[ColumnHeading, ...], int] | None:
    """Return the heading that starts at a row and how many rows it takes, or None."""
    if not _heading_like(cells[at], mapping) or _is_cut_title(cells, at, mapping):
        return None
    best = (parse_headings(cells[at], mapping), 1)
    joined = list(cells[at])
    for more, below in enumerate(cells[at + 1 : at + HEADING_ROWS], 2):
        texts = list(filter(None, map(str.strip, below)))
        if len(texts) < 2 or _is_line_over(below) or any(is_number(t) or _CENTS.search(t) for t in texts):
            break
        known = any(heading.known for heading in parse_headings(texts, mapping))
        units = only_units(texts)
        if not units and (not known or _holds_values(cells[at], below, mapping)):
            break
        wide = [*joined, *[""] * (len(below) - len(joined))]
        rows = [(upper, _joined(upper, below)) for upper in (_filled_right(wide), joined)]
        pairs = [(_dated(parse_headings(row, mapping), upper), row) for upper, row in rows]
        headings, joined = max(pairs, key=lambda pair: sum(heading.known for heading in pair[0]))
        own = _score(parse_headings(below, mapping)) if _heading_like(below, mapping) else 0
        gained = _score(headings) - _score(best[0])
        if units or gained > 0 or (gained == 0 and 0 < own < _score(best[0])):  # else it would begin a table
            best = (headings, more)
    return best


def _is_line_over(row: Sequence[str]) -> bool:
    """Tell whether one text that is no measure stands over a whole row, as in a merged cell: a line between rows."""
    told = parse_heading(lone_text(row))
    return bool(told.text) and all(map(str.strip, row)) and not (told.field or told.unit)


def _dated(headings: Sequence[ColumnHeading], upper: Sequence[str]) -> tuple[ColumnHeading, ...]:
    """Return headings with the year, month or day of the row above them, as of 2025 over Steers and Heifers."""
    days = [above if (above := parse_heading(text)).how in _ACROSS else None for text in upper]
    pairs = itertools.zip_longest(headings, days[: len(headings)])
    return tuple(replace(h, pins={**day.pins, **h.pins}) if day and h.pins else h for h, day in pairs)


def _is_cut_title(cells: Sequence[Sequence[str]], at: int, mapping: Mapping[str, str] | None) -> bool:
    """Tell whether a row above a heading of more columns is a title, cut by the commas in it."""
    row, below = cells[at], cells[at + 1] if at + 1 < len(cells) else []
    texts, following = distinct_texts(row), distinct_texts(below)
    few = len(texts) < min(len(following), _FEWEST_WITH_MARKET)
    once = len(following) == sum(bool(cell.strip()) for cell in below)  # no block of columns comes again
    days = [text for text in texts if few and once and is_date(text) and not names_other_day(text)]
    named = few and (any(map(market_in, texts)) or len(days) == 1)
    whole = len(texts) == len(row) <= len(following) / 2 and not any(map(is_number, following))
    return whole or (named and _heading_like(below, mapping))


def _joined(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    """Return the headings that two rows of headings make together.

    >>> _joined(["Avg", "Date"], ["Wt", "Date", "Head"])
    ['Avg Wt', 'Date', 'Head']
    """
    pairs = itertools.zip_longest(upper, lower, fillvalue="")
    return [
        f"{top} {low}".strip() if top.strip() != low.strip() and low.strip() else top or low
        for top, low in pairs
    ]


def _holds_values(upper: Sequence[str], lower: Sequence[str], mapping: Mapping[str, str] | None) -> bool:
    """Tell whether a row holds values of the heading above it: a date under a date, a number under a price."""
    for cell, after, below in zip(upper, [*upper[1:], "end"], [*lower, *[""] * len(upper)], strict=False):
        name = parse_heading(cell, mapping).field if cell.strip() else ""
        if name in DATE_FIELDS and is_date(below):
            return True
        alone = after.strip() not in ("", cell.strip())
        if name in PRICE_FIELDS | WEIGHT_FIELDS | {"head"} and alone and re.search(r"\d", below):
            return True
    return False


def _section(before: dict[str, str], line: str) -> dict[str, str]:
    """Return what a line between rows changes, on top of what was said before."""
    said = read_titles([line])
    if "date" not in said and (_is_day_of_a_year(line) or (len(line) < 40 and is_date(line))):
        said["date"] = line
    if not said and "market" in before and is_name(line):
        said = {"market": line.strip()}  # a bare name where the lines before named places
    if "category" in said and "grade" not in said:
        before = {key: value for key, value in before.items() if key != "grade"}
    return {**before, **said}


def _is_day_of_a_year(line: str) -> bool:
    """Tell whether a line is a month and a day, whose year stands elsewhere.

    >>> _is_day_of_a_year("Saturday, November 7"), _is_day_of_a_year("7 lots"), _is_day_of_a_year("Steers")
    (True, False, False)
    """
    if len(line) >= _LONGEST_DAY or names_other_day(line) or is_number(line.strip()):
        return False
    found = parse_date(line, year=_LEAP_YEAR)
    return found is not None and found.precision == "day"


_LEAP_YEAR, _LONGEST_DAY = 2000, 60


def _kept_on(found: Sequence[_Found]) -> dict[str, str]:
    """Return what holds for the next table: what the first titles say, but the place and day told last."""
    if not found:
        return {}
    last = found[-1].sections[-1][1]
    return found[0].sections[0][1] | {key: last[key] for key in ("date", "market") if key in last}


_CONTINUED = re.compile(r"\d|^\(|\bcont", re.IGNORECASE)


def find_tables(grid: Grid, mapping: Mapping[str, str] | None = None) -> tuple[list[Table], list[str]]:
    """Return the tables in a grid, and the lines that belong to none.

    A table begins at a row with at least two recognized headings and no plain numbers; up to three such rows
    are joined. The same heading again is passed over; another one begins the next table. A row with a single
    text is a title, a section or a footer.
    """
    found: list[_Found] = []
    pending: list[str] = [grid.title] if grid.title else []
    said: dict[str, str] = {}
    at = 0
    while at < len(grid.cells):
        row = grid.cells[at]
        texts = distinct_texts(row)
        numeric = any(is_number(text) for text in texts)
        heading = None
        if len(texts) > 1 and not numeric and (found or at < SCAN_ROWS):
            above = [each.text for each in found[-1].headings] if found else []
            heading = None if _holds_values(above, row, mapping) else _heading_at(grid.cells, at, mapping)
        if not texts:
            at += 1
        elif heading is not None:
            headings, taken = heading
            if found and not found[-1].cells:  # what looked like a heading has no rows: a title
                pending = [*found.pop().above, "; ".join(distinct_texts(above)), *pending]
            same = found and [h.text for h in headings] == [h.text for h in found[-1].headings]
            if not same or pending:
                own = pending[1:] if grid.title and not found else pending  # without the name of a sheet
                told = read_titles(pending, bare=own)
                days = [] if "date" in told else [line for line in pending if _is_day_of_a_year(line)]
                said = {**_kept_on(found), **told, **({"date": days[-1]} if days else {})}
                named = all("category" in read_titles(item.above[-1:]) for item in found)
                if found and named and pending and not told and not _CONTINUED.search(pending[-1]):
                    # a class, if not a known one
                    said = {**said, "category": pending[-1], "grade": ""}
                if found and "market" in said and (names := [line for line in pending if is_name(line)]):
                    said["market"] = names[-1]
                found.append(_Found(headings, [], [], [(0, said)], pending, []))
                pending = []
            at += taken
        elif (
            not found
            or (len(texts) == 1 and len(found[-1].headings) > 1)
            or (not numeric and 1 < len(texts) <= _MOST_IN_TITLE and name_beside_day(", ".join(texts)))
            or (_is_cut_title(grid.cells, at, mapping) and _heading_like(grid.cells[at + 1], mapping))
        ):
            mark = ": " if labels_value(texts) else "; "
            pending.append(mark.join(texts).replace("::", ":").replace(":;", ":"))
            at += 1
        else:
            _take_row(found[-1], row, grid.numbers[at], pending)
            pending = []
            at += 1
    tables = [
        _built(item, grid, found[number + 1].above if number + 1 < len(found) else pending)
        for number, item in enumerate(found)
    ]
    return [table for table in tables if len(table.rows)], pending


def _take_row(item: _Found, row: Sequence[str], number: int, pending: list[str]) -> None:
    """Add a data row to a table; lines passed since the last one are sections of it."""
    if pending:
        said = functools.reduce(_section, pending, item.sections[-1][1])
        item.sections.append((len(item.cells), said))
        item.other.extend(pending)
    item.cells.append(row)
    item.numbers.append(number)


def _built(item: _Found, grid: Grid, below: Sequence[str]) -> Table:
    """Turn the rows of a table into columns; what sections say becomes columns of its own."""
    width = min(MOST_COLUMNS, max([len(item.headings), *map(len, item.cells)]))
    headings = list(item.headings[:width]) + [ColumnHeading("") for _ in range(width - len(item.headings))]
    columns = columns_of(item.cells, width)
    after = read_titles([], below)
    base = {**after, **item.sections[0][1]}
    dated = any(heading.field in DATE_FIELDS for heading in headings)
    base |= told_around(item.above, item.other, () if dated else below, base)
    if len(item.sections) > 1:
        starts = np.array([start for start, _ in item.sections])
        codes = (np.searchsorted(starts, np.arange(len(item.cells)), side="right") - 1).astype(np.int32)
        for key in sorted({key for _, section in item.sections for key in section}):
            column = TextColumn(codes, tuple(section.get(key, "") for _, section in item.sections))
            if len(set(column.values)) > 1:
                headings.append(ColumnHeading(key, key, 50, how=Evidence.LINE_ABOVE))
                columns.append(column)
                base.pop(key, None)
    keep = [place for place, column in enumerate(columns) if headings[place].text or any(column.values)]
    return Table(
        grid.name,
        tuple(headings[place] for place in keep),
        tuple(columns[place] for place in keep),
        np.array(item.numbers, dtype=np.int64),
        base,
        (*item.above, *item.other, *below),
        len(item.other),
        marked={"hidden_row": grid.hidden, "shifted_row": _shifted(item)},
    )


def _shifted(item: _Found) -> frozenset[int]:
    """Return the numbers of rows that a separator inside a cell has made longer than the heading: a number stands
    beyond it, which in most rows nothing does."""
    width, rows = len(item.headings), zip(item.cells, item.numbers, strict=True)
    longer = [n for row, n in rows if any(map(is_number, map(str.strip, row[width:])))]
    return frozenset(longer if len(longer) <= _MOST_SHIFTED * len(item.cells) else ())
