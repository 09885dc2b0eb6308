"""Where a gain changes sign along one input."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
STEPS = 49


def nearest_crossing(at: ArrayLike, values: ArrayLike, planned: float) -> tuple[float, float] | None:
    """Return the two neighbours between which ``values`` change sign, nearest to ``planned``; None if none."""
    where, ahead = np.asarray(at, dtype=float), np.asarray(values) > 0
    (crossings,) = (ahead[1:] != ahead[:-1]).nonzero()
    if len(crossings) == 0:
        return None
    middles = 0.5 * (where[crossings] + where[crossings + 1])
    best = crossings[np.argmin(np.abs(middles - planned))]
    return float(where[best]), float(where[best + 1])


def even_at(
    gain_at: Callable[[FloatArray], ArrayLike],
    low: float,
    high: float,
    planned: float,
    *,
    bent: bool = False,
) -> float | None:
    """Return where a gain comes out even, nearest to the plan: the cell of a grid, read along a cubic; None if nowhere.

    Parameters
    ----------
    gain_at : callable
        From values of the input, shape (n,), to gains of that shape.
    bent : bool
        Where a floor or a contract bends the gain the cell is cut into a grid of its own first.

    Examples
    --------
    >>> round(even_at(lambda x: x**2 - 2.0, 0.0, 10.0, 1.0, bent=True), 6)
    1.414214
    """
    at = np.linspace(low, high, STEPS)
    if bent:
        cell = nearest_crossing(at, np.broadcast_to(gain_at(at), at.shape), planned)
        if cell is None:
            return None
        at = np.linspace(*cell, STEPS)
    gains = np.broadcast_to(gain_at(at), at.shape)
    found = nearest_crossing(at, gains, planned)
    if found is None:
        return None
    k = int(np.searchsorted(at, found[0] + 1e-12)) - 1
    first = min(max(0, k - 1), len(at) - 4)
    y, x = gains[first : first + 4], at[first : first + 4]
    share = gains[k] / (gains[k] - gains[k + 1])
    value = float(at[k] + share * (at[k + 1] - at[k]))
    if np.all(np.diff(y) > 0) or np.all(np.diff(y) < 0):
        terms = (x[i] * np.prod([y[j] / (y[j] - y[i]) for j in range(4) if j != i]) for i in range(4))
        value = float(min(max(sum(terms), found[0]), found[1]))
    return value
