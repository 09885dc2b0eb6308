"""Prices that a list leaves to be worked out: the money of the whole lot over its weight."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from slidefit.records.cells import PriceCell, WeightCell, parse_head, parse_price, parse_weight
from slidefit.records.coded import Coded, FloatArray
from slidefit.records.fields import PRICE_FIELDS
from slidefit.records.headings import Heading
from slidefit.records.tables import Table

WORKED_OUT = "money of the lot over its weight"
WHOLE_CALF_LB = 250.0
"""Below this middle weight per head an unnamed unit may be kilograms, and nothing is worked out."""


def priced(table: Table) -> Table:
    """Return a table with a price column where only the amount of money of each lot is told, and the lot's weight.

    Examples
    --------
    >>> headings = (Heading("Total Lbs", "lot_weight", unit="lb"), Heading("Total $", "amount"))
    >>> told = priced(Table("a", headings, (Coded.of(["5,230"]), Coded.of(["$19,874.00"])), np.array([1])))
    >>> told.headings[-1].field, told.headings[-1].unit, told.columns[-1].values
    ('price', '$/lb', ('3.8',))
    """
    places: dict[str, int] = {}
    for place, heading in enumerate(table.headings):
        places.setdefault(heading.field, place)
    weight_name = next((name for name in ("lot_weight", "weight") if name in places), "")
    if PRICE_FIELDS & set(places) or "amount" not in places or not weight_name:
        return table
    pounds = _single(table.columns[places[weight_name]], parse_weight)
    head = table.columns[places["head"]].floats(parse_head) if "head" in places else None
    if weight_name == "weight":
        if head is None:
            return table
        pounds = pounds * head
    unit = table.headings[places[weight_name]].unit or table.said.get("weight_unit", "")
    each = pounds / head if head is not None else np.full(len(pounds), np.nan)
    if unit not in ("lb", "kg") and not np.nanmedian([*each, 0.0]) >= WHOLE_CALF_LB:
        return table
    money = _single(table.columns[places["amount"]], parse_price)
    with np.errstate(divide="ignore", invalid="ignore"):
        price = np.where((money > 0) & (pounds > 0), money / pounds, np.nan)
    texts = Coded.of(f"{value:.6f}".rstrip("0").rstrip(".") if np.isfinite(value) else "" for value in price)
    heading = Heading("price", "price", 95, "$/kg" if unit == "kg" else "$/lb", how=WORKED_OUT)
    return replace(table, headings=(*table.headings, heading), columns=(*table.columns, texts))


def _single(column: Coded, parse: Callable[[str], PriceCell | WeightCell]) -> FloatArray:
    """Return the single numbers of a column of money or weights; nan where a cell holds none or a range."""
    return column.floats(lambda text: cell.low if (cell := parse(text)).low == cell.high else np.nan)
