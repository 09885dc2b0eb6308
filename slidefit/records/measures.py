"""Tables that tell in a column of their own what each row measures: head in one row, the price in the next."""

from __future__ import annotations

import dataclasses

from slidefit.records.coded import BoolArray
from slidefit.records.fields import MEASURE_FIELDS
from slidefit.records.headings import Heading, parse_heading
from slidefit.records.numerals import is_missing
from slidefit.records.tables import Table

MOST_MEASURES = 12
_MEAN = ("price", "average")


def rows_of_prices(table: Table) -> Table:
    """Return the rows that hold mean prices where a column names the measure of each row; other tables unchanged.

    Examples
    --------
    >>> import numpy as np
    >>> from slidefit.records.coded import Coded
    >>> names, cells = Coded.of(["Head", "Avg Price"]), Coded.of(["12", "280.50"])
    >>> told = rows_of_prices(Table("a", (Heading(""), Heading("500-600")), (names, cells), np.array([1, 2])))
    >>> told.rows.tolist(), told.other_lines, told.said
    ([2], 1, {})
    """
    for place, column in enumerate(table.columns):
        names = [text for text in column.distinct() if not is_missing(text)]
        if not 2 <= len(names) <= MOST_MEASURES or table.headings[place].known:
            continue
        measures = {text: parse_heading(text) for text in names}
        kinds = {heading.field for heading in measures.values()}
        if not kinds <= MEASURE_FIELDS or len(kinds) < 2 or not kinds & set(_MEAN):
            continue
        wanted = next(name for name in _MEAN if name in kinds)
        chosen = {text: heading for text, heading in measures.items() if heading.field == wanted}
        return _only(table, place, column.bools(chosen.__contains__), list(chosen.values()))
    return table


def _only(table: Table, place: int, kept: BoolArray, wanted: list[Heading]) -> Table:
    """Return the kept rows without the column of measures; a unit that all wanted measures share is said of all."""
    others = [other for other in range(len(table.columns)) if other != place]
    units = {heading.unit for heading in wanted}
    unit = units.pop() if len(units) == 1 else ""
    return dataclasses.replace(
        table,
        headings=tuple(table.headings[other] for other in others),
        columns=tuple(table.columns[other].take(kept) for other in others),
        rows=table.rows[kept],
        said={**table.said, "price_unit": unit} if unit else table.said,
        other_lines=table.other_lines + int((~kept).sum()),
    )
