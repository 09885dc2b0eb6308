"""Stage 1: the slide, from calves compared within one sale, with the price level of the sale in the slide."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from slidefit.market.design import Recipe
from slidefit.market.engines import Engine, HereEngine
from slidefit.market.grade_years import GradeYears, all_grade_years
from slidefit.market.leastsquares import Solution, combine, jackknife_cov, sandwich, solve
from slidefit.market.lot_spread import Spread, spread_of
from slidefit.market.lots import Lots, LotSource, Span
from slidefit.market.passes import Account, Look, Settled, accounted, looked_at, summed

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Progress = Callable[[str], None]
Found = TypeVar("Found")

LEVEL_PASSES = 3
FIRST_SPREAD = Spread(0.04, 0.12)
TOLD_SHARE = 0.05
TOLD_CHUNKS = 20


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

    sale: IntArray
    effect: FloatArray
    variance: FloatArray


@dataclass(frozen=True)
class WithinFit:
    """The within-sale regression; arrays by sale have shape (sales,).

    Attributes
    ----------
    recipe : Recipe
    solution : Solution
        Coefficients in the order of ``recipe.names()``.
    cov_sale, cov_year : arrays, shape (k, k)
        Covariance clustered by sale (CR1), and by leaving out one crop year at a time (CR3).
    level : array [log points]
        Price level of each sale, about ``level_mean``.
    level_mean : float [ln $/cwt]
    effect, effect_var : arrays [ln $/cwt]
        The standard calf's log price and its sampling variance; NaN where no lot of the sale was used.
    spread, standard_spread : Spread
        Of all lots, and of those of the standard grade.
    dropped : array of int
        Rows left out as gross errors, ascending.
    sale_lots : array of int
        Lots that were used.
    slope_score, slope_known : arrays
        Sum of w x e and of w x^2 in each sale, x the weight [cwt] centred within it.
    grades : GradeYears
        Residuals of each grade by crop year.
    """

    recipe: Recipe
    solution: Solution
    cov_sale: FloatArray
    cov_year: FloatArray
    level: FloatArray
    level_mean: float
    effect: FloatArray
    effect_var: FloatArray
    spread: Spread
    standard_spread: Spread
    dropped: IntArray
    sale_lots: IntArray
    slope_score: FloatArray
    slope_known: FloatArray
    grades: GradeYears

    @property
    def effects(self) -> SaleEffects:
        """The standard calf's log price at each sale that a lot was used of."""
        sale = np.flatnonzero(np.isfinite(self.effect))
        return SaleEffects(sale, self.effect[sale], self.effect_var[sale])


@dataclass(frozen=True)
class _Passes:
    """The work of one fit over all chunks, and how far it is."""

    source: LotSource
    engine: Engine
    tell: Progress

    def run(
        self, work: Callable[[Lots, Settled], Found], told: Callable[[Span], Settled], word: str
    ) -> Iterator[Found]:
        """Yield what the work makes of each chunk; long ones tell how many lots are done."""
        spans = self.source.spans()
        rows, next_told = len(self.source), TOLD_SHARE
        for span, found in zip(spans, self.engine.run(work, self.source, told), strict=True):
            yield found
            if len(spans) >= TOLD_CHUNKS and span.end_row >= next_told * rows:
                self.tell(f"fitting the slide, {word}: {span.end_row:,} of {rows:,} lots")
                next_told = span.end_row / rows + TOLD_SHARE


def fit_within(
    source: LotSource,
    recipe: Recipe,
    pull: tuple[FloatArray, FloatArray] | None = None,
    *,
    engine: Engine | None = None,
    progress: Progress | None = None,
) -> WithinFit:
    """Fit the slide within sales, in passes: row weights, gross errors and the price level settle along the way.

    Every pass maps one piece of work over the chunks and puts what comes back together; no pass holds more of the
    lots than a chunk.

    Parameters
    ----------
    source : LotSource
    recipe : Recipe
    pull : (target, sd), each of shape (k,), optional
        Prior of the coefficients, for data too thin to stand alone.
    engine : Engine, optional
        Where the chunks are worked on; here by default.
    progress : callable, optional
        Told how many lots are done, where there are many.
    """
    passes = _Passes(source, engine or HereEngine(), progress or (lambda _: None))
    level, level_mean, spread = np.zeros(source.sales), 0.0, FIRST_SPREAD
    dropped = np.empty(0, dtype=np.int64)
    solution: Solution | None = None

    def settled(span: Span) -> Settled:
        first, end = np.searchsorted(dropped, (span.first_row, span.end_row))
        return Settled(recipe, spread, level[span.sales], dropped[first:end] - span.first_row, solution)

    for turn in range(1, LEVEL_PASSES + 1):
        word = f"pass {2 * turn - 1} of {2 * LEVEL_PASSES + 2}"
        solution = solve(combine(passes.run(summed, settled, word)), pull)
        looks = list(passes.run(looked_at, settled, f"pass {2 * turn} of {2 * LEVEL_PASSES + 2}"))
        dropped = np.union1d(dropped, _wild_rows(source, looks))
        spread = spread_of((look.spread for look in looks), spread)
        level, level_mean = _levels(np.concatenate([look.effect for look in looks]), source.sale_rows)
    word = f"pass {2 * LEVEL_PASSES + 1} of {2 * LEVEL_PASSES + 2}"
    solution = solve(combine(passes.run(summed, settled, word)), pull)
    word = f"pass {2 * LEVEL_PASSES + 2} of {2 * LEVEL_PASSES + 2}"
    accounts = list(passes.run(accounted, settled, word))
    return _finished(recipe, solution, level, level_mean, spread, dropped, accounts)


def _wild_rows(source: LotSource, looks: list[Look]) -> IntArray:
    """Return the rows that the looks would leave out, numbered in the source."""
    return np.concatenate(
        [look.wild + span.first_row for span, look in zip(source.spans(), looks, strict=True)]
    )


def _finished(
    recipe: Recipe,
    solution: Solution,
    level: FloatArray,
    level_mean: float,
    spread: Spread,
    dropped: IntArray,
    accounts: list[Account],
) -> WithinFit:
    by_sale = {
        name: np.concatenate([getattr(a, name) for a in accounts])
        for name in ("effect", "row_weight", "lots", "slope_score", "slope_known")
    }
    sales = int((by_sale["lots"] > 0).sum())
    return WithinFit(
        recipe=recipe,
        solution=solution,
        cov_sale=sandwich(solution, np.sum([a.meat for a in accounts], axis=0), sales),
        cov_year=jackknife_cov(solution, (a.years for a in accounts)),
        level=level,
        level_mean=level_mean,
        effect=by_sale["effect"],
        effect_var=1.0 / np.maximum(by_sale["row_weight"], 1e-12),
        spread=spread,
        standard_spread=spread_of((a.standard for a in accounts), spread),
        dropped=dropped,
        sale_lots=by_sale["lots"],
        slope_score=by_sale["slope_score"],
        slope_known=by_sale["slope_known"],
        grades=all_grade_years(a.grades for a in accounts),
    )


def _levels(effect: FloatArray, rows: IntArray) -> tuple[FloatArray, float]:
    """Return each sale's price level about the mean over lots, and that mean [ln $/cwt]."""
    seen = np.isfinite(effect)
    mean = float(effect[seen] @ rows[seen] / rows[seen].sum())
    return np.nan_to_num(effect - mean), mean
