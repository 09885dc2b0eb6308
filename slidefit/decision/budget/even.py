"""Where a gain changes sign along one input: the one rule of plans and the quick question; quick.js has it too."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
STEPS, PASSES = 41, 3
"""Each pass cuts the cell that the last one found into forty; a straight line inside the last cell then leaves under a
thousandth of a cent (tested; our choice)."""


def crossings(at: FloatArray, gains: FloatArray) -> FloatArray:
    """Return where gains change sign, read linearly between neighbors."""
    ahead = gains > 0.0
    k = np.flatnonzero(ahead[1:] != ahead[:-1])
    return np.asarray(at[k] + gains[k] / (gains[k] - gains[k + 1]) * (at[k + 1] - at[k]))


def nearest_crossing(at: ArrayLike, values: ArrayLike, planned: float) -> tuple[float, float] | None:
    """Return the two neighbors between which ``values`` change sign, nearest to ``planned``; None if none."""
    where, ahead = np.asarray(at, dtype=float), np.asarray(values) > 0
    k = np.flatnonzero(ahead[1:] != ahead[:-1])
    if len(k) == 0:
        return None
    best = k[np.argmin(np.abs(0.5 * (where[k] + where[k + 1]) - planned))]
    return float(where[best]), float(where[best + 1])


def even_at(
    gain_at: Callable[[FloatArray], ArrayLike], low: float, high: float, planned: float
) -> float | None:
    """Return where a gain comes out even, nearest to the plan: a grid, finer ones, a line; None if nowhere.

    Parameters
    ----------
    gain_at : callable
        From values of the input, shape (n,), to gains of that shape.

    Examples
    --------
    >>> round(even_at(lambda x: x**2 - 2.0, 0.0, 10.0, 1.0), 6)
    1.414214
    """
    cell: tuple[float, float] | None = (low, high)
    for _ in range(PASSES):
        at = np.linspace(*cell, STEPS)
        gains = np.broadcast_to(gain_at(at), at.shape)
        cell = nearest_crossing(at, gains, planned)
        if cell is None:
            return None
    before, after = np.interp(cell, at, gains)
    return float(cell[0] + (cell[1] - cell[0]) * before / (before - after))
