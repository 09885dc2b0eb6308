"""What one chunk adds: summary, residual pass, final pass, spread, grade by year.

Each is a function of the chunk's lots and of what is settled so far, so that chunks can be worked on anywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from slidefit.market.fit.design import Recipe, calves_of, design, scaled_weight
from slidefit.market.fit.leastsquares import (
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
from slidefit.market.fit.lots import Lots, crop_year

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class GradeYears:
    """Sums by crop year and grade, arrays of shape (y, g); z marks a grade's lots, centred within sales.

    Attributes
    ----------
    year : array of int, shape (y,)
    lots : array of int
    score, known : arrays
        Sum of w z e and of w z^2.
    score_square, score_known, known_square : arrays
        Sums over sales of (sum of w z e)^2, of the product of the two, and of (sum of w z^2)^2.
    """

    year: IntArray
    lots: IntArray
    score: FloatArray
    known: FloatArray
    score_square: FloatArray
    score_known: FloatArray
    known_square: FloatArray

    def shift(self, row: int, grade: int, sales: int) -> tuple[float, float]:
        """Return the regression of a year's residuals on z and its error clustered by sale.

            b = sum w z e / sum w z^2,   error^2 = S / (S - 1) sum over sales of (sum w z (e - b z))^2 / (sum w z^2)^2

        Parameters
        ----------
        sales : int
            Sales of the year, those without the grade too.
        """
        known = float(self.known[row, grade])
        if known <= 0.0:
            return 0.0, float("inf")
        slope = float(self.score[row, grade]) / known
        square = (
            self.score_square[row, grade]
            - 2.0 * slope * self.score_known[row, grade]
            + slope**2 * self.known_square[row, grade]
        )
        return slope, float(np.sqrt(max(float(square), 0.0) * sales / max(sales - 1, 1))) / known


def grade_years(
    place: IntArray, sale_year: IntArray, weight: FloatArray, error: FloatArray, sale: IntArray, grades: int
) -> GradeYears:
    """Return the sums of some whole sales.

    Parameters
    ----------
    place, weight, error, sale : arrays, shape (n,)
        Grade, row weight, residual and sale of each lot.
    sale_year : array of int, shape (s,)
        Crop year of each sale.
    grades : int
        Number of grades.
    """
    sales = len(sale_year)
    cell = sale * grades + place
    shape = (sales, grades)
    mine = np.bincount(cell, weight, sales * grades).reshape(shape)
    pull = np.bincount(cell, weight * error, sales * grades).reshape(shape)
    lots = np.bincount(cell, minlength=sales * grades).reshape(shape)
    share = mine / np.maximum(mine.sum(axis=1, keepdims=True), 1e-12)
    score = pull - share * pull.sum(axis=1, keepdims=True)
    known = mine * (1.0 - share)
    return _by_year(GradeYears(sale_year, lots, score, known, score**2, score * known, known**2))


def _by_year(rows: GradeYears) -> GradeYears:
    """Return the sums with a row for each year, from any number of rows a year."""
    names, row = np.unique(rows.year, return_inverse=True)
    return GradeYears(names, *(_summed_rows(getattr(rows, f), row, len(names)) for f in _SUMS))


def _summed_rows(values: NDArray[Any], row: IntArray, years: int) -> NDArray[Any]:
    out = np.zeros((years, values.shape[1]), dtype=values.dtype)
    np.add.at(out, row, values)
    return out


_SUMS = ("lots", "score", "known", "score_square", "score_known", "known_square")


def all_grade_years(parts: Iterable[GradeYears]) -> GradeYears:
    """Return the sums of several sets of sales."""
    parts = list(parts)
    return _by_year(GradeYears(*(np.concatenate([getattr(p, f) for p in parts]) for f in ("year", *_SUMS))))


MIN_ROW_SD = 0.01
USUAL_HEAD = 15.0


def known_head(head: FloatArray) -> FloatArray:
    """Return the heads, an unknown one counted as the usual 15 and none below one."""
    return np.asarray(np.maximum(np.nan_to_num(head, nan=USUAL_HEAD), 1.0))


@dataclass(frozen=True)
class LotSpread:
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


def spread_sums(residual: FloatArray, head: FloatArray, sale: IntArray, now: LotSpread) -> SpreadSums:
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


def spread_of(parts: Iterable[SpreadSums], now: LotSpread) -> LotSpread:
    """Return the two variances by weighted non-negative least squares of e^2 on (1, 1 / head).

    Where all heads are alike the spread is all the lot's; where no sale has two lots it stays ``now``.
    """
    found = [p for p in parts if p.rows]
    if not found:
        return now
    low, high = min(p.inverse_head[0] for p in found), max(p.inverse_head[1] for p in found)
    if low == high:
        return LotSpread(float(np.sqrt(sum(p.square for p in found) / sum(p.rows for p in found))), 0.0)
    triangle = np.asarray(np.linalg.qr(np.vstack([p.triangle for p in found]), mode="r"))
    (lot, calf), _ = nnls(triangle[:, :2], triangle[:, 2])
    return LotSpread(float(np.sqrt(lot)), float(np.sqrt(calf)))


GROSS_ERROR_SD = 8.0


@dataclass(frozen=True)
class ChunkState:
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
    spread: LotSpread
    level: FloatArray
    dropped: IntArray
    solution: Solution | None = None


@dataclass(frozen=True)
class ResidualPass:
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
class FinalPass:
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


def chunk_of(lots: Lots, recipe: Recipe, level: FloatArray, spread: LotSpread) -> Chunk:
    """Return the regression's rows of some lots."""
    return Chunk(
        y=lots.log_price,
        X=design(recipe, calves_of(recipe, lots, level)),
        row_weight=1.0 / spread.variance(lots.head),
        sale=lots.sale,
    )


def chunks(lots: Lots, recipe: Recipe, level: FloatArray, spread: LotSpread) -> Iterator[Chunk]:
    """Yield the regression's rows a few whole sales at a time; their sales are numbered anew in each."""
    for span, piece in lots.pieces():
        yield chunk_of(piece, recipe, level[span.sales], spread)


def _used(lots: Lots, dropped: IntArray) -> Lots:
    if not len(dropped):
        return lots
    kept = np.ones(len(lots), dtype=bool)
    kept[dropped] = False
    return lots.take(kept)


def _chunk(lots: Lots, settled: ChunkState) -> Chunk:
    return chunk_of(lots, settled.recipe, settled.level, settled.spread)


def chunk_summary(lots: Lots, settled: ChunkState) -> Summary:
    """Return the summary of a chunk."""
    return summarise(_chunk(_used(lots, settled.dropped), settled))


def residual_pass(lots: Lots, settled: ChunkState) -> ResidualPass:
    """Return each sale's effect, the rows that are too far off, and what the others add to the spread."""
    used = _used(lots, settled.dropped)
    chunk, solution = _chunk(used, settled), _solution(settled)
    error = residuals(chunk, solution.coef)
    fine = np.abs(error) <= GROSS_ERROR_SD * np.sqrt(settled.spread.variance(used.head))
    kept = np.delete(np.arange(len(lots)), settled.dropped)
    return ResidualPass(
        effect=_by_sale(used, sale_effects(chunk, solution.coef)),
        wild=kept[~fine],
        spread=spread_sums(error[fine], used.head[fine], used.sale[fine], settled.spread),
    )


def final_pass(lots: Lots, settled: ChunkState) -> FinalPass:
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
    return FinalPass(
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


def _solution(settled: ChunkState) -> Solution:
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
