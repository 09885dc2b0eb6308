"""The fixed-effects fit, sale effects, the price index, Engine."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from slidefit.market.fit.chunk_passes import (
    ChunkState,
    GradeYears,
    LotRows,
    LotSpread,
    all_grade_years,
    final_pass,
    residual_pass,
    spread_of,
    sums_pass,
    year_sums_pass,
)
from slidefit.market.fit.constants import (
    FIRST_CALF_SD,
    FIRST_LOT_SD,
    FIRST_SALE_SD,
    LEVEL_PASSES,
    MARKET_SD,
    MIN_SALE_SD,
    MOST_ROWS,
    SALE_SD_PASSES,
)
from slidefit.market.fit.counts import barn_groups
from slidefit.market.fit.design import Recipe
from slidefit.market.fit.leastsquares import Solution, combine, jackknife_cov, sandwich, solve
from slidefit.market.fit.lots import Lots, LotSource, Span, month_number

Told = TypeVar("Told", contravariant=True)
Found = TypeVar("Found")


class Engine(Protocol):
    """Maps a piece of work over the chunks of a source."""

    def run(
        self, work: Callable[[Lots, Told], Found], source: LotSource, told: Callable[[Span], Told]
    ) -> Iterator[Found]:
        """Yield what ``work`` makes of each chunk, in order of the chunks.

        Parameters
        ----------
        work : function of a chunk's lots and of what it is told. A function of a module, so that it can be sent.
        told : function of a span. What the work on that chunk needs to know.
        """
        ...


FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Progress = Callable[[str], None]

FIRST_SPREAD = LotSpread(FIRST_LOT_SD, FIRST_CALF_SD)
_TOLD_SHARE = 0.05
"""Share of the lots after which a long pass tells how far it is."""
_TOLD_CHUNKS = 20
"""Chunks from which a pass is long."""


@dataclass(frozen=True)
class FixedEffectsFit:
    """The within-sale regression; arrays by sale have shape (sales,).

    Attributes
    ----------
    recipe : Recipe
    solution : Solution. Coefficients in the order of ``recipe.names()``.
    cov_sale, cov_year : arrays, shape (k, k)
        Covariance clustered by sale (CR1), and by leaving out one crop year at a time (CR3).
    level : array [log points]. Price level of each sale, about ``level_mean``.
    level_mean : float [ln $/cwt]
    effect, effect_var : arrays [ln $/cwt]
        The standard calf's log price and its sampling variance; NaN where no lot of the sale was used.
    spread, standard_spread : Spread. Of all lots, and of those of the standard grade.
    dropped : array of int. Rows left out as gross errors, ascending.
    sale_lots : array of int. Lots that were used.
    slope_score, slope_known : arrays. Sum of w x e and of w x^2 in each sale, x the weight [cwt] centered within it.
    grades : GradeYears. Residuals of each grade of the lots by crop year.
    """

    recipe: Recipe
    solution: Solution
    cov_sale: FloatArray
    cov_year: FloatArray
    level: FloatArray
    level_mean: float
    effect: FloatArray
    effect_var: FloatArray
    spread: LotSpread
    standard_spread: LotSpread
    dropped: IntArray
    sale_lots: IntArray
    slope_score: FloatArray
    slope_known: FloatArray
    grades: GradeYears

    @property
    def seen(self) -> IntArray:
        """The sales that a lot was used of, ascending."""
        return np.flatnonzero(np.isfinite(self.effect)).astype(np.int64)


class _Passes:
    """The work of one fit over all chunks, and how far it is; columns of few lots are laid out once for all passes."""

    def __init__(self, source: LotSource, recipe: Recipe, engine: Engine | None, tell: Progress) -> None:
        self.source, self.engine, self.tell = source, engine, tell
        self.spans, self.done = source.spans(), 0
        keep = engine is None and isinstance(source, Lots) and len(source) <= MOST_ROWS
        self.kept = [LotRows.of(lots, recipe) for _, lots in source.pieces()] if keep else None

    def run(
        self, work: Callable[[LotRows, ChunkState], Found], state: Callable[[Span], ChunkState]
    ) -> list[Found]:
        """Return what the work makes of each chunk; long passes tell how many lots are done."""
        self.done += 1
        rows, next_told, found = len(self.source), _TOLD_SHARE, []
        results: Iterator[Found]
        if self.kept is not None:
            results = (work(mine, state(span)) for span, mine in zip(self.spans, self.kept, strict=True))
        elif self.engine is not None:
            results = self.engine.run(partial(_of_lots, work), self.source, state)
        else:
            results = (_of_lots(work, lots, state(span)) for span, lots in self.source.pieces())
        for span, result in zip(self.spans, results, strict=True):
            found.append(result)
            if len(self.spans) >= _TOLD_CHUNKS and span.end_row >= next_told * rows:
                word = f"pass {self.done} of {2 * LEVEL_PASSES + 2}"
                self.tell(f"fitting the slide, {word}: {span.end_row:,} of {rows:,} lots")
                next_told = span.end_row / rows + _TOLD_SHARE
        return found


def _of_lots(work: Callable[[LotRows, ChunkState], Found], lots: Lots, state: ChunkState) -> Found:
    return work(LotRows.of(lots, state.recipe), state)


def fit_fixed_effects(
    source: LotSource,
    recipe: Recipe,
    pull: tuple[FloatArray, FloatArray] | None = None,
    *,
    engine: Engine | None = None,
    progress: Progress | None = None,
) -> FixedEffectsFit:
    """Fit the slide within sales, in passes: row weights, gross errors and the price level settle along the way.

    Every pass maps one piece of work over the chunks and puts what comes back together; no pass holds more of the
    lots than a chunk.

    Parameters
    ----------
    source : LotSource
    recipe : Recipe
    pull : (target, sd), each of shape (k,), optional. Prior of the coefficients, for data too thin to stand alone.
    engine : Engine, optional. Where the chunks are worked on; here by default.
    progress : callable, optional. Told how many lots are done, where there are many.
    """
    passes = _Passes(source, recipe, engine, progress or (lambda _: None))
    level, level_mean, spread = np.zeros(source.sales), 0.0, FIRST_SPREAD
    dropped = np.empty(0, dtype=np.int64)
    solution: Solution | None = None

    def state(span: Span) -> ChunkState:
        first, end = np.searchsorted(dropped, (span.first_row, span.end_row))
        return ChunkState(recipe, spread, level[span.sales], dropped[first:end] - span.first_row, solution)

    for _ in range(LEVEL_PASSES):
        solution = solve(combine(passes.run(sums_pass, state)), pull)
        looks = passes.run(residual_pass, state)
        wild = [look.wild + span.first_row for span, look in zip(passes.spans, looks, strict=True)]
        dropped = np.union1d(dropped, np.concatenate(wild))
        spread = spread_of((look.spread for look in looks), spread)
        level, level_mean = _levels(np.concatenate([look.effect for look in looks]), source.sale_rows)
    sums = combine(passes.run(year_sums_pass, state))
    solution = solve(sums, pull)
    finals = passes.run(final_pass, state)
    by_sale = {
        name: np.concatenate([getattr(part, name) for part in finals])
        for name in ("effect", "row_weight", "lots", "slope_score", "slope_known")
    }
    sales = int((by_sale["lots"] > 0).sum())
    return FixedEffectsFit(
        recipe=recipe,
        solution=solution,
        cov_sale=sandwich(solution, np.sum([part.meat for part in finals], axis=0), sales),
        cov_year=jackknife_cov(solution, sums),
        level=level,
        level_mean=level_mean,
        effect=by_sale["effect"],
        effect_var=1.0 / np.maximum(by_sale["row_weight"], 1e-12),
        spread=spread,
        standard_spread=spread_of((part.standard for part in finals), spread),
        dropped=dropped,
        sale_lots=by_sale["lots"],
        slope_score=by_sale["slope_score"],
        slope_known=by_sale["slope_known"],
        grades=all_grade_years(part.grades for part in finals),
    )


def _levels(effect: FloatArray, rows: IntArray) -> tuple[FloatArray, float]:
    """Return each sale's price level about the mean over lots, and that mean [ln $/cwt]."""
    seen = np.isfinite(effect)
    mean = float(effect[seen] @ rows[seen] / rows[seen].sum())
    return np.nan_to_num(effect - mean), mean


@dataclass(frozen=True)
class PriceIndex:
    """Log price of the standard calf by sale and by month, barns brought to one level.

    Attributes
    ----------
    sale_day : array of int, shape (s,). Days since 1970-01-01, ascending.
    sale_log : array, shape (s,) [ln $/cwt]. Each sale's standard calf, less its market's offset.
    market_offset : array, shape (markets,) [log points]
        Each market against all of them together (weighted by sales).
    month : array of int, shape (m,). Months since 1970-01, without gaps from first to last.
    month_log : array, shape (m,) [ln $/cwt]. NaN in a month without a sale.
    month_var : array, shape (m,). Sampling variance of ``month_log``.
    month_sales : array of int, shape (m,)
    sale_sd : float [log points]. Spread of sales within a month, beyond what their lots explain.
    """

    sale_day: IntArray
    sale_log: FloatArray
    market_offset: FloatArray
    month: IntArray
    month_log: FloatArray
    month_var: FloatArray
    month_sales: IntArray
    sale_sd: float

    @property
    def lots_var(self) -> float:
        """What lots explain of a sale's variance around its month, in a usual month."""
        sale = self.month_var * self.month_sales
        return max(float(np.nanmedian(sale)) - self.sale_sd**2, 0.0)


def price_index(lots: LotSource, fit: FixedEffectsFit) -> PriceIndex:
    """Return the index of the standard calf: a_sale = month + market + sale noise, by weighted least squares.

    A sale weighs 1 / (its sampling variance + sale_sd^2), sale_sd by the method of moments. Months are free and
    markets random with spread ``MARKET_SD`` (Henderson's mixed-model equations), so that markets that never sold in
    the same month are taken to stand at one level instead of at none.
    """
    sale, effect, sampling = fit.seen, fit.effect[fit.seen], fit.effect_var[fit.seen]
    day, market = lots.sale_day[sale], lots.sale_market[sale]
    month = month_number(day)
    first, last = int(month.min()), int(month.max())
    place, size = month - first, last - first + 1
    offset = np.zeros(len(lots.markets))
    sale_sd = FIRST_SALE_SD
    group = barn_groups(len(offset), market, month)
    for _ in range(SALE_SD_PASSES):
        weight = 1.0 / (sampling + sale_sd**2)
        offset = _market_offsets(
            size * group[market] + place, market, weight, effect, (size * (int(group.max()) + 1), len(offset))
        )
        level, total = _ratio(place, weight, effect - offset[market], size)
        error = effect - level[place] - offset[market]
        sale_sd = _between_sales(error, sampling, place, size)
    order = np.argsort(day, kind="stable")
    return PriceIndex(
        sale_day=day[order],
        sale_log=(effect - offset[market])[order],
        market_offset=offset,
        month=np.arange(first, last + 1),
        month_log=np.where(total > 0, level, np.nan),
        month_var=np.where(total > 0, 1.0 / np.maximum(total, 1e-12), np.nan),
        month_sales=np.bincount(place, minlength=size),
        sale_sd=sale_sd,
    )


def _market_offsets(
    place: IntArray, market: IntArray, weight: FloatArray, effect: FloatArray, shape: tuple[int, int]
) -> FloatArray:
    """Return each market's offset, months free and markets random; their mean over the sales is zero.

    Months are free in each group of barns, so that barns of two groups are not held against each other.
    """
    months, markets = shape
    if markets == 1:
        return np.zeros(1)
    cell = place * markets + market
    shares = np.bincount(cell, weight, months * markets).reshape(shape)
    money = np.bincount(cell, weight * effect, months * markets).reshape(shape)
    each = np.maximum(shares.sum(axis=1, keepdims=True), 1e-300)
    left = np.diag(shares.sum(axis=0) + 1.0 / MARKET_SD**2) - shares.T @ (shares / each)
    right = money.sum(axis=0) - shares.T @ (money.sum(axis=1, keepdims=True) / each)[:, 0]
    offset = np.linalg.solve(left, right)
    return np.asarray(offset - np.average(offset, weights=np.bincount(market, minlength=markets)))


def _ratio(
    place: IntArray, weight: FloatArray, value: FloatArray, size: int
) -> tuple[FloatArray, FloatArray]:
    """Return the weighted mean of ``value`` in each place (zero where there is none) and the weights' sum."""
    top = np.bincount(place, weight * value, size).astype(float)
    bottom = np.bincount(place, weight, size).astype(float)
    return np.divide(top, bottom, out=np.zeros(size), where=bottom > 0), bottom


def _between_sales(error: FloatArray, sampling: FloatArray, place: IntArray, size: int) -> float:
    """Return the spread of sales around their month by moments, from months of two sales or more."""
    count = np.bincount(place, minlength=size)
    many = count[place] >= 2
    spare = float(count[count >= 2].sum() - (count >= 2).sum())
    if spare < 3:
        return FIRST_SALE_SD
    share = (count[place] - 1.0) / count[place]
    excess = float((error[many] ** 2).sum() - (sampling * share)[many].sum())
    return max(float(np.sqrt(max(excess, 0.0) / spare)), MIN_SALE_SD)
