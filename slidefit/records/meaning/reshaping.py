"""Tables made long, row measures, totals per lot, figures in words."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from slidefit.records.columns import TextColumn, combined
from slidefit.records.meaning.column_fields import COUNTED, occasion
from slidefit.records.meaning.crossed_tables import crossed, pins_of
from slidefit.records.meaning.table_meaning import holds_lots
from slidefit.records.reading.tables import Table
from slidefit.records.words.animals import sex_of
from slidefit.records.words.fields import MEASURE_FIELDS, PRICE_FIELDS, WEIGHT_FIELDS, normal
from slidefit.records.words.headings import ColumnHeading, Evidence, parse_heading
from slidefit.records.words.numerals import is_missing
from slidefit.records.words.units import (
    currency_of,
    parse_head,
    parse_price,
    parse_weight,
    price_unit_of,
    weight_unit_of,
)
from slidefit.records.words.vocabulary import words_of


def made_long(table: Table) -> Table:
    """Return a table with a row for each lot or class, and a column for each measure that its rows tell."""
    return priced(completed(parted(crossed(rows_of_prices(table)))))


MOST_MEASURES = 16
_MEAN = ("price", "average")
_UNITS = frozenset(["", "unused", "price_unit", "weight_unit"])
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
    if plain & PRICE_FIELDS and plain & WEIGHT_FIELDS:
        return table
    for place, column in enumerate(table.columns):
        names = [text for text in column.distinct() if not is_missing(text)]
        own = table.headings[place]
        if not 2 <= len(names) <= MOST_MEASURES or own.pins or own.field not in ("", "unused", "category"):
            continue
        measures = {text: _measure(text) for text in names}
        kinds = {heading.field for heading in measures.values()}
        known = sum(heading.known for heading in measures.values())
        if kinds & set(_MEAN) and len(kinds & MEASURE_FIELDS) > 1 and known >= MOST * len(names):
            return _spread(table, place, measures) or table
    return table


def _measure(text: str) -> ColumnHeading:
    """Return what the name of a measure says: animals are counted, as Cattle beside Mean weight."""
    told = parse_heading(text)
    counted = told.field == "category" and COUNTED.search(text.lower())
    return replace(told, field="head") if counted else told


def _spread(table: Table, place: int, measures: dict[str, ColumnHeading]) -> Table | None:
    """Return a table of a name and values in each row with one column for each measure; None where it is no such.

    There must be one column of values, or classes across the top, and no lot may have a measure twice. A column
    that the name alone decides tells the units.
    """
    names = table.columns[place]
    values = [at for at, heading in enumerate(table.headings) if at != place and pins_of(heading)] or [
        at
        for at, heading in enumerate(table.headings)
        if at != place and heading.field in ("", "unused") and normal(heading.text) in _VALUE
    ]
    crossed_too = any(pins_of(table.headings[at]) for at in values)
    if not (all(m.known for m in measures.values()) if crossed_too else len(values) == 1):
        return None
    keys = [at for at in range(len(table.columns)) if at not in (place, *values)]
    units = [at for at in keys if table.headings[at].field in _UNITS and _follows(table.columns[at], names)]
    keys = [at for at in keys if at not in units]
    told = [(each.field, pins_of(each)) for each in measures.values() if each.field in MEASURE_FIELDS]
    if len(set(told)) < len(told):
        return None
    known = {at: _written_down(table.columns[at]) for at in keys}
    groups, examples = np.zeros(len(table.rows), dtype=np.int64), np.zeros(1, dtype=np.int64)
    if keys:
        groups, examples = combined(list(known.values()))
    headings, columns = ([table.headings[at] for at in keys], [known[at].take(examples) for at in keys])
    for text, heading in measures.items():
        rows = np.flatnonzero(names.bools(lambda name, text=text: name == text))  # type: ignore[misc]
        if len(np.unique(groups[rows])) < len(rows):
            return None
        unit = " ".join(table.columns[at].texts()[rows[0]] for at in units)
        by_name = price_unit_of(unit) if heading.field in (*PRICE_FIELDS, "average") else weight_unit_of(unit)
        for value in values:
            texts = np.full(len(examples), "", dtype=object)
            texts[groups[rows]] = table.columns[value].take(rows).texts()
            pins = {**heading.pins, **table.headings[value].pins}
            made = replace(heading, pins=pins, unit=heading.unit or by_name, how=Evidence.MEASURE)
            headings.append(replace(made, currency=heading.currency or currency_of(unit)))
            columns.append(TextColumn.of(texts))
    rows = table.rows[examples]
    return replace(
        table, headings=tuple(headings), columns=tuple(columns), rows=rows, wide="names and values"
    )


def _follows(column: TextColumn, names: TextColumn) -> bool:
    """Tell whether the texts of a column are several, and hang on those of another alone."""
    return len(column.distinct()) > 1 and len(combined([column, names])[1]) == len(names.distinct())


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
    items = reversed([*enumerate(table.headings)])
    ordered = sorted(items, key=lambda item: occasion(item[1].text, item[1].field))  # the surest last
    places = {heading.field: place for place, heading in ordered}
    weight_name = next((name for name in ("lot_weight", "weight") if name in places), "")
    told = (PRICE_FIELDS - {"price_low", "price_high"}) & places.keys()
    if told or "amount" not in places or not weight_name:
        return table
    pounds = table.columns[places[weight_name]].floats(lambda text: parse_weight(text).single)
    head = table.columns[places["head"]].floats(parse_head) if "head" in places else None
    if weight_name == "weight":
        if head is None:
            return table
        pounds = pounds if holds_lots(pounds, head) else pounds * head
    unit = table.headings[places[weight_name]].unit or table.said.get("weight_unit", "")
    pounds, unit = (100.0 * pounds, "lb") if unit == "cwt" else (pounds, unit)
    each = pounds / head if head is not None else np.full(len(pounds), np.nan)
    if unit not in ("lb", "kg") and not np.nanmedian([*each, 0.0]) >= WHOLE_CALF_LB:
        return table
    money = table.columns[places["amount"]].floats(lambda text: parse_price(text).single)
    with np.errstate(divide="ignore", invalid="ignore"):
        price = np.where((money > 0) & (pounds > 0), money / pounds, np.nan)
    texts = TextColumn.of("" if np.isnan(each) else f"{each:.6f}".rstrip("0").rstrip(".") for each in price)
    heading = ColumnHeading("price", "price", 95, "$/kg" if unit == "kg" else "$/lb", how=Evidence.WORKED_OUT)
    return replace(table, headings=(*table.headings, heading), columns=(*table.columns, texts))


MOST = 0.5
_HEAD = words_of("cells", "head")
_WEIGHT = words_of("cells", "weight")


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


_HEAD_FIRST = words_of("cells", "head_first")
_AT = words_of("cells", "weight_at_price")
_BESIDE = words_of("cells", "beside_in_brackets")


def parted(table: Table) -> Table:
    """Return a table whose cells of a range and its mean, as ``400-449 (441)``, or of price and head, are parted."""
    headings, columns = list(table.headings), list(table.columns)
    for place, (heading, column) in enumerate(zip(table.headings, table.columns, strict=True)):
        if heading.field == "price" and _mostly(column, _AT):
            for part in ("weight", "head", "price"):
                texts = column.mapped(lambda text, part=part: (_AT.match(text) or {part: ""})[part] or "")  # type: ignore[misc]
                headings.append(ColumnHeading(part, part, 0, how=Evidence.BRACKETS))
                columns.append(texts)
            headings[place], columns[place] = headings.pop(), columns.pop()
            continue
        name = next((each for each in ("weight", "price") if heading.field in (each, f"{each}_range")), "")
        name = "price" if heading.field == "average" else name
        if name and _mostly(column, _BESIDE):
            outside = column.mapped(lambda text: _BESIDE.sub(r"\1", text).rstrip())
            inside = column.mapped(lambda text: (_BESIDE.match(text) or ("", "", ""))[2])
            counted = _are_counts(outside, inside)
            other = "head" if counted else f"{name}_range"
            headings.append(replace(heading, field=other, how=Evidence.BRACKETS))
            columns.append(inside if counted else outside)
            headings[place] = replace(heading, field=name)
            columns[place] = outside if counted else column.mapped(lambda text: _BESIDE.sub(r"\2", text))
    return replace(table, headings=tuple(headings), columns=tuple(columns))


_FAR = 2.0  # times; a mean lies nearer to its range


def _are_counts(outside: TextColumn, inside: TextColumn) -> bool:
    """Tell whether numbers in brackets are whole and far from those before them: the head, and no mean of a range."""
    told, counts = (column.floats(lambda text: parse_price(text).low) for column in (outside, inside))
    whole = bool(np.all(counts[np.isfinite(counts)] % 1.0 == 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        return whole and bool(np.nanmedian(np.abs(np.log(counts / told))) > np.log(_FAR))


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
            told = column.mapped(
                lambda text: found[found.lastgroup or 0] if (found := pattern.search(text)) else ""
            )
            if np.mean(told.bools(bool)) > fewest:
                return told
    return None
