"""Wide tables made long: months, years, dates, weight classes, sexes or places across the top become columns."""

from __future__ import annotations

import numpy as np

from slidefit.records.coded import Coded
from slidefit.records.fields import PRICE_FIELDS
from slidefit.records.headings import Heading
from slidefit.records.numerals import is_missing
from slidefit.records.tables import Table

NO_CELL_PINS = frozenset({"trait"})


def _pins(heading: Heading) -> tuple[tuple[str, str], ...]:
    """Return what a heading fixes for its column, as a key; empty for an ordinary column."""
    return tuple(sorted((key, value) for key, value in heading.pins.items() if key not in NO_CELL_PINS))


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
    if not groups or plain_price:
        return table
    shared = [place for place, heading in enumerate(table.headings) if not _pins(heading)]
    names = sorted({name for key in groups for name, _ in key})
    parts = [part for key, places in groups.items() if (part := _part(table, key, places))]
    if not parts:
        return table
    measures = list(dict.fromkeys(heading.field for part in parts for heading, _ in part[1]))
    headings: list[Heading] = [table.headings[place] for place in shared]
    columns: list[Coded] = [
        Coded.joined([table.columns[place].take(rows) for rows, _, _ in parts]) for place in shared
    ]
    for name in names:
        headings.append(Heading(name, name, 50, how="from the headings across the top"))
        columns.append(
            Coded.joined([Coded.constant(dict(key).get(name, ""), len(rows)) for rows, _, key in parts])
        )
    for measure in measures:
        source = next(heading for part in parts for heading, _ in part[1] if heading.field == measure)
        headings.append(
            Heading(measure, measure, 0, source.unit, source.currency, "the cells of a wide table")
        )
        cells = []
        for rows, measured, _ in parts:
            column = next((column for heading, column in measured if heading.field == measure), None)
            cells.append(column.take(rows) if column else Coded.constant("", len(rows)))
        columns.append(Coded.joined(cells))
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
    )


def _part(
    table: Table, key: tuple[tuple[str, str], ...], places: list[int]
) -> tuple[np.ndarray, list[tuple[Heading, Coded]], tuple[tuple[str, str], ...]] | None:
    """Return the rows and the measures of one group of columns; None when it holds no price."""
    measures: list[tuple[Heading, Coded]] = []
    for place in places:
        heading = table.headings[place]
        name = heading.field or "price"
        if all(name != known.field for known, _ in measures):
            measures.append(
                (Heading(heading.text, name, 0, heading.unit, heading.currency), table.columns[place])
            )
    if not any(heading.field in PRICE_FIELDS for heading, _ in measures):
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
