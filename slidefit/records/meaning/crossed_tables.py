"""Tables crossed by a class, weight, day or place across the top or down the side, made long."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from slidefit.records.columns import TextColumn
from slidefit.records.meaning.column_fields import filled, is_class
from slidefit.records.reading.side_by_side import are_places
from slidefit.records.reading.tables import Table
from slidefit.records.words.animals import AnimalClass, classify, is_summary, sex_of
from slidefit.records.words.dates import is_full_date, parse_date
from slidefit.records.words.fields import PRICE_FIELDS, WEIGHT_FIELDS
from slidefit.records.words.headings import ColumnHeading, Evidence
from slidefit.records.words.numerals import is_missing
from slidefit.records.words.units import not_sold, parse_price
from slidefit.records.words.vocabulary import words_of

NO_CELL_PINS = frozenset({"trait"})


def pins_of(heading: ColumnHeading) -> tuple[tuple[str, str], ...]:
    """Return what a heading fixes for its column, as a key; empty for an ordinary column."""
    pins = {key: value for key, value in heading.pins.items() if key not in NO_CELL_PINS}
    if (sex := sex_of(pins.get("category", ""))) and classify(pins["category"]) == AnimalClass(sex):
        pins["category"] = sex  # Head strs and Steers are one class
    return tuple(sorted(pins.items()))


def crossed(table: Table) -> Table:
    """Return a table crossed by classes, weights, days or places with a row for each price; others unchanged."""
    return melted(placed(by_labels(unpinned(table))))


def unpinned(table: Table) -> Table:
    """Return a table whose headings fix something only over columns of numbers: ``Calves`` over classes names none.

    In the corner, over days or weights, a class is that of the whole table.

    >>> heading, classes = ColumnHeading("Calves", pins={"category": "Calves"}), TextColumn.of(["Strs", "Hfrs"])
    >>> unpinned(Table("a", (heading,), (classes,), np.array([1, 2]))).headings[0].known
    False
    """
    headings, said = list(table.headings), dict(table.said)
    for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
        if heading.pins and not heading.field and _all_words(column):
            headings[place] = ColumnHeading(heading.text)
        elif heading.field == "price" and heading.text.lower().endswith(" at") and _all_words(column):
            headings[place] = replace(heading, field="market")  # sold at a place, not at a price
        elif heading.field in PRICE_FIELDS and _all_words(column):  # a unit in the corner
            headings[place], said = ColumnHeading(""), {"price_unit": heading.unit, **said}
        elif not place and heading.pins.keys() == {"category"} and _share(column, _names_row) == 1.0:
            headings[place], said = ColumnHeading(""), {**said, "category": heading.text}
    return replace(table, headings=tuple(headings), said=said)


def _written(column: TextColumn) -> list[str]:
    """Return the filled texts of a column, each once, but for words for a lot not sold."""
    return [text for text in filled(column) if not not_sold(text)]


def _all_words(column: TextColumn) -> bool:
    """Tell whether the cells of a column hold letters and are neither numbers nor words for a missing one."""
    cells = _written(column)
    return bool(cells) and all(sex_of(text) or not re.search(r"\d", text) for text in cells)


def _share(column: TextColumn, test: Callable[[str], bool]) -> float:
    """Return the share of the texts of a column, each once, that pass a test."""
    cells = _written(column)
    return float(np.mean([test(text) for text in cells])) if cells else 0.0


def _names_row(text: str) -> bool:
    return is_full_date(text) or is_class(text) or is_summary(text)


def by_labels(table: Table) -> Table:
    """Return a table with columns of class and weight where one without a field holds classes over their weights.

    >>> column = TextColumn.of(["Steers", "400-500", "500-600", "Total"])
    >>> told = by_labels(Table("a", (ColumnHeading("Row"),), (column,), np.array([1, 2, 3, 4])))
    >>> [(h.field, c.texts().tolist()) for h, c in zip(told.headings, told.columns, strict=True)]
    [('category', ['Steers', 'Steers', 'Steers', 'Total']), ('weight_range', ['', '400-500', '500-600', ''])]
    """
    for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
        if heading.known or not 0.0 < _share(column, is_class) < 1.0 or not is_class_name(column.texts()[0]):
            continue
        if _share(column, lambda text: is_class(text) or is_summary(text) or is_class_name(text)) < 1.0:
            continue
        weights = column.bools(is_class)
        ranges = column.mapped(lambda text: text if is_class(text) else "")
        headings, columns = list(table.headings), list(table.columns)
        names = "category", "weight_range"
        headings[place : place + 1] = [ColumnHeading(n, n, 50, how=Evidence.LINE_ABOVE) for n in names]
        columns[place : place + 1] = [column.filled_down(weights), ranges]
        return replace(table, headings=tuple(headings), columns=tuple(columns))
    return table


def is_class_name(text: str) -> bool:
    """Tell whether a text names a class of animals and holds no number."""
    return bool(sex_of(text)) and not re.search(r"\d", text)


_MOST_WORDS, _LEAP_YEAR = 2, 2000


def placed(table: Table) -> Table:
    """Return a table without a price whose open headings over prices are all days, or all names of places, as crossed.

    >>> headings = (ColumnHeading("Weight", "weight"), ColumnHeading("Oct 1"), ColumnHeading("Oct 8"))
    >>> columns = tuple(TextColumn.of([text]) for text in ("450", "251.25", "248.50"))
    >>> [dict(h.pins) for h in placed(Table("a", headings, columns, np.array([1]))).headings]
    [{}, {'date': 'Oct 1'}, {'date': 'Oct 8'}]
    """
    plain = {heading.field for heading in table.headings if not heading.pins}
    places = [
        place
        for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True))
        if heading.text and not heading.field and heading.pins.keys() <= {"date"} and _holds_prices(column)
    ]
    texts = [table.headings[place].text for place in places]
    if plain & PRICE_FIELDS or len(places) < 2:
        return table
    weighed = (plain | {*table.said}) & WEIGHT_FIELDS
    if all(re.search(r"\d", text) and parse_date(text, year=_LEAP_YEAR) for text in texts):
        name, how = "date", Evidence.DATE_ACROSS
    elif weighed and "market" not in plain and are_places(texts):
        name, how = "market", Evidence.ACROSS
    else:
        return table
    rows = (line.split("; ") for line in table.lines if name == "date" and "market" not in plain)
    over = next(
        (row for row in rows if len(row) == len(places) and are_places(row, 2)), []
    )  # barns over days
    headings = list(table.headings)
    for number, place in enumerate(places):
        pins = {name: headings[place].text} | ({"market": over[number]} if over else {})
        headings[place] = ColumnHeading(headings[place].text, pins=pins, how=how)
    return replace(table, headings=tuple(headings))


def _holds_prices(column: TextColumn) -> bool:
    """Tell whether the cells of a column are prices, but for a word or two where there was no test."""
    texts = filled(column)
    others = [text for text in texts if not parse_price(text).given]
    few = len(others) < len(texts) and len(others) <= _MOST_WORDS
    return few and not any(re.search(r"\d", text) for text in others)


_OF_PRICES = frozenset({"category", "grade", "weight_range"})  # across the top: mostly of prices
_MONEY_WORDS = words_of("titles", "money")
_CENTS = re.compile(r"\d[.,]\d{1,2}(?!\d)|[$€£¢@]|\d\s*-\s*\d|\(")
_NO_PRICE = 150.0  # $/cwt; whole numbers below it in all cells are head: feeder calves bring more, and cents


def _tell_prices(table: Table, pinned: Sequence[int], names: Iterable[str]) -> bool:
    """Tell whether the cells under what is across the top are money: classes, a title, a heading or cents say.

    Whole numbers too low for prices are counts of classes.
    """
    columns = [(table.headings[place], table.columns[place]) for place in pinned]
    cells = [text for heading, column in columns if not heading.field for text in _written(column)]
    counts = cells and all(text.isdecimal() and float(text) < _NO_PRICE for text in cells)
    if not counts and _OF_PRICES & {*names}:
        return True
    if {"price_unit", "currency"} & table.said.keys() or any(map(_MONEY_WORDS.search, table.lines)):
        return True
    if any(heading.field or heading.unit or heading.currency for heading, _ in columns):
        return True
    return any(_CENTS.search(text) for _, column in columns for text in column.values)


def melted(table: Table) -> Table:
    """Return the table with one row for each cell (or group of cells) that stands under its own pins.

    ``Steers 500-600`` under ``Price`` becomes a row with category, weight_range and price. A table with a plain
    price column of its own, or without pins, comes back as it is.
    """
    groups: dict[tuple[tuple[str, str], ...], list[int]] = {}
    for place, heading in enumerate(table.headings):
        if key := pins_of(heading):
            groups.setdefault(key, []).append(place)
    if all(key[0][0] == "summary" for key in groups):
        return table
    if any(h.field in PRICE_FIELDS and not pins_of(h) for h in table.headings):
        return _headed(table)
    names = sorted({name for key in groups for name, _ in key})
    pinned = [place for places in groups.values() for place in places]
    if not _tell_prices(table, pinned, names):
        return replace(table, wide="numbers that nothing calls prices")
    parts = [(part, dict(key)) for key, places in groups.items() if (part := _part(table, key, places))]
    if not parts:
        return table
    made: list[tuple[ColumnHeading, list[TextColumn]]] = []  # each column, in one piece for each group
    for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
        of_row = heading.field == "head" and len(groups) > 1  # it is not that of each of the row's cells
        if place not in pinned and not of_row and not _sums_up(table, place, pinned):
            made.append((heading, [column.take(part.rows) for part, _ in parts]))
    for name in names:
        texts = [TextColumn.constant(key.get(name, ""), len(part.rows)) for part, key in parts]
        made.append((ColumnHeading(name, name, 50, how=Evidence.ACROSS), texts))
    for name in dict.fromkeys(name for part, _ in parts for name in part.measures):
        source = next(part.measures[name][0] for part, _ in parts if name in part.measures)
        heading = ColumnHeading(name, name, 0, source.unit, source.currency, Evidence.WIDE)
        made.append((heading, [part.cells(name) for part, _ in parts]))
    rows = np.concatenate([table.rows[part.rows] for part, _ in parts])
    order = np.argsort(rows, kind="stable")
    return replace(
        table,
        headings=tuple(heading for heading, _ in made),
        columns=tuple(TextColumn.joined(pieces).take(order) for _, pieces in made),
        rows=rows[order],
        wide=f"{', '.join(names)} across the top",
    )


_INSIDE = 0.9


def _sums_up(table: Table, place: int, pinned: Sequence[int]) -> bool:
    """Tell whether a column that is not known, or an average, lies between the crossed cells of its rows."""
    if table.headings[place].field != "average" and not table.headings[place].unexplained:
        return False
    mean, *cells = (table.columns[at].floats(lambda text: parse_price(text).low) for at in (place, *pinned))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # a row without any
        low, high = np.nanmin(cells, axis=0), np.nanmax(cells, axis=0)
    known = np.isfinite(mean) & np.isfinite(low)
    return bool(known.any() and np.mean((low <= mean) & (mean <= high), where=known) >= _INSIDE)


def _headed(table: Table) -> Table:
    """Return a table of plain prices whose headings name one class, as "Steers" over blanks, as a table of it."""
    named = [heading for heading in table.headings if heading.field in ("", "price", "weight", "head")]
    classes = {heading.pins["category"] for heading in named if "category" in heading.pins}
    return replace(table, said={"category": classes.pop(), **table.said}) if len(classes) == 1 else table


@dataclass(frozen=True)
class _Part:
    """The rows of a table that one group of columns tells, and heading and cells of each of its measures."""

    rows: np.ndarray
    measures: dict[str, tuple[ColumnHeading, TextColumn]]

    def cells(self, name: str) -> TextColumn:
        """Return the cells of a measure, blank ones where the group has none."""
        column = self.measures[name][1] if name in self.measures else None
        return column.take(self.rows) if column else TextColumn.constant("", len(self.rows))


def _part(table: Table, key: tuple[tuple[str, str], ...], places: list[int]) -> _Part | None:
    """Return the rows and the measures of one group of columns; None when it holds no price."""
    measures: dict[str, tuple[ColumnHeading, TextColumn]] = {}
    for place in places:
        heading = table.headings[place]
        measures.setdefault(heading.field or "price", (heading, table.columns[place]))
    if not measures.keys() & (PRICE_FIELDS | {"average"}):
        return None
    blank = [column.bools(lambda text: not text.strip()) for _, column in measures.values()]
    if len(measures) == 1 and "summary" not in dict(key):
        pinned = (c for h, c in zip(table.headings, table.columns, strict=True) if pins_of(h))
        blank += [column.bools(is_missing) for column in pinned]
    return _Part(np.flatnonzero(~np.logical_and.reduce(blank)), measures)
