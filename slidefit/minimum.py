"""The lowest point, or the zero, of a smooth function: `scipy.optimize` takes half a second to load."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
_GOLDEN = 0.5 * (3.0 - 5.0**0.5)


def lowest_between(
    function: Callable[[float], float], bounds: tuple[float, float], *, within: float
) -> float:
    """Return where a function with one valley is lowest, by golden sections and the parabola through the last three.

    Parameters
    ----------
    within : float
        How near the valley's two sides must stand before the parabola is drawn.

    References
    ----------
    Brent (1973), Algorithms for Minimization without Derivatives, ch. 5.

    >>> round(lowest_between(lambda x: (x - 2.0) ** 2, (-10.0, 7.0), within=0.1), 6)
    2.0
    """
    low, high = bounds
    x = low + _GOLDEN * (high - low)
    best = function(x)
    while high - low > within:
        new = x + _GOLDEN * (high - x) if high - x > x - low else x - _GOLDEN * (x - low)
        value = function(new)
        if value > best:
            low, high = (low, new) if new > x else (new, high)
        else:
            low, high = (low, x) if new < x else (x, high)
            x, best = new, value
    rise, fall = (function(high) - best) / (high - x), (function(low) - best) / (x - low)
    bend = (rise + fall) / (high - low)
    lowest = x - 0.5 * (rise / bend - (high - x)) if bend > 0.0 else x
    return float(np.clip(lowest, low, high))


def zero_between(function: Callable[[float], float], above: float, below: float, *, within: float) -> float:
    """Return where a function that is over zero at ``above`` and not at ``below`` turns, by halving.

    >>> round(zero_between(lambda x: 2.0 - x * x, 0.0, 2.0, within=1e-9), 6)
    1.414214
    """
    while abs(below - above) > within:
        middle = 0.5 * (above + below)
        above, below = (middle, below) if function(middle) > 0.0 else (above, middle)
    return 0.5 * (above + below)


def lowest_around(
    function: Callable[[FloatArray], float],
    start: FloatArray,
    *,
    near: float,
    alike: float,
    most_steps: int,
) -> FloatArray:
    """Return where a function of a few numbers is lowest, by Nelder and Mead's simplex.

    Parameters
    ----------
    start : array, shape (n,)
        Its corners lie 5 percent of each number away.
    near, alike : float
        It stops where all corners lie within ``near`` of the best and their values within ``alike``.
    most_steps : int

    References
    ----------
    Nelder and Mead (1965), A simplex method for function minimization, Computer Journal 7(4).
    """
    corners = np.vstack([start, start + 0.05 * np.diag(start)])
    values = np.array([function(corner) for corner in corners])
    for _ in range(most_steps):
        order = np.argsort(values, kind="stable")
        corners, values = corners[order], values[order]
        if np.abs(corners[1:] - corners[0]).max() <= near and values[-1] - values[0] <= alike:
            break
        middle = corners[:-1].mean(axis=0)
        away = middle - corners[-1]
        step = 1.0
        tried = function(middle + away)
        if tried < values[0]:
            further = function(middle + 2.0 * away)
            step, tried = (2.0, further) if further < tried else (step, tried)
        elif tried >= values[-2]:
            step = 0.5 if tried < values[-1] else -0.5
            limit = min(tried, values[-1])
            tried = function(middle + step * away)
            if tried > limit:
                corners[1:] = corners[0] + 0.5 * (corners[1:] - corners[0])
                values[1:] = [function(corner) for corner in corners[1:]]
                continue
        corners[-1], values[-1] = middle + step * away, tried
    return np.asarray(corners[int(np.argmin(values))])
