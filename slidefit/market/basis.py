"""Weight curves and the turn of the year as regression columns: natural splines, powers and harmonics."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from slidefit.market.outlook import STANDARD_WEIGHT_LB
from slidefit.market.tally import counted_quantiles

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LB_PER_CWT = 100.0
DAYS_PER_YEAR = 365.25


def scaled_weight(weight_lb: ArrayLike) -> FloatArray:
    """Return (weight - 550 lb) / 100 lb: hundredweight from the standard calf.

    Powers of raw pounds defeat even an SVD solver; centred and scaled every solver is good to 5e-13.
    """
    return np.asarray((np.asarray(weight_lb, dtype=float) - STANDARD_WEIGHT_LB) / LB_PER_CWT)


@dataclass(frozen=True)
class WeightCurve:
    """A family of curves in weight, all zero at the standard calf.

    Attributes
    ----------
    kind : str
        ``straight``, ``quadratic`` or ``spline``.
    knots : tuple of float [cwt from 550 lb]
        For a spline, the outer two included; empty otherwise.
    """

    kind: str
    knots: tuple[float, ...] = ()

    @property
    def columns(self) -> int:
        """Number of columns that the curve needs."""
        return {"straight": 1, "quadratic": 2}.get(self.kind, len(self.knots) - 1)

    def rows(self, x: FloatArray) -> FloatArray:
        """Return the columns at ``x`` [cwt from 550 lb], shape (n, columns).

        For a natural cubic spline with knots k_1 < ... < k_K: x itself, then for j = 1 .. K-2

            N_j(x) = (d_j(x) - d_{K-1}(x)) / span,   d_j(x) = ((x - k_j)+^3 - (x - k_K)+^3) / (k_K - k_j)

        which is straight beyond the outer knots. Each column has its value at the standard calf taken off.

        References
        ----------
        Hastie, Tibshirani and Friedman (2009), The Elements of Statistical Learning, 2nd ed., eqs. 5.4-5.5.

        Examples
        --------
        >>> curve = WeightCurve("spline", (-2.0, -1.0, 0.5, 2.0))
        >>> beyond = curve.rows(np.array([3.0, 4.0, 5.0]))
        >>> bool(np.allclose(np.diff(beyond, 2, axis=0), 0.0))  # straight beyond the last knot
        True
        """
        return self._raw(x) - self._raw(np.zeros(1))

    def _raw(self, x: FloatArray) -> FloatArray:
        if self.kind == "straight":
            return x[:, None]
        if self.kind == "quadratic":
            return np.vstack([x, x * x]).T
        knots = np.asarray(self.knots)
        last = knots[-1]
        spans = last - knots[:-1]
        ramps = (_cubed_above(x - knots[:-1, None]) - _cubed_above(x - last)) / spans[:, None]
        bends = (ramps[:-1] - ramps[-1]) / (last - knots[0])
        return np.vstack([x, bends]).T


def _cubed_above(values: FloatArray) -> FloatArray:
    above = np.maximum(values, 0.0)
    return np.asarray(above * above * above)


def spline_knots(x: FloatArray, rows: IntArray, columns: int) -> tuple[float, ...]:
    """Return ``columns + 1`` knots at even quantiles of ``x``, the outer two at its 5th and 95th percentile.

    Parameters
    ----------
    x : array, shape (m,) [cwt from 550 lb]
        Ascending.
    rows : array of int, shape (m,)
        How many lots each value stands for.

    References
    ----------
    Harrell (2015), Regression Modeling Strategies, 2nd ed., table 2.3 (four and five knots).
    """
    return tuple(counted_quantiles(x, rows, np.linspace(0.05, 0.95, columns + 1)).tolist())


def harmonics(day_of_year: ArrayLike, count: int) -> FloatArray:
    """Return cos and sin of 1 .. ``count`` turns a year, shape (n, 2 count).

    Examples
    --------
    >>> harmonics(np.array([0.0, 365.25 / 4]), 1).round(12) + 0.0
    array([[1., 0.],
           [0., 1.]])
    """
    angle = 2.0 * np.pi * np.asarray(day_of_year, dtype=float) / DAYS_PER_YEAR
    turns = [f(k * angle) for k in range(1, count + 1) for f in (np.cos, np.sin)]
    return np.vstack([np.empty((0, len(angle))), *turns]).T
