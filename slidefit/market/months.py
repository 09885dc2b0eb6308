"""The calendar of the market: months, and dates read from tables of twelve mid-month values."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

DAYS_PER_MONTH = 365.25 / 12.0
MID_MONTH_DAY = 15
MONTHS = 12
EPOCH = date(1970, 1, 1)


def month_weights(when: Sequence[date]) -> NDArray[np.float64]:
    """Return the share of each calendar month in each date, for reading a table of twelve mid-month values.

    Parameters
    ----------
    when : sequence of date, length n

    Returns
    -------
    array, shape (n, 12)
        Rows sum to one; the 15th of a month is that month alone, other days are read linearly between two.

    Examples
    --------
    >>> month_weights([date(2026, 3, 15)])[0, 2]
    np.float64(1.0)
    >>> month_weights([date(2026, 12, 31)])[0, [11, 0]].round(2)
    array([0.47, 0.53])
    """
    shares = np.zeros((len(when), MONTHS))
    for row, day in enumerate(when):
        position = (day.month - 1 + (day.day - MID_MONTH_DAY) / DAYS_PER_MONTH) % MONTHS
        first = int(position)
        shares[row, first % MONTHS] += 1.0 - (position - first)
        shares[row, (first + 1) % MONTHS] += position - first
    return shares
