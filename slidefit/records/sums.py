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
            elif _is_total(head, weight, price, np.flatnonzero(~found[start:row]) + start, row):
                found[row], start = True, row + 1 if starts is group else start
    return found


def _is_total(head: FloatArray, weight: FloatArray, price: FloatArray, above: IntArray, row: int) -> bool:
    """Tell whether a row sums up the rows given."""
    if len(above) < FEWEST_SUMMED or head[above].sum() != head[row]:
        return False
    pounds = head[above] * weight[above]
    mean_weight = pounds.sum() / head[row]
    mean_price = (pounds * price[above]).sum() / pounds.sum()
    return bool(
        abs(mean_weight / weight[row] - 1.0) <= WEIGHT_SHARE
        and abs(mean_price / price[row] - 1.0) <= PRICE_SHARE
    )
