"""Prices of every row of a table: their unit, the middle of ranges, and what kind of price it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from slidefit.records.cells import NO_PRICE, PriceCell, parse_price
from slidefit.records.coded import BoolArray, Coded, FloatArray
from slidefit.records.meaning import Meaning, price_places
from slidefit.records.numerals import is_missing
from slidefit.records.row_values import column_at
from slidefit.records.tables import Table
from slidefit.records.units import DRESSED, PER_HEAD, PRICE_FACTORS, row_price_unit

PRICE_SLACK = 0.01
WIDEST_RANGE = 2.0
OTHER_UNIT = "other"  # what stands in a column of units and is none that we know


@dataclass(frozen=True)
class RowPrices:
    """Prices [money per cwt] of each row, and what kind of price it was."""

    mean: FloatArray
    low: FloatArray
    high: FloatArray
    middle: BoolArray
    per_head: BoolArray
    dressed: BoolArray
    other_unit: BoolArray
    converted: BoolArray
    inconsistent: BoolArray
    marks: Coded


@dataclass(frozen=True)
class _PriceColumn:
    """One price column in $/cwt: ends, by head, dressed, unit unknown, converted; not-a-number without a price."""

    low: FloatArray
    high: FloatArray
    per_head: BoolArray
    dressed: BoolArray
    other_unit: BoolArray
    converted: BoolArray
    marks: Coded


def _price_column(table: Table, meaning: Meaning, name: str, row_units: Coded | None) -> _PriceColumn | None:
    """Read one price column; a unit in the cell beats one in the row, which beats that of the column."""
    column = column_at(table, meaning.assignment, name)
    if column is None:
        return None
    cells: list[PriceCell] = [parse_price(text, meaning.price_decimal) for text in column.values] or [
        NO_PRICE
    ]
    cells = _without_credits(column.values, cells)
    own = [_cell_unit(cell.unit, meaning) for cell in cells]
    default = PER_HEAD if name == "price_head" else meaning.price_unit
    if row_units is not None:
        stated = [
            row_price_unit(text) or (default if is_missing(text) else OTHER_UNIT) for text in row_units.values
        ]
        known = {unit: place for place, unit in enumerate(dict.fromkeys([*own, *stated]))}
        of_cell = np.array([known[unit] if unit else -1 for unit in own])[column.codes]
        of_row = np.array([known[unit] for unit in stated])[row_units.codes]
        codes = np.where(of_cell >= 0, of_cell, of_row)
        names = list(known)
    else:
        names = list(dict.fromkeys([unit or default for unit in own]))
        codes = np.array([names.index(unit or default) for unit in own])[column.codes]
    factor = np.array([PRICE_FACTORS.get(unit, 1.0) for unit in names])[codes]
    low = np.array([cell.low if cell.given else np.nan for cell in cells])[column.codes] * factor
    high = np.array([cell.high if cell.given else np.nan for cell in cells])[column.codes] * factor
    per_head = np.array([unit == PER_HEAD for unit in names])[codes]
    dressed = np.array([unit == DRESSED for unit in names])[codes]
    other = np.array([unit == OTHER_UNIT for unit in names])[codes]
    return _PriceColumn(
        low,
        high,
        per_head,
        dressed,
        other,
        factor != 1.0,
        Coded(column.codes, tuple(cell.mark for cell in cells)),
    )


def _without_credits(texts: Sequence[str], cells: list[PriceCell]) -> list[PriceCell]:
    """Return price cells without those in parentheses, which book-keepers mean as less than nothing.

    Where most cells of the column stand in parentheses, that is only how it is printed.
    """
    credit = [
        text.startswith("(") and text.endswith(")") and cell.given
        for text, cell in zip(texts, cells, strict=True)
    ]
    if not any(credit) or sum(credit) > 0.5 * sum(cell.given for cell in cells):
        return cells
    return [NO_PRICE if held else cell for held, cell in zip(credit, cells, strict=True)]


def _cell_unit(unit: str, meaning: Meaning) -> str:
    """Return the unit written in a cell; bare cents go by the weight unit."""
    if unit == "cents":
        return "cents/kg" if meaning.weight_unit == "kg" else "cents/lb"
    return unit


def row_prices(table: Table, meaning: Meaning) -> RowPrices:
    """Return the price of each row: the stated mean, else the middle of the range."""
    length = len(table.rows)
    units = column_at(table, meaning.assignment, "price_unit")
    found = {
        name: column
        for name in price_places(meaning.assignment)
        if (column := _price_column(table, meaning, name, units))
    }
    none, no = np.full(length, np.nan), np.zeros(length, dtype=bool)
    price = found.get("price") or found.get("price_head")
    mean_low, mean_high = (price.low, price.high) if price else (none, none)
    span = found.get("price_range")
    low, high = (span.low, span.high) if span else (none, none)
    for end, column in (("low", found.get("price_low")), ("high", found.get("price_high"))):
        if column is not None and end == "low":
            low = np.where(np.isfinite(low), low, column.low)
        elif column is not None:
            high = np.where(np.isfinite(high), high, column.high)
    single = np.isfinite(mean_low) & (mean_low == mean_high)
    low = np.where(np.isfinite(mean_low) & ~single & ~np.isfinite(low), mean_low, low)
    high = np.where(np.isfinite(mean_low) & ~single & ~np.isfinite(high), mean_high, high)
    ranged = np.isfinite(low) & np.isfinite(high) & (low <= high)
    middle = ~single & ranged & (low < high)
    mean = np.where(single, mean_low, np.where(ranged, 0.5 * (low + high), np.nan))
    both = single & np.isfinite(low) & np.isfinite(high)
    outside = both & ((mean < low - PRICE_SLACK) | (mean > high + PRICE_SLACK) | (low > high))
    inconsistent = outside | (both & ((low < mean / WIDEST_RANGE) | (high > mean * WIDEST_RANGE)))
    columns = list(found.values())
    per_head = np.logical_or.reduce(
        [column.per_head & (np.isfinite(column.low) | ~np.isfinite(mean)) for column in columns[:1]] or [no]
    )
    dressed, other = (columns[0].dressed, columns[0].other_unit) if columns else (no, no)
    converted = columns[0].converted if columns else no
    marks = columns[0].marks if columns else Coded.constant("", length)
    return RowPrices(mean, low, high, middle, per_head, dressed, other, converted, inconsistent, marks)
