"""What one chunk of whole sales adds to the fit: its summary, a look at its residuals, and its account at the end.

Each is a function of the chunk's lots and of what is settled so far, so that chunks can be worked on anywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.market.basis import scaled_weight
from slidefit.market.design import Recipe, calves_of, design
from slidefit.market.grade_years import GradeYears, grade_years
from slidefit.market.leastsquares import (
    Chunk,
    ClusterSums,
    Solution,
    Summary,
    cluster_sums,
    residuals,
    sale_effects,
    sale_scores,
    summarise,
)
from slidefit.market.lot_spread import Spread, SpreadSums, spread_sums
from slidefit.market.lots import Lots, crop_year

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

GROSS_ERROR_SD = 8.0


@dataclass(frozen=True)
class Settled:
    """What is settled of a fit so far, as far as one chunk needs it.

    Attributes
    ----------
    recipe : Recipe
    spread : Spread
    level : array, shape (sales of the chunk,) [log points]
    dropped : array of int
        Rows of the chunk that were left out as gross errors.
    solution : Solution or None
        None before the first.
    """

    recipe: Recipe
    spread: Spread
    level: FloatArray
    dropped: IntArray
    solution: Solution | None = None


@dataclass(frozen=True)
class Look:
    """The residuals of a chunk, looked at.

    Attributes
    ----------
    effect : array, shape (sales of the chunk,) [ln $/cwt]
        NaN for a sale with no lot left.
    wild : array of int
        Rows over eight standard deviations off.
    spread : SpreadSums
        Of the others.
    """

    effect: FloatArray
    wild: IntArray
    spread: SpreadSums


@dataclass(frozen=True)
class Account:
    """What a chunk says of the finished regression; arrays by sale have shape (sales of the chunk,).

    Attributes
    ----------
    effect : array [ln $/cwt]
        NaN for a sale with no lot left.
    row_weight : array
        Sum of row weights.
    lots : array of int
        Lots that were used.
    slope_score, slope_known : arrays
        Sum of w x e and of w x^2, x the weight [cwt] centred within the sale.
    meat : array, shape (k, k)
        Sum over sales of s s', s the sale's score.
    years : ClusterSums
        By crop year.
    grades : GradeYears
    standard : SpreadSums
        Of the lots of the standard grade.
    """

    effect: FloatArray
    row_weight: FloatArray
    lots: IntArray
    slope_score: FloatArray
    slope_known: FloatArray
    meat: FloatArray
    years: ClusterSums
    grades: GradeYears
    standard: SpreadSums


def chunk_of(lots: Lots, recipe: Recipe, level: FloatArray, spread: Spread) -> Chunk:
    """Return the regression's rows of some lots."""
    return Chunk(
        y=lots.log_price,
        X=design(recipe, calves_of(recipe, lots, level)),
        row_weight=1.0 / spread.variance(lots.head),
        sale=lots.sale,
    )


def chunks(lots: Lots, recipe: Recipe, level: FloatArray, spread: Spread) -> Iterator[Chunk]:
    """Yield the regression's rows a few whole sales at a time; their sales are numbered anew in each."""
    for span, piece in lots.pieces():
        yield chunk_of(piece, recipe, level[span.sales], spread)


def _used(lots: Lots, dropped: IntArray) -> Lots:
    if not len(dropped):
        return lots
    kept = np.ones(len(lots), dtype=bool)
    kept[dropped] = False
    return lots.take(kept)


def _chunk(lots: Lots, settled: Settled) -> Chunk:
    return chunk_of(lots, settled.recipe, settled.level, settled.spread)


def summed(lots: Lots, settled: Settled) -> Summary:
    """Return the summary of a chunk."""
    return summarise(_chunk(_used(lots, settled.dropped), settled))


def looked_at(lots: Lots, settled: Settled) -> Look:
    """Return each sale's effect, the rows that are too far off, and what the others add to the spread."""
    used = _used(lots, settled.dropped)
    chunk, solution = _chunk(used, settled), _solution(settled)
    error = residuals(chunk, solution.coef)
    fine = np.abs(error) <= GROSS_ERROR_SD * np.sqrt(settled.spread.variance(used.head))
    kept = np.delete(np.arange(len(lots)), settled.dropped)
    return Look(
        effect=_by_sale(used, sale_effects(chunk, solution.coef)),
        wild=kept[~fine],
        spread=spread_sums(error[fine], used.head[fine], used.sale[fine], settled.spread),
    )


def accounted(lots: Lots, settled: Settled) -> Account:
    """Return all that the rest of the fit takes from a chunk's lots."""
    used = _used(lots, settled.dropped)
    chunk, solution = _chunk(used, settled), _solution(settled)
    error = residuals(chunk, solution.coef)
    weight, sales = chunk.row_weight, lots.sales
    total = np.maximum(np.bincount(used.sale, weight, sales), 1e-12)
    x = scaled_weight(used.weight_lb)
    x = x - (np.bincount(used.sale, weight * x, sales) / total)[used.sale]
    scores = sale_scores(chunk, solution)
    year = crop_year(lots.sale_day)[used.sale]
    place = np.array(settled.recipe.grade_of)[used.grade]
    standard = place == 0
    return Account(
        effect=_by_sale(used, sale_effects(chunk, solution.coef)),
        row_weight=_sum(used.sale, weight, sales),
        lots=np.bincount(used.sale, minlength=sales),
        slope_score=_sum(used.sale, weight * x * error, sales),
        slope_known=_sum(used.sale, weight * x**2, sales),
        meat=scores.T @ scores,
        years=cluster_sums(chunk, solution, year),
        grades=grade_years(
            place, crop_year(lots.sale_day), weight, error, used.sale, len(settled.recipe.grades)
        ),
        standard=spread_sums(error[standard], used.head[standard], used.sale[standard], settled.spread),
    )


def _solution(settled: Settled) -> Solution:
    if settled.solution is None:
        raise ValueError("nothing is solved yet")
    return settled.solution


def _sum(sale: IntArray, values: FloatArray, sales: int) -> FloatArray:
    return np.bincount(sale, values, sales).astype(float)


def _by_sale(used: Lots, found: FloatArray) -> FloatArray:
    """Return an array by sale of the chunk, NaN where no lot is left, from one by sale with lots."""
    out = np.full(used.sales, np.nan)
    out[np.unique(used.sale)] = found
    return out
