"""The residuals of some lots of a fit, for the tests."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from slidefit.market.fit.chunk_passes import LotRows
from slidefit.market.fit.fixed_effects import FixedEffectsFit
from slidefit.market.fit.leastsquares import residuals
from slidefit.market.fit.lots import Lots

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def lot_errors(lots: Lots, fit: FixedEffectsFit, sale: IntArray, row: IntArray) -> FloatArray:
    """Return the residual of each of some lots, NaN for those that were left out, shape (n,) [log points].

    Parameters
    ----------
    lots : Lots
        Whole sales of those that were fitted.
    sale, row : arrays of int
        Number of each sale and of each lot among those fitted.
    """
    used = ~np.isin(row, fit.dropped)
    out = np.full(len(lots), np.nan)
    if used.any():
        chunk = LotRows.of(lots.take(used), fit.recipe).chunk(fit.level[sale], fit.spread)
        out[used] = residuals(chunk, fit.solution.coef)
    return out
