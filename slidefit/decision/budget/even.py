"""Where a gain changes sign along one input: read from a grid, then from a finer one."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
STEPS = 201


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
    gain_at: Callable[[FloatArray], ArrayLike], low: float, high: float, planned: float
) -> float | None:
    """Return where a gain comes out even between two limits, nearest to what is planned; None if nowhere.

    Parameters
    ----------
    gain_at : callable
        From values of the input, shape (n,), to gains of that shape.

    Examples
    --------
    >>> round(even_at(lambda x: x**2 - 2.0, 0.0, 10.0, 1.0), 6)
    1.414214
    """
    span = (low, high)
    for _ in range(2):
        at = np.linspace(span[0], span[1], STEPS)
        gains = np.broadcast_to(gain_at(at), at.shape)
        found = nearest_crossing(at, gains, planned)
        if found is None:
            return None
        span = found
    before, after = np.interp(span, at, gains)
    return float(span[0] + (span[1] - span[0]) * before / (before - after))
