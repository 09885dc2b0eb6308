"""Tables made long, row measures, totals per lot, figures in words."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from slidefit.records.columns import FloatArray, TextColumn, combined
from slidefit.records.meaning.column_fields import occasion
from slidefit.records.meaning.table_meaning import holds_lots
from slidefit.records.reading.tables import Table
from slidefit.records.words.animals import AnimalClass, classify, sex_of
from slidefit.records.words.fields import MEASURE_FIELDS, PRICE_FIELDS, WEIGHT_FIELDS, normal
from slidefit.records.words.headings import ColumnHeading, Evidence, parse_heading
from slidefit.records.words.numerals import is_missing
from slidefit.records.words.units import (
    PriceCell,
    WeightCell,
    not_sold,
    parse_head,
    parse_price,
    parse_weight,
)

NO_CELL_PINS = frozenset({"trait"})


def _pins(heading: ColumnHeading) -> tuple[tuple[str, str], ...]:
    """Return what a heading fixes for its column, as a key; empty for an ordinary column."""
    pins = {key: value for key, value in heading.pins.items() if key not in NO_CELL_PINS}
    if (sex := sex_of(pins.get("category", ""))) and classify(pins["category"]) == AnimalClass(sex):
        pins["category"] = sex  # Head strs and Steers are one class
    return tuple(sorted(pins.items()))


def made_long(table: Table) -> Table:
    """Return a table with a row for each lot or class, and a column for each measure that its rows tell."""
    return priced(completed(parted(melted(rows_of_prices(unpinned(table))))))


def unpinned(table: Table) -> Table:
    """Return a table whose headings fix something only over columns of numbers: ``Calves`` over classes names none.

    >>> told = unpinned(Table("a", (parse_heading("Calves"),), (TextColumn.of(["Strs", "Hfrs"]),), np.array([1, 2])))
    >>> told.headings[0].known
    False
    """
    headings = tuple(
        ColumnHeading(heading.text) if heading.pins and not heading.field and _all_words(column) else heading
        for heading, column in zip(table.headings, table.columns, strict=True)
    )
    return replace(table, headings=headings)


def _all_words(column: TextColumn) -> bool:
    """Tell whether the cells of a column hold letters and are neither numbers nor words for a missing one."""
    cells = [text for text in column.distinct() if not is_missing(text) and not not_sold(text)]
    return bool(cells) and all(sex_of(text) or not re.search(r"\d", text) for text in cells)


def melted(table: Table) -> Table:
    """Return the table with one row for each cell (or group of cells) that stands under its own pins.

    ``Steers 500-600`` under ``Price`` becomes a row with category, weight_range and price. A table with a plain
    price column of its own, or without pins, comes back as it is.
    """
    groups: dict[tuple[tuple[str, str], ...], list[int]] = {}
    for place, heading in enumerate(table.headings):
        key = _pins(heading)
        if key:
            groups.setdefault(key, []).append(place)
    plain_price = any(h.field in PRICE_FIELDS and not _pins(h) for h in table.headings)
    if not groups:
        return table
    if plain_price:
        return _headed(table)
    shared = [place for place, heading in enumerate(table.headings) if not _pins(heading)]
    names = sorted({name for key in groups for name, _ in key})
    parts = [part for key, places in groups.items() if (part := _part(table, key, places))]
    if not parts:
        return table
    measures = list(dict.fromkeys(heading.field for part in parts for heading, _ in part[1]))
    headings: list[ColumnHeading] = [table.headings[place] for place in shared]
    columns: list[TextColumn] = [
        TextColumn.joined([table.columns[place].take(rows) for rows, _, _ in parts]) for place in shared
    ]
    for name in names:
        headings.append(ColumnHeading(name, name, 50, how=Evidence.ACROSS))
        columns.append(
            TextColumn.joined(
                [TextColumn.constant(dict(key).get(name, ""), len(rows)) for rows, _, key in parts]
            )
        )
    for measure in measures:
        source = next(heading for part in parts for heading, _ in part[1] if heading.field == measure)
        headings.append(ColumnHeading(measure, measure, 0, source.unit, source.currency, Evidence.WIDE))
        cells = []
        for rows, measured, _ in parts:
            column = next((column for heading, column in measured if heading.field == measure), None)
            cells.append(column.take(rows) if column else TextColumn.constant("", len(rows)))
        columns.append(TextColumn.joined(cells))
    rows = np.concatenate([table.rows[rows] for rows, _, _ in parts])
    order = np.argsort(rows, kind="stable")
    return Table(
        table.name,
        tuple(headings),
        tuple(column.take(order) for column in columns),
        rows[order],
        table.said,
        table.lines,
        table.other_lines,
        f"{', '.join(names)} across the top",
        table.marked,
    )


def _headed(table: Table) -> Table:
    """Return a table of plain prices whose headings name one class, as "Steers" over blanks, as a table of it."""
    named = [heading for heading in table.headings if heading.field in ("", "price", "weight", "head")]
    classes = {heading.pins["category"] for heading in named if "category" in heading.pins}
    return replace(table, said={"category": classes.pop(), **table.said}) if len(classes) == 1 else table


def _part(
    table: Table, key: tuple[tuple[str, str], ...], places: list[int]
) -> tuple[np.ndarray, list[tuple[ColumnHeading, TextColumn]], tuple[tuple[str, str], ...]] | None:
    """Return the rows and the measures of one group of columns; None when it holds no price."""
    measures: list[tuple[ColumnHeading, TextColumn]] = []
    for place in places:
        heading = table.headings[place]
        name = heading.field or "price"
        if all(name != known.field for known, _ in measures):
            measures.append(
                (ColumnHeading(heading.text, name, 0, heading.unit, heading.currency), table.columns[place])
            )
    if not any(heading.field in PRICE_FIELDS | {"average"} for heading, _ in measures):
        return None
    blank = np.ones(len(table.rows), dtype=bool)
    for _, column in measures:
        blank &= column.bools(lambda text: not text.strip())
    if len(measures) == 1 and "summary" not in dict(key):
        every = np.ones(len(table.rows), dtype=bool)
        for place, heading in enumerate(table.headings):
            if _pins(heading):
                every &= table.columns[place].bools(is_missing)
        blank &= every
    return np.flatnonzero(~blank), measures, key


MOST_MEASURES = 12
_MEAN = ("price", "average")
_VALUE = frozenset(["value", "values", "val", "amount", "number", "result", "reading", "observation"])


def rows_of_prices(table: Table) -> Table:
    """Return a table with a column for each measure where a column names that of each row; others unchanged.

    Examples
    --------
    >>> import numpy as np
    >>> from slidefit.records.columns import TextColumn
    >>> names, cells = TextColumn.of(["Head", "Avg Price"]), TextColumn.of(["12", "280.50"])
    >>> headings = ColumnHeading(""), parse_heading("500-600")
    >>> told = rows_of_prices(Table("a", headings, (names, cells), np.array([1, 2])))
    >>> [(h.field, dict(h.pins), c.values) for h, c in zip(told.headings, told.columns, strict=True)]
    [('head', {'weight_range': '500-600'}, ('12',)), ('price', {'weight_range': '500-600'}, ('280.50',))]
    """
    plain = {heading.field for heading in table.headings}
    for place, column in enumerate(table.columns if not (plain & PRICE_FIELDS and plain & WEIGHT_FIELDS) else ()):
        names = [text for text in column.distinct() if not is_missing(text)]
        if not 2 <= len(names) <= MOST_MEASURES or table.headings[place].known:
            continue
        measures = {text: parse_heading(text) for text in names}
        kinds = {heading.field for heading in measures.values()}
        if not kinds <= MEASURE_FIELDS or len(kinds) < 2 or not kinds & set(_MEAN):
            continue
        return _spread(table, place, measures) or table
    return table


def _spread(table: Table, place: int, measures: dict[str, ColumnHeading]) -> Table | None:
    """Return a table of a name and values in each row with one column for each measure; None where it is no such.

    There must be one column of values, or classes across the top, and no lot may have a measure twice.
    """
    others = [
        at for at, heading in enumerate(table.headings) if at != place and heading.field not in ("", "unused")
    ]
    values = [at for at, heading in enumerate(table.headings) if at != place and _pins(heading)]
    if values:
        others = keys = [at for at in others if at not in values]
    else:
        values = [
            at
            for at, heading in enumerate(table.headings)
            if at != place and heading.field in ("", "unused") and normal(heading.text) in _VALUE
        ]
        keys = [at for at in range(len(table.columns)) if at not in (place, *values)]
        if len(values) != 1:
            return None
    if len({(heading.field, _pins(heading)) for heading in measures.values()}) < len(measures):
        return None
    names, known = table.columns[place], {at: _written_down(table.columns[at]) for at in keys}
    groups, examples = np.zeros(len(table.rows), dtype=np.int64), np.zeros(1, dtype=np.int64)
    if keys:
        groups, examples = combined(list(known.values()))
    headings, columns = ([table.headings[at] for at in others], [known[at].take(examples) for at in others])
    for text, heading in measures.items():
        rows = np.flatnonzero(names.bools(lambda name, text=text: name == text))  # type: ignore[misc]
        if len(np.unique(groups[rows])) < len(rows):
            return None
        for value in values:
            cells, texts = table.columns[value], [""] * len(examples)
            for row in rows:
                texts[groups[row]] = cells.values[cells.codes[row]]
            pins = {**heading.pins, **table.headings[value].pins}
            headings.append(dataclasses.replace(heading, pins=pins, how=Evidence.MEASURE))
            columns.append(TextColumn.of(texts))
    return dataclasses.replace(
        table,
        headings=tuple(headings),
        columns=tuple(columns),
        rows=table.rows[examples],
        wide="names and values",
    )


def _written_down(column: TextColumn) -> TextColumn:
    """Return a column filled down where it is written once for several rows: begun, and mostly blank."""
    blank = column.bools(is_missing)
    return column.filled_down(blank) if len(blank) and not blank[0] and blank.mean() >= MOST else column


WHOLE_CALF_LB = 250.0
"""Below this middle weight per head an unnamed unit may be kilograms, and nothing is worked out."""


def priced(table: Table) -> Table:
    """Return a table with a price column where only the amount of money of each lot is told, and the lot's weight.

    Examples
    --------
    >>> headings = (ColumnHeading("Total Lbs", "lot_weight", unit="lb"), ColumnHeading("Total $", "amount"))
    >>> told = priced(Table("a", headings, (TextColumn.of(["5,230"]), TextColumn.of(["$19,874.00"])), np.array([1])))
    >>> told.headings[-1].field, told.headings[-1].unit, told.columns[-1].values
    ('price', '$/lb', ('3.8',))
    """
    places: dict[str, int] = {}
    for place, heading in sorted(
        enumerate(table.headings), key=lambda item: -occasion(item[1].text, item[1].field)
    ):
        places.setdefault(heading.field, place)
    weight_name = next((name for name in ("lot_weight", "weight") if name in places), "")
    if (
        (PRICE_FIELDS - {"price_low", "price_high"}) & set(places)
        or "amount" not in places
        or not weight_name
    ):
        return table
    pounds = _single(table.columns[places[weight_name]], parse_weight)
    head = table.columns[places["head"]].floats(parse_head) if "head" in places else None
    if weight_name == "weight":
        if head is None:
            return table
        pounds = pounds if holds_lots(pounds, head) else pounds * head
    unit = table.headings[places[weight_name]].unit or table.said.get("weight_unit", "")
    each = pounds / head if head is not None else np.full(len(pounds), np.nan)
    if unit not in ("lb", "kg") and not np.nanmedian([*each, 0.0]) >= WHOLE_CALF_LB:
        return table
    money = _single(table.columns[places["amount"]], parse_price)
    with np.errstate(divide="ignore", invalid="ignore"):
        price = np.where((money > 0) & (pounds > 0), money / pounds, np.nan)
    texts = TextColumn.of(
        f"{value:.6f}".rstrip("0").rstrip(".") if np.isfinite(value) else "" for value in price
    )
    heading = ColumnHeading("price", "price", 95, "$/kg" if unit == "kg" else "$/lb", how=Evidence.WORKED_OUT)
    return replace(table, headings=(*table.headings, heading), columns=(*table.columns, texts))


def _single(column: TextColumn, parse: Callable[[str], PriceCell | WeightCell]) -> FloatArray:
    """Return the single numbers of a column of money or weights; nan where a cell holds none or a range."""
    return column.floats(lambda text: cell.low if (cell := parse(text)).low == cell.high else np.nan)


MOST = 0.5
_HEAD = re.compile(
    r"(?:^|[\s,(])(\d{1,4})\s?(?:head|hd)\b|\((\d{1,3})\)\s*$"
    r"|^(\d{1,2}) (?:\w+ ){0,2}(?:steers?|heifers?|bulls?|strs|hfrs|calves)\b",
    re.IGNORECASE,
)
_WEIGHT = re.compile(
    r"(?<![\d.,-])(\d{3,4}\s?(?:-|–|to)\s?\d{3,4}|\d{3,4}(?=\s?(?:#|lbs?\b|pounds?\b|kgs?\b)))\s?(?:#|lbs?\b|pounds?\b|kgs?\b)?",
    re.IGNORECASE,
)


def completed(table: Table) -> Table:
    """Return a table with columns of head and weight where only its classes or descriptions tell them.

    Examples
    --------
    >>> names = TextColumn.of(["BLK STRS 545#", "Heifers 500-550 (9 hd)"])
    >>> told = completed(Table("a", (ColumnHeading("Class", "sex"),), (names,), np.array([1, 2])))
    >>> [(h.field, c.values) for h, c in zip(told.headings[1:], told.columns[1:], strict=True)]
    [('head', ('', '9')), ('weight_range', ('545#', '500-550'))]

    Where a column tells the weight, a number before each class is the head, as in "13 RED STRS".
    """
    table = replace(table, headings=tuple(map(_class_heading, table.headings, table.columns)))
    fields = {heading.field for heading in table.headings} | set(table.said)
    for name, known, pattern, fewest in (
        ("head", {"head"}, _HEAD_FIRST, MOST),
        ("head", {"head"}, _HEAD, 0.0),
        ("weight_range", set(WEIGHT_FIELDS), _WEIGHT, MOST),
    ):
        weighed = pattern is not _HEAD_FIRST or fields & set(WEIGHT_FIELDS)
        if weighed and not fields & known:
            column = _told(table, pattern, fewest)
            if column is not None:
                heading = ColumnHeading(name, name, 90, how=Evidence.CLASS_WORDS)
                table = replace(table, headings=(*table.headings, heading), columns=(*table.columns, column))
                fields.add(name)
    return table


_HEAD_FIRST = re.compile(r"^\s*(\d{1,3})\s+(?!(?:lbs?|wts?|weights?|cwt|hundred)\b)[A-Za-z]", re.IGNORECASE)
_AT = re.compile(
    r"^(?P<weight>\d{3,4})\s*(?:#|lbs?\.?)?\s*@\s*\$?(?P<price>[\d.,]+?)(?:\s*\((?P<head>\d+)(?: hd)?\))?$"
)
_BESIDE = re.compile(r"^(?=[^(]*\d)([^(@]*+)\((?:avg\.?\s*+)?\$?([\d.,]++)\)$", re.IGNORECASE)


def parted(table: Table) -> Table:
    """Return a table whose cells of a range with the mean in brackets, as in ``400-449 (441)``, are two columns."""
    headings, columns = list(table.headings), list(table.columns)
    for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
        if heading.field == "price" and _mostly(column, _AT):
            for part in ("weight", "head", "price"):
                texts = column.mapped(lambda text, part=part: (_AT.match(text) or {part: ""})[part] or "")  # type: ignore[misc]
                headings.append(ColumnHeading(part, part, 0, how=Evidence.BRACKETS))
                columns.append(texts)
            headings[place], columns[place] = headings.pop(), columns.pop()
            continue
        name = {"weight": "weight_range", "price": "price_range", "average": "price_range"}.get(heading.field)
        if name and _mostly(column, _BESIDE):
            headings.append(replace(heading, field=name, how=Evidence.BRACKETS))
            columns.append(column.mapped(lambda text: _BESIDE.sub(r"\1", text).rstrip()))
            columns[place] = column.mapped(lambda text: _BESIDE.sub(r"\2", text))
    return replace(table, headings=tuple(headings), columns=tuple(columns))


def _mostly(column: TextColumn, pattern: re.Pattern[str]) -> bool:
    return bool(len(column) and np.mean(column.bools(lambda text: bool(pattern.match(text)))) > MOST)


def _class_heading(heading: ColumnHeading, column: TextColumn) -> ColumnHeading:
    """Return the heading of a column of classes, with their weight or head among them, as one; others unchanged."""
    unsure = heading.field in {*WEIGHT_FIELDS, "remarks"} or not heading.known
    told = column.bools(lambda text: bool((_WEIGHT.search(text) or _HEAD_FIRST.match(text)) and sex_of(text)))
    if unsure and len(column) and np.mean(told) > MOST:
        return replace(heading, field="category", rank=90, how=Evidence.CLASSES)
    return heading


def _told(table: Table, pattern: re.Pattern[str], fewest: float) -> TextColumn | None:
    """Return what a pattern finds in the first class or description column where enough cells hold it."""
    for heading, column in zip(table.headings, table.columns, strict=True):
        if heading.field in ("sex", "category"):
            found = column.mapped(lambda text: _first(pattern, text))
            if np.mean(found.bools(bool)) > fewest:
                return found
    return None


def _first(pattern: re.Pattern[str], text: str) -> str:
    found = pattern.search(text)
    if found is None:
        return ""
    return found.group().strip() if pattern is _WEIGHT else str(found[1] or found[2] or found[3])
