"""A robust refit beside it; the slide of each crop year."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slidefit.distributions import student_quantile
from slidefit.market.fit.chunk_passes import chunks
from slidefit.market.fit.constants import (
    FOLD_SEED,
    GRADE_YEAR_LOTS,
    HUBER_K,
    JUMP_ERRORS,
    JUMP_LOG,
    MAD_TO_SD,
    MATERIAL_LOG,
    MOST_ROWS,
    NAMED_LOTS,
    ROBUST_SETTLED_LOG,
    ROBUST_STEPS,
    YEAR_MIN_LOTS,
    YEAR_MIN_SALES,
)
from slidefit.market.fit.fixed_effects import FixedEffectsFit
from slidefit.market.fit.leastsquares import Chunk, Reweighted, Solution, combine, residuals, solve
from slidefit.market.fit.lots import SEXES, Lots, LotSource, SampledSales, crop_year, draw_sales
from slidefit.market.fit.slide_model import STEP_LB, USUAL_WEIGHTS_LB, SlideModel

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class RobustFit:
    """The within-sale regression with outlying lots held back, and the plain one, both on some whole sales.

    Attributes
    ----------
    drawn : Drawn. The sales: all of them, up to 200,000 lots.
    of_lots : int. Lots that they were drawn from.
    main : Solution. The plain regression of their lots.
    coef : array, shape (k,)
    trust : array, shape (rows,)
        Huber weight of each lot: 1 for most, less for the outlying; 0 for lots left out of the main fit.
    error : array, shape (rows,) [log points]. Residual of the plain regression, NaN for lots left out.
    """

    drawn: SampledSales
    of_lots: int
    main: Solution
    coef: FloatArray
    trust: FloatArray
    error: FloatArray


@dataclass(frozen=True)
class Disagreement:
    """One step of the slide that the fits read differently [log points]; the drawn rows that do it, worst first."""

    sex: str
    weight_lb: float
    main: float
    robust: float
    rows: tuple[int, ...]


def fit_robust(source: LotSource, fit: FixedEffectsFit) -> RobustFit:
    """Fit the same columns by Huber's method, sale effects included, by reweighting until nothing moves.

    Each lot's weight is multiplied by min(1, k s / |e|), with e its residual in units of its expected spread, s the
    median of |e| / .6745, and k = 1.345. Over 200,000 lots it is done on whole sales at random, always the same ones.

    References
    ----------
    Huber (1964), Robust estimation of a location parameter, Annals of Mathematical Statistics 35(1); Huber and
    Ronchetti (2009), Robust Statistics, 2nd ed., sec. 7.8.
    """
    drawn = draw_sales(source, MOST_ROWS, FOLD_SEED)
    kept = ~np.isin(drawn.row, fit.dropped)
    used, level = drawn.lots.take(kept), fit.level[drawn.sale]

    parts = [Reweighted(chunk) for chunk in chunks(used, fit.recipe, level, fit.spread)]
    trust = [np.ones(len(part.chunk.y)) for part in parts]
    solution = main = _solved(parts, trust)
    limit = np.inf
    for _ in range(ROBUST_STEPS):
        sizes = [_sizes(part.chunk, t, solution) for part, t in zip(parts, trust, strict=True)]
        trust = [np.minimum(1.0, limit / np.maximum(size, 1e-12)) for size in sizes]
        after = _solved(parts, trust)
        moved = float(np.max(np.abs(after.coef - solution.coef), initial=0.0))
        settled = np.isfinite(limit) and moved < ROBUST_SETTLED_LOG
        solution, limit = after, HUBER_K * float(np.median(np.concatenate(sizes))) / MAD_TO_SD
        if settled:
            break
    whole, error = np.zeros(len(kept)), np.full(len(kept), np.nan)
    whole[kept] = np.minimum(1.0, limit / np.maximum(np.concatenate(sizes), 1e-12))
    error[kept] = np.concatenate([residuals(part.chunk, main.coef) for part in parts])
    return RobustFit(drawn, len(source), main, solution.coef, whole, error)


def _solved(parts: list[Reweighted], trust: list[FloatArray]) -> Solution:
    return solve(combine(part.sums(mine) for part, mine in zip(parts, trust, strict=True)))


def _sizes(chunk: Chunk, trust: FloatArray, solution: Solution) -> FloatArray:
    """Return |e| of each row in units of its spread, the sale effects being those of the rows as trusted."""
    error = residuals(replace(chunk, row_weight=chunk.row_weight * trust), solution.coef)
    return np.asarray(np.abs(error) * np.sqrt(chunk.row_weight))


def disagreements(fit: FixedEffectsFit, robust: RobustFit, model: SlideModel) -> tuple[Disagreement, ...]:
    """Return the usual steps of the slide where the fits differ by over the main one's 95 percent reach and .2 points.

    The lots named are those whose held-back residual moved the main fit most there: c' (X'WX)^-1 x w e (1 - trust).
    """
    found, plain = [], replace(model, recipe=fit.recipe)
    for sex in model.recipe.sexes:
        support = model.support[sex]
        for weight in USUAL_WEIGHTS_LB:
            ends = [weight - STEP_LB / 2.0, weight + STEP_LB / 2.0]
            if not support.low_lb <= ends[0] or not ends[1] <= support.high_lb:
                continue
            error, gradient = (np.diff(each.rows(sex, ends), axis=0)[0] for each in (model, plain))
            main, other = float(gradient @ robust.main.coef), float(gradient @ robust.coef)
            reach = model.rule.reach() * float(np.sqrt(error @ model.cov @ error))
            if abs(main - other) > max(reach, MATERIAL_LOG):
                rows = _culprits(fit, robust, gradient, main - other)
                found.append(Disagreement(sex, weight, main, other, rows))
    return tuple(found)


def _culprits(fit: FixedEffectsFit, robust: RobustFit, gradient: FloatArray, gap: float) -> tuple[int, ...]:
    kept = np.isfinite(robust.error)
    used, level = robust.drawn.lots.take(kept), fit.level[robust.drawn.sale]
    toward = robust.main.bread @ gradient
    pulls = np.concatenate([c.X @ toward * c.row_weight for c in chunks(used, fit.recipe, level, fit.spread)])
    mean = np.bincount(used.sale, pulls, used.sales) / np.maximum(used.sale_rows, 1)
    push = (pulls - mean[used.sale]) * robust.error[kept] * (1.0 - robust.trust[kept]) * np.sign(gap)
    rows = np.flatnonzero(kept)
    return tuple(int(rows[i]) for i in np.argsort(-push)[:NAMED_LOTS] if push[i] > 0)


def robust_notes(robust: RobustFit, found: tuple[Disagreement, ...]) -> tuple[str, ...]:
    """Return where the fits disagree and the lots that do it, in words, and on how many sales that was looked at."""
    lots = robust.drawn.lots
    notes = []
    if len(lots) < robust.of_lots:
        notes.append(
            f"outlying lots were looked for in {lots.sales:,} whole sales drawn at random, {len(lots):,} of "
            f"{robust.of_lots:,} lots" + ("" if found else ", and do not bend the slide there")
        )
    for gap in found:
        main, other = (-100.0 * float(np.expm1(log)) for log in (gap.main, gap.robust))
        told = "; ".join(_lot(lots, row) for row in gap.rows)
        notes.append(
            f"{gap.sex}s around {gap.weight_lb:.0f} lb: {main:.1f} percent per cwt, but {other:.1f} with outlying lots "
            f"held back; check {told}"
        )
    return tuple(notes)


def _lot(lots: Lots, row: int) -> str:
    sale = lots.sale[row]
    day = np.datetime64(int(lots.sale_day[sale]), "D")
    market = lots.markets[lots.sale_market[sale]]
    place = f", {market}" if market else ""
    price = float(np.exp(lots.log_price[row]))
    return f"{day}{place}, {SEXES[lots.sex[row]]} {lots.weight_lb[row]:,.0f} lb at ${price:,.2f}"


_QUOTED_LB = 550.0
"""Weight that a year's slide is told at: the standard calf's."""


@dataclass(frozen=True)
class YearSlide:
    """The slide of one crop year (July to June) for the standard sex at 550 lb, at that year's price level.

    Attributes
    ----------
    crop_year : int. Its first calendar year.
    lots, sales : int
    price_cwt : float [$/cwt]. Of the standard calf, mean over the lots.
    percent_per_cwt, percent_low, percent_high : float. With a 95 percent interval.
    left_over : float [log points per cwt]. What the price level and the season don't account for: drift.
    """

    crop_year: int
    lots: int
    sales: int
    price_cwt: float
    percent_per_cwt: float
    percent_low: float
    percent_high: float
    left_over: float


@dataclass(frozen=True)
class GradeJump:
    """A grade's discount that changed at once: ``before`` and ``after`` are log points against the standard."""

    grade: str
    crop_year: int
    before: float
    after: float


def year_slides(lots: LotSource, fit: FixedEffectsFit, model: SlideModel) -> tuple[YearSlide, ...]:
    """Return the slide of each crop year with five sales and sixty lots or more.

    The fitted slide at the year's own price level, plus the regression of the year's residuals on weight within sales
    (one shift for all weights and sexes); the interval is of that shift, clustered by sale, with t.
    """
    year = crop_year(lots.sale_day)
    sex = model.recipe.sexes[0]
    ends = [_QUOTED_LB - STEP_LB / 2.0, _QUOTED_LB + STEP_LB / 2.0]
    found = []
    for name in np.unique(year):
        mine = (year == name) & (fit.sale_lots > 0)
        sales, rows = int(mine.sum()), int(fit.sale_lots[mine].sum())
        if sales < YEAR_MIN_SALES or rows < YEAR_MIN_LOTS:
            continue
        shift, error = _shift(fit.slope_score[mine], fit.slope_known[mine])
        level = _mean_level(fit, mine)
        at = model.rows(sex, ends, level=level)
        change = float((at[1] - at[0]) @ model.coef) + shift
        reach = student_quantile(sales - 1, 0.975) * error
        percent, low, high = (-100.0 * float(np.expm1(change + side)) for side in (0.0, reach, -reach))
        price = float(np.exp(model.level_mean + level))
        found.append(YearSlide(int(name), rows, sales, price, percent, low, high, shift))
    return tuple(found)


def _shift(score: FloatArray, known: FloatArray) -> tuple[float, float]:
    """Return the regression of residuals on weight from each sale's sums, and its error clustered by sale."""
    whole = float(known.sum())
    if whole <= 0.0:
        return 0.0, float("inf")
    slope = float(score.sum()) / whole
    sales = len(score)
    square = float(((score - slope * known) ** 2).sum())
    return slope, float(np.sqrt(square * sales / max(sales - 1, 1))) / whole


def _mean_level(fit: FixedEffectsFit, sales: NDArray[np.bool_]) -> float:
    """Return the mean price level over the lots of some sales [log points]."""
    return float(fit.level[sales] @ fit.sale_lots[sales] / fit.sale_lots[sales].sum())


def grade_jumps(lots: LotSource, fit: FixedEffectsFit) -> tuple[GradeJump, ...]:
    """Return the grades whose discount moved by over 3 percent, and four errors, from one crop year to the next.

    A year's discount is the fitted one at that year's price level plus the mean residual of the grade against the
    other lots of its sales.
    """
    names = fit.recipe.names()
    year = crop_year(lots.sale_day)
    jumps = []
    for place, grade in enumerate(lots.grades):
        cell = fit.recipe.grades[fit.recipe.grade_of[place]]
        if cell == fit.recipe.grades[0]:
            continue
        plain, moves = (
            float(fit.solution.coef[names.index(name)]) if name in names else 0.0
            for name in (f"grade {cell}", f"level:grade {cell}")
        )
        before: tuple[int, float, float] | None = None
        for row, name in enumerate(fit.grades.year.tolist()):
            if fit.grades.lots[row, place] < GRADE_YEAR_LOTS:
                continue
            mine = (year == name) & (fit.sale_lots > 0)
            shift, error = fit.grades.shift(row, place, int(mine.sum()))
            log = plain + moves * _mean_level(fit, mine) + shift
            if before is not None and before[0] == name - 1:
                size, noise = abs(log - before[1]), float(np.hypot(error, before[2]))
                if size > JUMP_LOG and size > JUMP_ERRORS * noise:
                    jumps.append(GradeJump(grade, int(name), before[1], log))
            before = (name, log, error)
    return tuple(jumps)


def year_notes(years: tuple[YearSlide, ...], jumps: tuple[GradeJump, ...]) -> tuple[str, ...]:
    """Return what changed over the years, in words."""
    notes = []
    if len(years) >= 2:
        lowest = min(years, key=lambda y: y.percent_per_cwt)
        highest = max(years, key=lambda y: y.percent_per_cwt)
        low, high = (
            f"{year.percent_per_cwt:.1f}% per cwt ({_season_year(year.crop_year)}, at ${year.price_cwt:,.0f}/cwt)"
            for year in (lowest, highest)
        )
        notes.append(f"the slide at {_QUOTED_LB:.0f} lb, year by year: lowest {low}; highest {high}")
    for jump in jumps:
        was, now = (-100.0 * float(np.expm1(log)) for log in (jump.before, jump.after))
        notes.append(
            f"the discount of grade {jump.grade} went from {was:.0f} to {now:.0f} percent in "
            f"{_season_year(jump.crop_year)}: a jump like that mostly comes from a new way to report grades; "
            "to price that grade, fit later years alone"
        )
    return tuple(notes)


def _season_year(first: int) -> str:
    return f"{first}-{(first + 1) % 100:02d}"
