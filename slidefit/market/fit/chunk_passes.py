"""What one chunk adds: sums, residual pass, final pass, spread, grade by year.

Each is a function of the chunk's lots and of what is settled so far, so that chunks can be worked on anywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.market.fit.constants import GROSS_ERROR_SD, MIN_ROW_SD, USUAL_HEAD
from slidefit.market.fit.design import Recipe, calves_of, design, scaled_weight
from slidefit.market.fit.leastsquares import Chunk, Solution, Sums, sale_scores, summarise
from slidefit.market.fit.lots import Lots, crop_year

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class GradeYears:
    """Sums by crop year and grade, arrays of shape (y, g); z marks a grade's lots, centered within sales.

    Attributes
    ----------
    year : array of int, shape (y,)
    lots : array of int
    score, known : arrays. Sum of w z e and of w z^2.
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
        sales : int. Sales of the year, those without the grade too.
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

    def whole(self, grade: int) -> tuple[float, float]:
        """Return `shift` over all years; its error is never below that of independent lots of the row weights."""
        one = GradeYears(
            *(self.year[:1], *(getattr(self, name).sum(axis=0)[None] for name in _GRADE_SUMS[1:]))
        )
        slope, error = one.shift(0, grade, len(self.year) + 1)
        known = float(one.known[0, grade])
        return slope, max(error, 1.0 / float(np.sqrt(known))) if known > 0.0 else error


def grade_years(
    place: IntArray, sale_year: IntArray, weight: FloatArray, error: FloatArray, sale: IntArray, grades: int
) -> GradeYears:
    """Return the sums of some whole sales.

    Parameters
    ----------
    place, weight, error, sale : arrays, shape (n,)
        Grade, row weight (zero for a lot left out), residual and sale of each lot.
    sale_year : array of int, shape (s,). Crop year of each sale.
    grades : int. Number of grades.
    """
    shape = (len(sale_year), grades)
    cell = sale * grades + place
    mine, pull, lots = (
        np.bincount(cell, values, shape[0] * grades).reshape(shape)
        for values in (weight, weight * error, weight > 0)
    )
    share = mine / np.maximum(mine.sum(axis=1, keepdims=True), 1e-12)
    score = pull - share * pull.sum(axis=1, keepdims=True)
    known = mine * (1.0 - share)
    each = GradeYears(sale_year, lots.astype(np.int64), score, known, score**2, score * known, known**2)
    return all_grade_years([each])


def all_grade_years(parts: Iterable[GradeYears]) -> GradeYears:
    """Return the sums of several sets of sales, a row for each year."""
    found = list(parts)
    year, *sums = (np.concatenate([getattr(part, name) for part in found]) for name in _GRADE_SUMS)
    names, row = np.unique(year, return_inverse=True)
    return GradeYears(names, *(_summed_rows(values, row, len(names)) for values in sums))


def _summed_rows(values: NDArray[Any], row: IntArray, years: int) -> NDArray[Any]:
    out = np.zeros((years, values.shape[1]), dtype=values.dtype)
    np.add.at(out, row, values)
    return out


_GRADE_SUMS = tuple(GradeYears.__dataclass_fields__)


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


def spread_sums(residual: FloatArray, head: FloatArray, sale: IntArray, now: LotSpread) -> FloatArray:
    """Return what some whole sales add to the estimate of their spread: moments of (1, 1 / head, e^2), shape (3, 3).

    Each row counts by the inverse square of its expected variance; e^2 is first raised by n / (n - 1) of its sale for
    the absorbed effect, and a sale of one lot says nothing.

    Parameters
    ----------
    residual, head, sale : arrays, shape (n,)
    now : LotSpread. Gives the weights.
    """
    size = np.bincount(sale)[sale] if len(sale) else sale
    use = size > 1
    inverse = 1.0 / known_head(head[use])
    square = residual[use] ** 2 * size[use] / (size[use] - 1.0)
    rows = np.vstack([np.ones_like(inverse), inverse, square]) / now.variance(head[use])
    return np.asarray(rows @ rows.T)


def spread_of(parts: Iterable[FloatArray], now: LotSpread) -> LotSpread:
    """Return the two variances by weighted least squares of e^2 on (1, 1 / head), neither below zero.

    Where all heads are alike the spread is all the lot's; where no sale has two lots it stays ``now``.
    """
    (one, of_head, lot_only), (_, head_head, calf_only), _ = np.sum(list(parts), axis=0)
    if one == 0.0:
        return now
    apart = one * head_head - of_head**2
    lot, calf = lot_only / one, 0.0
    if apart > ALIKE * one * head_head:
        lot, calf = head_head * lot_only - of_head * calf_only, one * calf_only - of_head * lot_only
        lot, calf = lot / apart, calf / apart
        if calf < 0.0:
            lot, calf = lot_only / one, 0.0
        elif lot < 0.0:
            lot, calf = 0.0, calf_only / head_head
    return LotSpread(float(np.sqrt(lot)), float(np.sqrt(calf)))


ALIKE = 1e-12
"""Share of the moments under which heads are taken as all alike: rounding of sums in double precision."""


@dataclass(frozen=True)
class ChunkState:
    """What is settled of a fit so far, as far as one chunk needs it.

    Attributes
    ----------
    recipe : Recipe
    spread : LotSpread
    level : array, shape (sales of the chunk,) [log points]
    dropped : array of int. Rows of the chunk that were left out as gross errors.
    solution : Solution or None. None before the first.
    """

    recipe: Recipe
    spread: LotSpread
    level: FloatArray
    dropped: IntArray
    solution: Solution | None = None


@dataclass(frozen=True)
class LotRows:
    """Lots with the columns of a recipe, the price level not yet put in: ``columns`` has shape (k, n).

    The last chunk made of them stays: a pass that asks for the same one is given it.
    """

    lots: Lots
    columns: FloatArray
    times_level: NDArray[np.bool_]
    _made: dict[tuple[object, ...], Chunk] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, lots: Lots, recipe: Recipe) -> LotRows:
        """Lay the columns out."""
        columns = design(recipe, calves_of(recipe, lots, np.ones(lots.sales))).T
        return cls(
            lots, columns, np.array([name.startswith("level:") for name in recipe.names()], dtype=bool)
        )

    def chunk(self, level: FloatArray, spread: LotSpread, dropped: IntArray | None = None) -> Chunk:
        """Return the regression's rows; those left out keep their place and weigh nothing."""
        asked = (level.tobytes(), spread, b"" if dropped is None else dropped.tobytes())
        if asked not in self._made:
            columns = self.columns.copy()
            columns[self.times_level] *= level[self.lots.sale]
            weight = 1.0 / spread.variance(self.lots.head)
            if dropped is not None:
                weight[dropped] = 0.0
            self._made.clear()
            self._made[asked] = Chunk(self.lots.log_price, columns.T, weight, self.lots.sale)
        return self._made[asked]


@dataclass(frozen=True)
class ResidualPass:
    """The residuals of a chunk, looked at.

    Attributes
    ----------
    effect : array, shape (sales of the chunk,) [ln $/cwt]. NaN for a sale with no lot left.
    wild : array of int. Rows over eight standard deviations off.
    spread : array, shape (3, 3). `spread_sums` of the others.
    """

    effect: FloatArray
    wild: IntArray
    spread: FloatArray


@dataclass(frozen=True)
class FinalPass:
    """What a chunk says of the finished regression; arrays by sale have shape (sales of the chunk,).

    Attributes
    ----------
    effect : array [ln $/cwt]. NaN for a sale with no lot left.
    row_weight : array. Sum of row weights.
    lots : array of int. Lots that were used.
    slope_score, slope_known : arrays. Sum of w x e and of w x^2, x the weight [cwt] centered within the sale.
    meat : array, shape (k, k). Sum over sales of s s', s the sale's score.
    grades : GradeYears
    standard : array, shape (3, 3). `spread_sums` of the lots of the standard grade.
    """

    effect: FloatArray
    row_weight: FloatArray
    lots: IntArray
    slope_score: FloatArray
    slope_known: FloatArray
    meat: FloatArray
    grades: GradeYears
    standard: FloatArray


def chunks(lots: Lots, recipe: Recipe, level: FloatArray, spread: LotSpread) -> Iterator[Chunk]:
    """Yield the regression's rows a few whole sales at a time; their sales are numbered anew in each."""
    for span, piece in lots.pieces():
        yield LotRows.of(piece, recipe).chunk(level[span.sales], spread)


def sums_pass(rows: LotRows, state: ChunkState) -> Sums:
    """Return the sums of a chunk."""
    return summarise(rows.chunk(state.level, state.spread, state.dropped))


def year_sums_pass(rows: LotRows, state: ChunkState) -> Sums:
    """Return the sums of a chunk by crop year."""
    year = crop_year(rows.lots.sale_day)[rows.lots.sale]
    return summarise(rows.chunk(state.level, state.spread, state.dropped), year)


def residual_pass(rows: LotRows, state: ChunkState) -> ResidualPass:
    """Return each sale's effect, the rows that are too far off, and what the others add to the spread."""
    lots = rows.lots
    chunk = rows.chunk(state.level, state.spread, state.dropped)
    error, effect = _errors(chunk, state, lots.sales)
    used = chunk.row_weight > 0
    fine = np.abs(error) <= GROSS_ERROR_SD * np.sqrt(state.spread.variance(lots.head))
    good = used & fine
    return ResidualPass(
        effect=effect,
        wild=np.flatnonzero(used & ~fine),
        spread=spread_sums(error[good], lots.head[good], lots.sale[good], state.spread),
    )


def final_pass(rows: LotRows, state: ChunkState) -> FinalPass:
    """Return all that the rest of the fit takes from a chunk's lots."""
    lots = rows.lots
    chunk = rows.chunk(state.level, state.spread, state.dropped)
    error, effect = _errors(chunk, state, lots.sales)
    weight = chunk.row_weight

    def by_sale(values: NDArray[Any]) -> FloatArray:
        return np.bincount(lots.sale, values, lots.sales).astype(float)

    x = scaled_weight(lots.weight_lb)
    x = x - (by_sale(weight * x) / np.maximum(by_sale(weight), 1e-12))[lots.sale]
    scores = sale_scores(chunk, _solution(state))
    years, grades = crop_year(lots.sale_day), len(lots.grades)
    standard = (np.array(state.recipe.grade_of)[lots.grade] == 0) & (weight > 0)
    return FinalPass(
        effect=effect,
        row_weight=by_sale(weight),
        lots=by_sale(weight > 0).astype(np.int64),
        slope_score=by_sale(weight * x * error),
        slope_known=by_sale(weight * x**2),
        meat=scores.T @ scores,
        grades=grade_years(lots.grade, years, weight, error, lots.sale, grades),
        standard=spread_sums(error[standard], lots.head[standard], lots.sale[standard], state.spread),
    )


def _solution(state: ChunkState) -> Solution:
    if state.solution is None:
        raise ValueError("nothing is solved yet")
    return state.solution


def _errors(chunk: Chunk, state: ChunkState, sales: int) -> tuple[FloatArray, FloatArray]:
    """Return the residual of every row and the effect of every sale, NaN where none of its lots is used."""
    left = chunk.y - chunk.X @ _solution(state).coef
    weight, money = (
        np.bincount(chunk.sale, values, sales) for values in (chunk.row_weight, chunk.row_weight * left)
    )
    effect = np.divide(money, weight, out=np.full(sales, np.nan), where=weight > 0)
    return left - np.nan_to_num(effect)[chunk.sale], effect
