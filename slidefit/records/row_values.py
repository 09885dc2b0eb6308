"""Dates, weights and prices of every row of a table, with what was assumed and what is missing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.records.assign import Assignment
from slidefit.records.cells import (
    NO_PRICE,
    NO_WEIGHT,
    PriceCell,
    WeightCell,
    parse_head,
    parse_price,
    parse_weight,
)
from slidefit.records.coded import BoolArray, Coded, FloatArray, combined
from slidefit.records.dates import DateOrder, full_year, month_number, parse_date, week_date
from slidefit.records.meaning import Meaning, price_places
from slidefit.records.numerals import is_missing, parse_number
from slidefit.records.tables import Table
from slidefit.records.units import DRESSED, PER_HEAD, PRICE_FACTORS, WEIGHT_FACTORS, price_unit_of

PRECISIONS = ("day", "week", "month")
NOT_A_DAY = np.datetime64("NaT", "D")


def column_at(table: Table, assignment: Assignment, name: str) -> Coded | None:
    """Return the column of a field, filled down where it is written once for several rows."""
    place = assignment.first(name)
    if place is None:
        return None
    column = table.columns[place]
    return column.filled_down(column.bools(is_missing)) if place in assignment.filled else column


@dataclass(frozen=True)
class RowDates:
    """Day of each row (not-a-time where missing) and the precision, as a place in ``PRECISIONS``."""

    days: NDArray[np.datetime64]
    precision: NDArray[np.int8]


def row_dates(table: Table, meaning: Meaning) -> RowDates:
    """Return the date of each row, from a date column, year and month or week, or the titles."""
    names = [name for name in ("date", "year", "month", "week", "day") if name in meaning.assignment.places]
    columns = [column for name in names if (column := column_at(table, meaning.assignment, name)) is not None]
    if not columns:
        columns, names = [Coded.constant(table.said.get("date", ""), len(table.rows))], ["date"]
    groups, examples = combined(columns)
    days = np.full(len(examples), NOT_A_DAY, dtype="datetime64[D]")
    precision = np.zeros(len(examples), dtype=np.int8)
    for number, row in enumerate(examples):
        texts: dict[str, str] = {
            name: column.values[column.codes[row]] for name, column in zip(names, columns, strict=True)
        }
        texts.setdefault("year", table.said.get("year", ""))
        if not any(texts.get(name, "").strip() for name in ("date", "month", "week")):
            texts["date"] = table.said.get("date", "")
        found = _one_date(texts, meaning.order)
        if found is not None:
            days[number] = np.datetime64(found[0], "D")
            precision[number] = PRECISIONS.index(found[1])
    said = column_at(table, meaning.assignment, "date_precision")
    rows = precision[groups]
    if said is not None:
        given = said.floats(lambda text: PRECISIONS.index(text) if text in PRECISIONS else np.nan)
        rows = np.where(np.isfinite(given), given, rows).astype(np.int8)
    return RowDates(days[groups], rows)


def _one_date(texts: dict[str, str], order: DateOrder) -> tuple[str, str] | None:
    """Return ISO day and precision from the cells of one row."""
    year_text = texts.get("year", "").strip().rstrip("rp*").removesuffix(".0")
    year = full_year(year_text) if year_text.isdigit() and len(year_text) in (2, 4) else None
    when = texts.get("date", "")
    found = (
        parse_date(when, day_first=order.day_first, year=year, by_day=order.by_day) if when.strip() else None
    )
    if found is not None:
        return found.day.isoformat(), found.precision
    month = month_number(texts.get("month", "").removesuffix(".0")) or (
        month_number(when) if when.strip() else None
    )
    if year and month:
        day = parse_number(texts.get("day", ""))
        exact = parse_date(f"{year}-{month:02d}-{int(day.value):02d}") if day else None
        if exact is not None:
            return exact.day.isoformat(), "day"
        return f"{year}-{month:02d}-01", "month"
    week = parse_number(texts.get("week", "").lower().replace("week", "").replace("wk", ""))
    if year and week:
        monday = week_date(year, int(week.value))
        return (monday.day.isoformat(), "week") if monday else None
    return None


@dataclass(frozen=True)
class RowWeights:
    """Head and weights [lb] of each row; ``middle``: the class stands in for the mean; ``open_ended``, ``odds``."""

    head: FloatArray
    mean: FloatArray
    low: FloatArray
    high: FloatArray
    middle: BoolArray
    open_ended: BoolArray
    inconsistent: BoolArray
    converted: BoolArray


WEIGHT_TOLERANCE = 0.02
RANGE_SLACK_LB = 1.0
PRICE_SLACK = 0.01
WIDEST_RANGE = 2.0


def _weight_cells(
    column: Coded | None, meaning: Meaning, length: int
) -> tuple[FloatArray, FloatArray, BoolArray, BoolArray]:
    """Return low and high [lb], open-ended and converted of a weight column."""
    if column is None:
        none = np.full(length, np.nan)
        return none, none.copy(), np.zeros(length, dtype=bool), np.zeros(length, dtype=bool)
    cells: list[WeightCell] = [parse_weight(text, meaning.weight_decimal) for text in column.values] or [
        NO_WEIGHT
    ]
    units = [
        cell.unit
        or (meaning.weight_unit if not (meaning.weight_unit == "cwt" and cell.high >= 100) else "lb")
        for cell in cells
    ]
    factors = np.array([WEIGHT_FACTORS[unit] for unit in units])
    low, high = (
        np.array([cell.low for cell in cells]) * factors,
        np.array([cell.high for cell in cells]) * factors,
    )
    small = (high < 20) & (factors == 1.0)
    low, high = np.where(small, low * 100, low), np.where(small, high * 100, high)
    opened = np.array([cell.open_ended for cell in cells])
    converted = np.array([unit == "kg" for unit in units])
    codes = column.codes
    return low[codes], high[codes], opened[codes], converted[codes] & np.isfinite(low[codes])


def row_weights(table: Table, meaning: Meaning) -> RowWeights:
    """Return the weight of each row: the stated mean, else lot weight over head, else the middle of the class."""
    use, length = meaning.assignment, len(table.rows)
    heads = column_at(table, use, "head")
    head = (
        heads.floats(lambda text: parse_head(text, meaning.head_decimal))
        if heads is not None
        else np.full(length, np.nan)
    )
    mean_low, mean_high, mean_open, converted = _weight_cells(
        column_at(table, use, "weight"), meaning, length
    )
    if meaning.lot_weight_in_weight:
        mean_low, mean_high = mean_low / head, mean_high / head
    total, _, _, total_kg = _weight_cells(column_at(table, use, "lot_weight"), meaning, length)
    ranges = column_at(table, use, "weight_range")
    if ranges is None and "weight_range" in table.said:
        ranges = Coded.constant(table.said["weight_range"], length)
    low, high, range_open, range_kg = _weight_cells(ranges, meaning, length)
    for low_name, high_name in (("weight_low", "weight_high"), ("class_low", "class_high")):
        one, _, _, kg = _weight_cells(column_at(table, use, low_name), meaning, length)
        two, _, _, _ = _weight_cells(column_at(table, use, high_name), meaning, length)
        blank = ~np.isfinite(low)
        low, high = np.where(blank, one, low), np.where(blank, two, high)
        range_open |= blank & (np.isfinite(one) ^ np.isfinite(two))
        range_kg |= kg
    single = np.isfinite(mean_low) & (mean_low == mean_high) & ~mean_open
    spread = np.isfinite(mean_low) & ~single
    low, high = (
        np.where(spread & ~np.isfinite(low), mean_low, low),
        np.where(spread & ~np.isfinite(high), mean_high, high),
    )
    range_open |= mean_open
    mean = np.where(single, mean_low, np.nan)
    by_lot = total / head
    inconsistent = single & (np.abs(by_lot / mean - 1.0) > WEIGHT_TOLERANCE)
    mean = np.where(np.isfinite(mean), mean, by_lot)
    closed = np.isfinite(low) & np.isfinite(high) & ~range_open
    same = closed & (low == high)
    middle = ~np.isfinite(mean) & closed & ~same
    mean = np.where(np.isfinite(mean), mean, np.where(closed, 0.5 * (low + high), np.nan))
    inconsistent |= closed & (
        (mean < low - RANGE_SLACK_LB - WEIGHT_TOLERANCE * low)
        | (mean > high + RANGE_SLACK_LB + WEIGHT_TOLERANCE * high)
    )
    inconsistent |= closed & (low > high)
    opened = range_open & ~np.isfinite(mean)
    low, high = np.where(range_open, np.nan, low), np.where(range_open, np.nan, high)
    return RowWeights(head, mean, low, high, middle, opened, inconsistent, converted | total_kg | range_kg)


@dataclass(frozen=True)
class RowPrices:
    """Prices [money per cwt] of each row, and what kind of price it was."""

    mean: FloatArray
    low: FloatArray
    high: FloatArray
    middle: BoolArray
    per_head: BoolArray
    dressed: BoolArray
    converted: BoolArray
    inconsistent: BoolArray
    marks: Coded


@dataclass(frozen=True)
class _PriceColumn:
    """One price column in $/cwt: ends, per head, dressed, converted; rows without a price are not-a-number."""

    low: FloatArray
    high: FloatArray
    per_head: BoolArray
    dressed: BoolArray
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
    own = [_cell_unit(cell.unit, meaning) for cell in cells]
    default = PER_HEAD if name == "price_head" else meaning.price_unit
    if row_units is not None:
        stated = [price_unit_of(text) or price_unit_of(f"per {text}") or default for text in row_units.values]
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
    return _PriceColumn(
        low, high, per_head, dressed, factor != 1.0, Coded(column.codes, tuple(cell.mark for cell in cells))
    )


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
    dressed = columns[0].dressed if columns else no
    converted = columns[0].converted if columns else no
    marks = columns[0].marks if columns else Coded.constant("", length)
    return RowPrices(mean, low, high, middle, per_head, dressed, converted, inconsistent, marks)
