"""Totals that no word calls totals: a row whose head, weight and price are those of the rows above it together."""

from __future__ import annotations

import numpy as np

from slidefit.records.coded import BoolArray, FloatArray, IntArray

FEWEST_SUMMED = 2
WEIGHT_SHARE = 0.005
PRICE_SHARE = 0.015
MOST_ROWS = 20_000


def unnamed_totals(head: FloatArray, weight: FloatArray, price: FloatArray, group: IntArray) -> BoolArray:
    """Return the rows that are the total of the rows above them, back to the last total or change of group.

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
    if len(head) > MOST_ROWS:
        return found
    for starts in (group, np.zeros(len(head), dtype=np.int64)):
        start = 0
        for row in range(1, len(head)):
            if starts[row] != starts[row - 1]:
                start = row
                continue
            above = np.flatnonzero(~found[start:row]) + start
            if len(above) >= FEWEST_SUMMED and _is_total(head, weight, price, above, row):
                found[row], start = True, row + 1 if starts is group else start
    return found


def totals_of_earlier(
    head: FloatArray, weight: FloatArray, price: FloatArray, group: IntArray, table: IntArray
) -> BoolArray:
    """Return the rows that sum up rows of earlier tables of the file, class by class.

    In a table where one row sums up two or more rows above, a row equal to the only one of its class is a sum too.

    Parameters
    ----------
    head, weight, price : array, shape (n,)
    group : array of int, shape (n,)
        A number for each sale and class.
    table : array of int, shape (n,)
        The number of the table, increasing.
    """
    found = np.zeros(len(head), dtype=bool)
    if len(head) > MOST_ROWS:
        return found
    for number in np.unique(table)[1:]:
        rows = np.flatnonzero(table == number)
        above = {row: np.flatnonzero((table < number) & (group == group[row]) & ~found) for row in rows}
        sums = [row for row in rows if _is_total(head, weight, price, above[row], int(row))]
        if any(len(above[row]) >= FEWEST_SUMMED for row in sums):
            found[sums] = True
    return found


def _is_total(head: FloatArray, weight: FloatArray, price: FloatArray, above: IntArray, row: int) -> bool:
    """Tell whether a row sums up the rows given."""
    if not len(above) or head[above].sum() != head[row]:
        return False
    pounds = head[above] * weight[above]
    mean_weight = pounds.sum() / head[row]
    mean_price = (pounds * price[above]).sum() / pounds.sum()
    return bool(
        abs(mean_weight / weight[row] - 1.0) <= WEIGHT_SHARE
        and abs(mean_price / price[row] - 1.0) <= PRICE_SHARE
    )
