"""Table and meaning to tidy rows; rows that are totals of others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from slidefit.records.columns import REASON_CODES, BoolArray, FloatArray, IntArray, TextColumn, combined
from slidefit.records.meaning.row_classes import (
    row_classes,
    row_corrected,
    row_grades,
    row_markets,
    row_preliminary,
    row_traits,
    row_unsold,
    told_in,
)
from slidefit.records.meaning.row_values import (
    OTHER_UNIT,
    PRECISIONS,
    RowPrices,
    RowWeights,
    column_at,
    row_dates,
    row_prices,
    row_weights,
)
from slidefit.records.meaning.table_meaning import Meaning, price_places
from slidefit.records.meaning.unit_choice import row_money
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.tables import Table
from slidefit.records.words.numerals import is_missing
from slidefit.records.words.titles import footnotes
from slidefit.records.words.units import (
    DRESSED,
    HEAVIEST_LB,
    LIGHTEST_LB,
    PER_HEAD,
    PRICE_FACTORS,
    currency_of,
    money_code,
    price_unit_of,
)

FEWEST_SUMMED = 2
WEIGHT_SHARE = 0.005
PRICE_SHARE = 0.015
MOST_ROWS = 20_000


def unnamed_totals(head: FloatArray, weight: FloatArray, price: FloatArray, group: IntArray) -> BoolArray:
    """Return the rows that are the total of the rows above them: of all, or back to the last total or change of group.

    The head must be their exact sum, and weight and price must be their means, weighed by head and pounds.

    Parameters
    ----------
    head, weight, price : array, shape (n,)
    group : array of int, shape (n,)
        Changes where another class or sale begins.

    Examples
    --------
    >>> head, weight = np.array([12.0, 30.0, 42.0]), np.array([512.0, 604.0, 577.7])
    >>> unnamed_totals(head, weight, np.array([251.25, 233.5, 238.0]), np.zeros(3, dtype=np.int64)).tolist()
    [False, False, True]
    """
    found = np.zeros(len(head), dtype=bool)
    rows = list(zip(head.tolist(), weight.tolist(), price.tolist(), strict=True))
    whole = [0] * len(rows)
    for starts, begins_anew in ((group.tolist(), True), (whole, True), (whole, False)):
        above, count = (0.0, 0.0, 0.0), 0  # head, pounds and dollars of the rows above that are no totals
        for row, (of_head, of_weight, of_price) in enumerate(rows):
            if row and starts[row] != starts[row - 1]:
                above, count = (0.0, 0.0, 0.0), 0
            elif count >= FEWEST_SUMMED and _is_total(rows[row], above):
                found[row] = True
            if found[row]:
                above, count = ((0.0, 0.0, 0.0), 0) if begins_anew else (above, count)
            else:
                pounds = of_head * of_weight
                above = (above[0] + of_head, above[1] + pounds, above[2] + pounds * of_price)
                count += 1
    return found


def totals_of_others(
    head: FloatArray, weight: FloatArray, price: FloatArray, group: IntArray, table: IntArray
) -> BoolArray:
    """Return the rows that sum up rows of other tables of the file, class by class.

    In a table where one row sums up two or more rows, a row equal to the only one of its class is a sum too.

    Parameters
    ----------
    head, weight, price : array, shape (n,)
    group : array of int, shape (n,)
        A number for each sale and class.
    table : array of int, shape (n,)
        The number of the table.
    """
    found = np.zeros(len(head), dtype=bool)
    if len(head) > MOST_ROWS:
        return found
    pounds = head * weight

    def summed(rows: IntArray) -> tuple[float, float, float]:
        return float(head[rows].sum()), float(pounds[rows].sum()), float((pounds * price)[rows].sum())

    for number in np.unique(table)[::-1]:
        rows = np.flatnonzero(table == number)
        above = {row: np.flatnonzero((table != number) & (group == group[row]) & ~found) for row in rows}
        sums = [
            row
            for row, rows_above in above.items()
            if len(rows_above) and _is_total((head[row], weight[row], price[row]), summed(rows_above))
        ]
        if any(len(above[row]) >= FEWEST_SUMMED for row in sums):
            found[sums] = True
    return found


def recaps(head: FloatArray, weight: FloatArray, price: FloatArray, group: IntArray) -> BoolArray:
    """Return the rows at the end that tell all rows before again, class by class, in fewer rows; once or more.

    Parameters
    ----------
    head, weight, price : array, shape (n,)
    group : array of int, shape (n,)
        A number from 0 for each sale and class.

    Examples
    --------
    >>> head, weight = np.array([10.0, 20.0, 9.0, 30.0, 9.0]), np.array([512.0, 536.0, 450.0, 528.0, 450.0])
    >>> price, group = np.array([280.0, 276.0, 300.0, 277.3, 300.0]), np.array([0, 0, 1, 0, 1])
    >>> recaps(head, weight, price, group).tolist()
    [False, False, False, True, True]
    """
    found = np.zeros(len(head), dtype=bool)
    if not FEWEST_SUMMED < len(head) <= MOST_ROWS or not np.isfinite(head).all():
        return found
    told = np.array([head, head * weight, head * weight * price])
    running, count = np.cumsum(head), int(group.max()) + 1

    def sums(start: int, end: int) -> FloatArray:
        return np.array([np.bincount(group[start:end], row[start:end], count) for row in told])

    for end in range(FEWEST_SUMMED + 1, len(head)):
        if running[-1] % running[end - 1] or running[-1] == running[end - 1]:
            continue
        start, own = end, sums(0, end)
        while start < len(head):
            stop = int(np.searchsorted(running, running[start - 1] + running[end - 1])) + 1
            again = sums(start, min(stop, len(head)))
            if stop - start >= end or not _same_sums(own, again):
                break
            start = stop
        if start == len(head):
            found[end:] = True
            return found
    return found


def _same_sums(own: FloatArray, again: FloatArray) -> bool:
    """Tell whether rows add up, class by class, to head, pounds and dollars of others; shape (3, classes)."""
    if not np.array_equal(own[0] > 0, again[0] > 0):
        return False
    told = again[:, again[0] > 0]
    means = zip(told[0], told[1] / told[0], told[2] / told[1], strict=True)
    return all(map(_is_total, means, own[:, own[0] > 0].T.tolist()))


def _is_total(row: tuple[float, float, float], above: tuple[float, float, float]) -> bool:
    """Tell whether a row (head, lb, $/cwt) sums up rows of so many head, pounds and pounds times price."""
    head, weight, price = row
    if above[0] != head or not (above[1] > 0 and weight > 0 and price > 0):
        return False
    off_weight, off_price = above[1] / head / weight - 1.0, above[2] / above[1] / price - 1.0
    return abs(off_weight) <= WEIGHT_SHARE and abs(off_price) <= PRICE_SHARE


# limits outside of which a weight is no feeder calf's; docs/records.md shows them
_HEAVIEST_BULL_LB = 1_400.0  # heavier bulls are sold for slaughter or breeding (common practice, no source)
MOST_HEAD = 20_000.0  # more than the largest auctions sell in a day (common practice, no source)
_WEIGHT_DECIMALS = 2
_PRICE_DECIMALS = 4


@dataclass(frozen=True)
class TidyTable:
    """Tidy rows (text columns categorical) of every row of a table, and a reason code for each (0: accepted)."""

    frame: pd.DataFrame
    reason: np.ndarray
    unit_said: bool
    unknown_remarks: tuple[str, ...]


def _flags(length: int, marks: dict[str, BoolArray], given: TextColumn | None) -> TextColumn:
    """Return the ``;``-joined names of the flags that hold in each row."""
    flags = TextColumn.constant("", length)
    for name in sorted(marks):
        longer = flags.mapped(lambda text, name=name: f"{text};{name}".strip(";"))  # type: ignore[misc]
        flags = longer.chosen(flags, marks[name])
    return flags if given is None else given.chosen(flags, given.bools(bool)).mapped(str)


def interpret(table: Table, meaning: Meaning, options: ReadOptions) -> TidyTable:
    """Return the tidy rows of a table.

    Weights are rounded to 0.01 lb and prices to 0.0001 $/cwt, so that the same row read twice is the same.
    """
    length = len(table.rows)
    dates, weights = row_dates(table, meaning), row_weights(table, meaning)
    prices, classes = row_prices(table, meaning), row_classes(table, meaning)
    frame_code, muscle = row_grades(table, meaning)
    traits, unknown = row_traits(table, meaning)
    converted = weights.converted | prices.units.bools(lambda unit: PRICE_FACTORS.get(unit, 1.0) != 1.0)
    price, low, high = prices.mean, prices.low, prices.high
    if options.price_unit == PER_HEAD:
        factor = np.where(prices.per_head, 100.0 / weights.mean, 1.0)
        price, low, high, converted = price * factor, low * factor, high * factor, converted | prices.per_head
    marks = {
        "weight_mid": weights.middle,
        "price_mid": prices.middle,
        "converted": converted,
        "corrected": row_corrected(table, meaning),
        "preliminary": row_preliminary(table, meaning) | _marked_preliminary(table, prices),
    }
    precision = TextColumn(dates.precision.astype(np.int32), PRECISIONS)
    flags = _flags(length, marks, column_at(table, meaning.assignment, "flags"))
    columns = {
        "sale_date": pd.Series(dates.days.astype("datetime64[s]")),
        "date_precision": precision.category(),
        "market": row_markets(table, meaning, options).category(),
        "sex": classes.sex.category(),
        "frame": frame_code.category(),
        "muscle": muscle.category(),
        "head": weights.head,
        "weight_lb": np.round(weights.mean, _WEIGHT_DECIMALS),
        "weight_low_lb": np.round(weights.low, _WEIGHT_DECIMALS),
        "weight_high_lb": np.round(weights.high, _WEIGHT_DECIMALS),
        "price_cwt": np.round(price, _PRICE_DECIMALS),
        "price_low_cwt": np.round(low, _PRICE_DECIMALS),
        "price_high_cwt": np.round(high, _PRICE_DECIMALS),
        "traits": traits.category(),
        "currency": _currencies(table, meaning, options).category(),
        "flags": flags.category(),
        "batch": TextColumn.constant("", length).category(),
        "source_row": table.rows,
    }
    by_head = prices.per_head | _by_head_titles(table, weights.mean)
    by_head |= told_in(table, meaning, ("remarks",), lambda text: price_unit_of(text) == PER_HEAD)
    tests: dict[str, BoolArray] = {
        "summary_row": classes.summary | _totals(table, meaning, weights, price),
        "not_feeder": classes.not_feeder
        | (classes.sex.bools("bull".__eq__) & (weights.mean > _HEAVIEST_BULL_LB)),
        "dairy": classes.dairy,
        "missing_date": np.isnat(dates.days),
        "implausible_date": dates.days > np.datetime64(options.today, "D"),
        "missing_price": ~np.isfinite(prices.mean) | row_unsold(table, meaning),
        "per_head_price": by_head & (options.price_unit != PER_HEAD),
        "carcass_price": prices.units.bools(DRESSED.__eq__),
        "unit_doubtful": prices.units.bools(OTHER_UNIT.__eq__),
        "price_inconsistent": prices.inconsistent,
        "open_ended_weight": weights.open_ended,
        "missing_weight": ~np.isfinite(weights.mean),
        "weight_inconsistent": weights.inconsistent,
        "implausible_weight": (weights.mean < LIGHTEST_LB) | (weights.mean > HEAVIEST_LB),
        "missing_sex": classes.sex.codes == 0,
        "implausible_head": weights.head > MOST_HEAD,
    }
    reason = np.zeros(length, dtype=np.int8)
    for name, found in tests.items():  # the first that holds counts
        if found.any():
            reason[(reason == 0) & found] = REASON_CODES[name]
    return TidyTable(pd.DataFrame(columns, copy=False), reason, meaning.unit_said, unknown)


def _totals(table: Table, meaning: Meaning, weights: RowWeights, price: FloatArray) -> BoolArray:
    """Return the totals without a name; in a table made long those of each class, which stood one below another."""
    found = np.zeros(len(table.rows), dtype=bool)
    if len(found) > MOST_ROWS:
        return found
    group = _labels(table, meaning)
    names = ("sex", "category", "grade", "market", "date") if table.wide else ()
    classes = [column for name in names if (column := column_at(table, meaning.assignment, name)) is not None]
    if classes:
        group = combined(classes)[0]
    rows = np.argsort(group, kind="stable") if classes else np.arange(len(group))
    found[rows] = unnamed_totals(weights.head[rows], weights.mean[rows], price[rows], group[rows])
    return found


def _labels(table: Table, meaning: Meaning) -> IntArray:
    """Return a number for each row that changes where another class, place or day begins; a blank changes nothing."""
    total = np.zeros(len(table.rows), dtype=np.int64)
    for name in ("sex", "category", "grade", "market", "date"):
        place = meaning.assignment.first(name)
        if place is not None:
            column = table.columns[place]
            codes = column.filled_down(column.bools(is_missing)).codes
            total[1:] += np.cumsum(codes[1:] != codes[:-1])
    return total


def _by_head_titles(table: Table, weight_lb: FloatArray) -> BoolArray:
    """Return the rows of weights that a title says are priced by the head, as in "under 400 lb by the head"."""
    found = np.zeros(len(table.rows), dtype=bool)
    for name, side in (("per_head_below", -1.0), ("per_head_above", 1.0)):
        if name in table.said:
            found |= side * (weight_lb - float(table.said[name])) > 0.0
    return found


def _currencies(table: Table, meaning: Meaning, options: ReadOptions) -> TextColumn:
    column = column_at(table, meaning.assignment, "currency")
    if column is not None:
        return column.mapped(lambda text: money_code(text) or meaning.currency)
    if not options.currency and (by_place := row_money(table, meaning.currency)) is not None:
        return by_place
    if not meaning.money_in_cells:
        return TextColumn.constant(meaning.currency, len(table.rows))
    prices = table.columns[next(iter(price_places(meaning.assignment).values()))]
    return prices.mapped(lambda text: currency_of(text) or meaning.currency)


def _marked_preliminary(table: Table, prices: RowPrices) -> BoolArray:
    """Return the rows whose price carries a footnote mark that the lines around the table explain as preliminary."""
    marks = {mark for mark, word in footnotes(table.lines).items() if word == "preliminary"}
    return prices.marks.bools(lambda text: text.lower() in marks)
