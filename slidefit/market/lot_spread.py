"""The spread of one lot's price within its sale, and its estimate from residuals, which add up over chunks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MIN_ROW_SD = 0.01
USUAL_HEAD = 15.0


def known_head(head: FloatArray) -> FloatArray:
    """Return the heads, an unknown one counted as the usual 15 and none below one."""
    return np.asarray(np.maximum(np.nan_to_num(head, nan=USUAL_HEAD), 1.0))


@dataclass(frozen=True)
class Spread:
    """Spread of one lot's log price within its sale: variance lot_sd^2 + calf_sd^2 / head."""

    lot_sd: float
    calf_sd: float

    def variance(self, head: FloatArray) -> FloatArray:
        """Return the variance of each lot; an unknown head counts as one of the usual 15."""
        return np.asarray(np.maximum(self.lot_sd**2 + self.calf_sd**2 / known_head(head), MIN_ROW_SD**2))


@dataclass(frozen=True)
class SpreadSums:
    """What residuals of whole sales add to the estimate of their spread.

    Attributes
    ----------
    triangle : array, shape (at most 3, 3)
        R of (1, 1 / head, e^2), each row by the inverse of its expected variance.
    rows : int
        Residuals of sales of two lots or more.
    square : float
        Sum of their e^2, raised for the absorbed effect.
    inverse_head : (float, float)
        Least and greatest 1 / head.
    """

    triangle: FloatArray
    rows: int
    square: float
    inverse_head: tuple[float, float]


def spread_sums(residual: FloatArray, head: FloatArray, sale: IntArray, now: Spread) -> SpreadSums:
    """Return the sums of some whole sales; e^2 is first raised by n / (n - 1) of its sale for the absorbed effect.

    Parameters
    ----------
    residual, head, sale : arrays, shape (n,)
    now : Spread
        Gives the weights.
    """
    size = np.bincount(sale)[sale] if len(sale) else sale
    use = size > 1
    if not use.any():
        return SpreadSums(np.empty((0, 3)), 0, 0.0, (np.inf, -np.inf))
    square = residual[use] ** 2 * size[use] / (size[use] - 1.0)
    inverse = 1.0 / known_head(head[use])
    scale = 1.0 / now.variance(head[use])
    rows = np.column_stack([np.ones_like(inverse), inverse, square]) * scale[:, None]
    return SpreadSums(
        np.asarray(np.linalg.qr(rows, mode="r")),
        len(square),
        float(square.sum()),
        (float(inverse.min()), float(inverse.max())),
    )


def spread_of(parts: Iterable[SpreadSums], now: Spread) -> Spread:
    """Return the two variances by weighted non-negative least squares of e^2 on (1, 1 / head).

    Where all heads are alike the spread is all the lot's; where no sale has two lots it stays ``now``.
    """
    found = [p for p in parts if p.rows]
    if not found:
        return now
    low, high = min(p.inverse_head[0] for p in found), max(p.inverse_head[1] for p in found)
    if low == high:
        return Spread(float(np.sqrt(sum(p.square for p in found) / sum(p.rows for p in found))), 0.0)
    triangle = np.asarray(np.linalg.qr(np.vstack([p.triangle for p in found]), mode="r"))
    (lot, calf), _ = nnls(triangle[:, :2], triangle[:, 2])
    return Spread(float(np.sqrt(lot)), float(np.sqrt(calf)))
