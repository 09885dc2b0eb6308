"""Dates, weights and prices of every row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from slidefit.records.columns import BoolArray, FloatArray, TextColumn, combined
from slidefit.records.meaning.column_fields import Assignment
from slidefit.records.meaning.table_meaning import Meaning, price_places
from slidefit.records.reading.tables import Table
from slidefit.records.words.date_order import DateOrder, is_month_and_two
from slidefit.records.words.dates import SaleDate, full_year, month_number, parse_date, week_date
from slidefit.records.words.headings import Evidence
from slidefit.records.words.numerals import DITTO, is_missing, parse_number
from slidefit.records.words.periods import SEASON_BEGINS, WEEK, season_year
from slidefit.records.words.units import (
    LB_PER_KG,
    NO_PRICE,
    NO_WEIGHT,
    PER_HEAD,
    PRICE_FACTORS,
    WEIGHT_FACTORS,
    PriceCell,
    parse_head,
    parse_price,
    parse_weight,
    row_price_unit,
    weight_unit_of,
    whole_unit,
)

PRECISIONS = ("day", "week", "month")
_NOT_A_DAY = np.datetime64("NaT", "D")


def column_at(table: Table, assignment: Assignment, name: str) -> TextColumn | None:
    """Return the column of a field, filled down where it is written once for several rows."""
    place = assignment.first(name)
    if place is None:
        return None
    column = table.columns[place]
    if not DITTO.isdisjoint(column.values):
        column = column.filled_down(column.bools(DITTO.__contains__))
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
        columns, names = [TextColumn.constant(table.said.get("date", ""), len(table.rows))], ["date"]
    groups, examples = combined(columns)
    days = np.full(len(examples), _NOT_A_DAY, dtype="datetime64[D]")
    precision = np.zeros(len(examples), dtype=np.int8)
    for number, row in enumerate(examples):
        texts: dict[str, str] = {
            name: column.values[column.codes[row]] for name, column in zip(names, columns, strict=True)
        }
        texts.setdefault("year", table.said.get("year", ""))
        if "date" not in names:
            texts.setdefault("month", table.said.get("month", ""))
        if not any(texts.get(name, "").strip() for name in ("date", "month", "week")):
            texts["date"] = table.said.get("date", "")
        found = _one_date(texts, meaning.order)
        if found is not None:
            days[number] = np.datetime64(found.day, "D")
            precision[number] = PRECISIONS.index(found.precision)
    if meaning.period == WEEK:
        precision[precision == PRECISIONS.index("day")] = PRECISIONS.index("week")
    elif meaning.period:
        days = days.astype("datetime64[M]").astype("datetime64[D]")
        precision[:] = PRECISIONS.index("month")
    said = column_at(table, meaning.assignment, "date_precision")
    rows = precision[groups]
    if said is not None:
        given = said.floats(lambda text: PRECISIONS.index(text) if text in PRECISIONS else np.nan)
        rows = np.where(np.isfinite(given), given, rows).astype(np.int8)
    return RowDates(days[groups], rows)


def _one_date(texts: dict[str, str], order: DateOrder) -> SaleDate | None:
    """Return the date that the cells of one row tell, by their fields."""
    year_text = texts.get("year", "").strip().rstrip("rp*").removesuffix(".0")
    year = full_year(year_text) if year_text.isdecimal() and len(year_text) in (2, 4) else None
    when = texts.get("date", "")
    years = [year, *(season_year(year_text, month) for month in (SEASON_BEGINS, 1))]
    if "day" in texts and is_month_and_two(when):
        years = [None]  # beside days of the month, Oct 26 is a month
    days = (order.read(when, each) for each in years)
    dated = (
        each for each in days if each and season_year(year_text, each.day.month) in (None, each.day.year)
    )
    found, day = next(dated, None), parse_number(texts.get("day", ""))
    if (
        found is not None and found.precision == "month" and day
    ):  # of the titles, beside the day of the column
        return parse_date(f"{found.day:%Y-%m}-{int(day.value):02d}")
    if found is not None:
        return found
    month = month_number(texts.get("month", "").removesuffix(".0")) or month_number(when)
    year = season_year(year_text, month) or year
    if year and month:
        exact = parse_date(f"{year}-{month:02d}-{int(day.value):02d}") if day else None
        return exact or SaleDate(date(year, month, 1), "month")
    week = parse_number(texts.get("week", "").lower().replace("week", "").replace("wk", ""))
    return week_date(year, int(week.value)) if year and week else None


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
MOST_SHRINK = 0.08
WIDEST_CLASS = 1.75
RANGE_SLACK_LB = 1.0


def _weight_cells(
    column: TextColumn, meaning: Meaning, row_units: TextColumn | None
) -> tuple[FloatArray, FloatArray, BoolArray, BoolArray]:
    """Return low and high [lb], open-ended and converted of a weight column."""
    cells = [parse_weight(text, meaning.weight_decimal) for text in column.values] or [NO_WEIGHT]
    default, codes = meaning.weight_unit, column.codes if len(column.values) > 1 else 0  # one for all rows
    units = [cell.unit or ("lb" if default == "cwt" and cell.high >= 100 else default) for cell in cells]
    factors = np.array([WEIGHT_FACTORS[unit] for unit in units])
    low, high = np.array([(cell.low, cell.high) for cell in cells]).T * factors
    small = (high < 20) & (factors == 1.0)
    low, high = np.where(small, low * 100, low)[codes], np.where(small, high * 100, high)[codes]
    kilos = np.array([unit == "kg" for unit in units])[codes]
    if row_units is not None:
        free = ~np.array([cell.unit != "" for cell in cells])[codes]
        of_row = row_units.mapped(weight_unit_of)
        to_kilos, to_pounds = (free & of_row.bools(unit.__eq__) for unit in ("kg", "lb"))
        scale = np.where(to_kilos & ~kilos, LB_PER_KG, np.where(to_pounds & kilos, 1.0 / LB_PER_KG, 1.0))
        low, high, kilos = low * scale, high * scale, (kilos | to_kilos) & ~to_pounds
    return low, high, np.array([cell.open_ended for cell in cells])[codes], kilos & np.isfinite(low)


def _most_over(table: Table, use: Assignment) -> float:
    """Return how far lot weight over head may lie above the mean: by the shrink where gross and pay weight are told."""
    places = (place for name in ("weight", "lot_weight") for place in use.places.get(name, ()))
    shrunk = any(_SHRUNK.search(table.headings[place].text) for place in places)
    return MOST_SHRINK if shrunk else WEIGHT_TOLERANCE


_SHRUNK = re.compile(r"\bpay\b|\bgross\b|\bshrunk\b|\bnet\b", re.IGNORECASE)


def row_weights(table: Table, meaning: Meaning) -> RowWeights:
    """Return the weight of each row: the stated mean, else lot weight over head, else the middle of the class."""
    use, length = meaning.assignment, len(table.rows)
    none = TextColumn.constant("", length)
    heads, units = column_at(table, use, "head") or none, column_at(table, use, "weight_unit")
    head = heads.floats(lambda text: parse_head(text, meaning.head_decimal))

    def cells(name: str) -> tuple[FloatArray, FloatArray, BoolArray, BoolArray]:
        said = TextColumn.constant(table.said.get(name, "") if name == "weight_range" else "", length)
        return _weight_cells(column_at(table, use, name) or said, meaning, units)

    mean_low, mean_high, mean_open, converted = cells("weight")
    if meaning.lot_weight_in_weight:
        mean_low, mean_high = mean_low / head, mean_high / head
    total, _, _, total_kg = cells("lot_weight")
    paid = _paid_share(table, use)
    mean_low, mean_high, total = mean_low * paid, mean_high * paid, total * paid
    low, high, range_open, range_kg = cells("weight_range")
    for name in ("weight", "class"):
        (one, _, _, kg), (two, _, _, _) = cells(f"{name}_low"), cells(f"{name}_high")
        blank = ~np.isfinite(low)
        low, high = np.where(blank, one, low), np.where(blank, two, high)
        range_open = range_open | (blank & (np.isfinite(one) ^ np.isfinite(two)))
        range_kg = range_kg | kg
    single = np.isfinite(mean_low) & (mean_low == mean_high) & ~mean_open
    if (spread := np.isfinite(mean_low) & ~single).any():
        low = np.where(spread & ~np.isfinite(low), mean_low, low)
        high = np.where(spread & ~np.isfinite(high), mean_high, high)
    range_open = range_open | mean_open
    mean, inconsistent = np.where(single, mean_low, np.nan), np.array(False)
    if np.isfinite(total).any():
        over = total / head / mean - 1.0
        inconsistent = single & ((over < -WEIGHT_TOLERANCE) | (over > _most_over(table, use)))
        mean = np.where(np.isfinite(mean), mean, total / head)
    closed = np.isfinite(low) & np.isfinite(high) & ~range_open
    middle = ~np.isfinite(mean) & closed & (low != high)
    if closed.any():
        mean = np.where(np.isfinite(mean), mean, np.where(closed, 0.5 * (low + high), np.nan))
        below, above = low * (1.0 - WEIGHT_TOLERANCE) - mean, mean - high * (1.0 + WEIGHT_TOLERANCE)
        off = (np.maximum(below, above) > RANGE_SLACK_LB) | (low > high)
        inconsistent = inconsistent | (closed & off)
        range_open = range_open | (middle & (high > WIDEST_CLASS * low))
        mean = np.where(middle & range_open, np.nan, mean)
        middle = middle & ~range_open
    opened = range_open & ~np.isfinite(mean)
    low, high = np.where(range_open, np.nan, low), np.where(range_open, np.nan, high)
    converted = converted | total_kg | range_kg
    return RowWeights(*np.broadcast_arrays(head, mean, low, high, middle, opened, inconsistent, converted))


_MOST_SHRINK = 0.2  # of the weight; a number below it is a share and no percent (a choice of ours)


def _paid_share(table: Table, use: Assignment) -> FloatArray:
    """Return the share of each weight that is left after a column of shrink, where the user says to take it off."""
    place = use.first("shrink")
    if place is None or table.headings[place].how is not Evidence.SAID:
        return np.array(1.0)
    column = table.columns[place]
    told = column.floats(lambda text: number.value if (number := parse_number(text)) else np.nan)
    told = np.where(column.bools(is_missing), 0.0, told)
    share = np.where(told > _MOST_SHRINK, told / 100.0, told)
    return np.where((share >= 0.0) & (share <= _MOST_SHRINK), 1.0 - share, np.nan)


_PRICE_SLACK = 0.01
WIDEST_RANGE = 2.0
OTHER_UNIT = "other"  # what stands in a column of units and is none that we know


@dataclass(frozen=True)
class _PriceColumn:
    """One price column in $/cwt, not-a-number without a price; the unit of each row, and footnote marks."""

    low: FloatArray
    high: FloatArray
    units: TextColumn
    marks: TextColumn


@dataclass(frozen=True)
class RowPrices:
    """Prices [money per cwt] of each row, the units that they were told in, and footnote marks."""

    units: TextColumn
    marks: TextColumn
    mean: FloatArray
    low: FloatArray
    high: FloatArray
    middle: BoolArray
    per_head: BoolArray
    inconsistent: BoolArray


def _price_column(
    table: Table, meaning: Meaning, name: str, row_units: TextColumn | None
) -> _PriceColumn | None:
    """Read one price column; a unit in the cell beats one in the row, which beats that of the column."""
    column = column_at(table, meaning.assignment, name)
    if column is None:
        return None
    cells = [parse_price(text, meaning.price_decimal) for text in column.values] or [NO_PRICE]
    cells = _without_credits(column.values, cells)
    default = PER_HEAD if name == "price_head" else meaning.price_unit
    own = TextColumn(column.codes, [whole_unit(cell.unit, meaning.weight_unit) for cell in cells])
    of_row = (row_units or TextColumn.constant("", len(column))).mapped(
        lambda text: row_price_unit(text) or (default if is_missing(text) else OTHER_UNIT)
    )
    units = own.chosen(of_row, own.bools(bool)).mapped(str)
    factor = units.floats(lambda unit: PRICE_FACTORS.get(unit, 1.0))
    marks = TextColumn(column.codes, tuple(cell.mark for cell in cells))
    cells = [cell if cell.given else NO_PRICE for cell in cells]
    low, high = np.array([cell.low for cell in cells]), np.array([cell.high for cell in cells])
    return _PriceColumn(low[column.codes] * factor, high[column.codes] * factor, units, marks)


def _without_credits(texts: Sequence[str], cells: list[PriceCell]) -> list[PriceCell]:
    """Return price cells without those in parentheses, which book-keepers mean as less than nothing.

    Where most cells of the column stand in parentheses, that is only how it is printed.
    """
    pairs = zip(texts, cells, strict=True)
    credit = [text[:1] == "(" and text.endswith(")") and cell.given for text, cell in pairs]
    if not any(credit) or sum(credit) > 0.5 * sum(cell.given for cell in cells):
        return cells
    return [NO_PRICE if held else cell for held, cell in zip(credit, cells, strict=True)]


def row_prices(table: Table, meaning: Meaning) -> RowPrices:
    """Return the price of each row: the stated mean, else the middle of the range."""
    length = len(table.rows)
    units = column_at(table, meaning.assignment, "price_unit")
    columns = {name: _price_column(table, meaning, name, units) for name in price_places(meaning.assignment)}
    found = {name: column for name, column in columns.items() if column}
    blank = TextColumn.constant("", length)
    nothing = _PriceColumn(np.array(np.nan), np.array(np.nan), blank, blank)  # one value for all rows
    price = found.get("price") or found.get("price_head") or nothing
    span = found.get("price_range", nothing)
    mean_low, mean_high, low, high = price.low, price.high, span.low, span.high
    low = np.where(np.isfinite(low), low, found.get("price_low", nothing).low)
    high = np.where(np.isfinite(high), high, found.get("price_high", nothing).high)
    single = np.isfinite(mean_low) & (mean_low == mean_high)
    if (spread := np.isfinite(mean_low) & ~single).any():
        low = np.where(spread & ~np.isfinite(low), mean_low, low)
        high = np.where(spread & ~np.isfinite(high), mean_high, high)
    ranged = np.isfinite(low) & np.isfinite(high) & (low <= high)
    middle = ~single & ranged & (low < high)
    mean = np.where(single, mean_low, np.where(ranged, 0.5 * (low + high), np.nan))
    inconsistent = single & np.isfinite(low) & np.isfinite(high)
    if inconsistent.any():
        outside = (mean < low - _PRICE_SLACK) | (mean > high + _PRICE_SLACK) | (low > high)
        inconsistent &= outside | (low < mean / WIDEST_RANGE) | (high > mean * WIDEST_RANGE)
    first = next(iter(found.values()), nothing)
    per_head = first.units.bools(PER_HEAD.__eq__) & (np.isfinite(first.low) | ~np.isfinite(mean))
    rows = np.broadcast_arrays(mean, low, high, middle, per_head, inconsistent)
    return RowPrices(first.units, first.marks, *rows)
