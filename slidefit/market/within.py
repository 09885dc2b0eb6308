"""Stage 1: the slide, from calves compared within one sale, with the price level of the sale in the slide."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from slidefit.market.design import Recipe, calves_of, design
from slidefit.market.leastsquares import (
    Chunk,
    Solution,
    cluster_sums,
    clustered_cov,
    combine,
    jackknife_cov,
    residuals,
    sale_scores,
    solve,
    summarise,
)
from slidefit.market.lots import Lots, crop_year

FloatArray = NDArray[np.float64]

CHUNK_ROWS = 50_000
LEVEL_PASSES = 3
FIRST_LOT_SD = 0.04
FIRST_CALF_SD = 0.12
MIN_ROW_SD = 0.01
GROSS_ERROR_SD = 8.0


@dataclass(frozen=True)
class Spread:
    """Spread of one lot's log price within its sale: variance lot_sd^2 + calf_sd^2 / head."""

    lot_sd: float
    calf_sd: float

    def variance(self, head: FloatArray) -> FloatArray:
        """Return the variance of each lot; an unknown head counts as one of the usual 15."""
        known = np.maximum(np.nan_to_num(head, nan=15.0), 1.0)
        return np.asarray(np.maximum(self.lot_sd**2 + self.calf_sd**2 / known, MIN_ROW_SD**2))


@dataclass(frozen=True)
class SaleEffects:
    """The standard calf's log price at each sale, arrays of shape (s,), and its sampling variance.

    Attributes
    ----------
    sale : array of int
        Ascending; index of the sale among the lots.
    effect : array [ln $/cwt]
    variance : array
    """

    sale: NDArray[np.int64]
    effect: FloatArray
    variance: FloatArray


@dataclass(frozen=True)
class WithinFit:
    """The within-sale regression.

    Attributes
    ----------
    recipe : Recipe
    solution : Solution
        Coefficients in the order of ``recipe.names()`` and the absorbed effect of each sale.
    cov_sale, cov_year : arrays, shape (k, k)
        Covariance clustered by sale (CR1), and by leaving out one crop year at a time (CR3).
    level : array, shape (sales,) [log points]
        Price level of each sale, about ``level_mean``.
    level_mean : float [ln $/cwt]
    effect_var : array, shape (sales,)
        Sampling variance of each sale's effect.
    spread : Spread
    kept : array of bool, shape (rows,)
        False for the gross errors that were left out.
    residual : array, shape (rows,) [log points]
    """

    recipe: Recipe
    solution: Solution
    cov_sale: FloatArray
    cov_year: FloatArray
    level: FloatArray
    level_mean: float
    effect_var: FloatArray
    spread: Spread
    kept: NDArray[np.bool_]
    residual: FloatArray

    @property
    def effects(self) -> SaleEffects:
        """The standard calf's log price at each sale."""
        sale = self.solution.sale
        return SaleEffects(sale, self.solution.effect, self.effect_var[sale])


def chunks(
    lots: Lots, recipe: Recipe, level: FloatArray, spread: Spread, rows: int = CHUNK_ROWS
) -> Iterator[Chunk]:
    """Yield the regression's rows a few whole sales at a time, so that the design never stands in memory whole."""
    first = 0
    while first < len(lots):
        last = min(first + rows, len(lots))
        if last < len(lots):
            cut = int(np.searchsorted(lots.sale, lots.sale[last], side="left"))
            last = cut if cut > first else int(np.searchsorted(lots.sale, lots.sale[last], side="right"))
        part = lots.take(slice(first, last))
        yield Chunk(
            y=part.log_price,
            X=design(recipe, calves_of(recipe, part, level)),
            row_weight=1.0 / spread.variance(part.head),
            sale=part.sale,
        )
        first = last


def estimate_spread(residual: FloatArray, head: FloatArray, sale: NDArray[np.int64], now: Spread) -> Spread:
    """Return the two variances by weighted non-negative least squares of e^2 on (1, 1 / head).

    e^2 is first raised by n / (n - 1) of its sale for the absorbed effect; ``now`` gives the weights.
    """
    size = np.bincount(sale)[sale]
    use = size > 1
    if not use.any():
        return now
    square = residual[use] ** 2 * size[use] / (size[use] - 1.0)
    known = np.maximum(np.nan_to_num(head[use], nan=15.0), 1.0)
    inverse = 1.0 / known
    scale = 1.0 / now.variance(known)
    columns = np.column_stack([np.ones_like(inverse), inverse])
    if np.ptp(inverse) == 0.0:
        return Spread(float(np.sqrt(square.mean())), 0.0)
    (lot, calf), _ = nnls(columns * scale[:, None], square * scale)
    return Spread(float(np.sqrt(lot)), float(np.sqrt(calf)))


def fit_within(lots: Lots, recipe: Recipe, pull: tuple[FloatArray, FloatArray] | None = None) -> WithinFit:
    """Fit the slide within sales, in passes: row weights, gross errors and the price level settle along the way.

    Parameters
    ----------
    lots : Lots
    recipe : Recipe
    pull : (target, sd), each of shape (k,), optional
        Prior of the coefficients, for data too thin to stand alone.
    """
    level, level_mean = np.zeros(lots.sales), 0.0
    spread = Spread(FIRST_LOT_SD, FIRST_CALF_SD)
    kept = np.ones(len(lots), dtype=bool)
    for last in (False,) * LEVEL_PASSES + (True,):
        used = lots.take(kept)
        solution = solve(combine(summarise(c) for c in chunks(used, recipe, level, spread)), pull)
        if last:
            break
        error = np.concatenate([residuals(c, solution) for c in chunks(used, recipe, level, spread)])
        limit = GROSS_ERROR_SD * np.sqrt(spread.variance(used.head))
        kept[np.flatnonzero(kept)[np.abs(error) > limit]] = False
        fine = np.abs(error) <= limit
        spread = estimate_spread(error[fine], used.head[fine], used.sale[fine], spread)
        level, level_mean = _levels(lots, solution)
    used = lots.take(kept)
    scores = np.vstack([sale_scores(c, solution) for c in chunks(used, recipe, level, spread)])
    residual = np.full(len(lots), np.nan)
    residual[kept] = np.concatenate([residuals(c, solution) for c in chunks(used, recipe, level, spread)])
    row_weight = np.bincount(used.sale, 1.0 / spread.variance(used.head), minlength=lots.sales)
    return WithinFit(
        recipe=recipe,
        solution=solution,
        cov_sale=clustered_cov(solution, scores, solution.sale),
        cov_year=jackknife_cov(
            solution,
            (
                cluster_sums(c, solution, crop_year(lots.sale_day[c.sale]))
                for c in chunks(used, recipe, level, spread)
            ),
        ),
        level=level,
        level_mean=level_mean,
        effect_var=1.0 / np.maximum(row_weight, 1e-12),
        spread=spread,
        kept=kept,
        residual=residual,
    )


def _levels(lots: Lots, solution: Solution) -> tuple[FloatArray, float]:
    """Return each sale's price level about the mean over lots, and that mean [ln $/cwt]."""
    effect = np.full(lots.sales, np.nan)
    effect[solution.sale] = solution.effect
    mean = float(np.nanmean(effect[lots.sale]))
    return np.nan_to_num(effect - mean), mean
