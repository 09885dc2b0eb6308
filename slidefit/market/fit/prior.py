"""The prior of a market's slide, the usual one or a region's, and of grades with few lots: their neighbors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from slidefit.market.fit.chunk_passes import GradeYears
from slidefit.market.fit.constants import (
    DEFAULT_DRIFT_CWT,
    FURTHEST_LEVEL,
    GRADE_NEAR,
    GRADE_SLOPE_SD,
    GRADES_SD,
    HEAD_SLOPE_SD,
    HEIGHT_SD,
    LENT_GRADE_SD,
    MARKETS_BEND_SD,
    SETTLED_COUNT,
    SHARED_STRAY,
    STRAY_WEEKS,
    UNKNOWN_SD,
    USUAL_HEAD_SLOPE,
    USUAL_HEIFER_HEIGHT,
    USUAL_SLIDE,
    USUAL_SLIDE_SD,
)
from slidefit.market.fit.design import Recipe, scaled_weight
from slidefit.market.fit.lots import LotSource
from slidefit.market.months import EPOCH
from slidefit.market.outlook import STANDARD_WEIGHT_LB, Outlook, SexCurve
from slidefit.minimum import zero_between

FloatArray = NDArray[np.float64]

_FRAMES = {"S": 1.0, "M": 2.0, "L": 3.0}


@dataclass(frozen=True)
class SlidePrior:
    """What a market's slide at 550 lb is taken for before its own lots speak [log points per cwt].

    Attributes
    ----------
    target, error_sd : float
        The region's slide at the market's price level, and its own error (the usual slide has none of its own).
    between_sd : float. How far slides of markets differ.
    kin : float
        1/J for the region's J markets, less twice the market's own part in it: the variance of the market against
        the region is between_sd^2 (1 + kin).
    stray_sd : float. Straying, over the weeks seen, of the market's slide from its own long run.
    shared : float. Covariance of that straying with the region's error: barns stray together.
    level_slope : float. What a log point of price level adds to the region's slide.
    """

    target: float
    error_sd: float
    between_sd: float
    kin: float
    stray_sd: float
    shared: float
    level_slope: float = 0.0

    @property
    def var(self) -> float:
        """Variance of the market's long-run slide about the target."""
        return self.error_sd**2 + self.between_sd**2 * max(1.0 + self.kin, 0.0)

    @property
    def _shared(self) -> float:
        return min(self.shared, 0.9 * min(self.var, self.stray_sd**2))

    @property
    def seen_var(self) -> float:
        """Variance about the target of the slide that the lots followed, straying and all."""
        return self.var + self.stray_sd**2 - 2.0 * self._shared

    @property
    def lasting(self) -> float:
        """Share of that slide's departure from the target which is the market's own and not the weeks'."""
        return (self.var - self._shared) / self.seen_var


@dataclass(frozen=True)
class PooledSlope:
    """One sex's slide at 550 lb, from its own lots and pooled with its prior [log points per cwt, negative].

    With own slope y of variance s^2 over weeks that stray by v from the long run, and a target m of variance Q,

        seen   = (y / s^2 + m / P) / (1 / s^2 + 1 / P),    P = Q + v^2 - 2 c
        pooled = m + (Q - c) / P (seen - m),               var = Q - (Q - c)^2 / P + ((Q - c) / P)^2 var(seen)

    c being what straying and target share: the best linear unbiased prediction of the market's long-run slide.

    ``own`` and ``own_sd`` are by the lots alone, the error that of these weeks.

    References
    ----------
    Efron and Morris (1975), Data analysis using Stein's estimator, JASA 70; Robinson (1991), That BLUP is a good thing,
    Statistical Science 6(1).

    Examples
    --------
    Independent errors, a region as sure as can be: each counts by the inverse of its variance.

    >>> prior = SlidePrior(-0.10, 0.0, 0.015, 0.0, 0.0, 0.0)
    >>> half = PooledSlope("steer", -0.14, 0.015, 120, prior)
    >>> round(half.pooled, 3), round(half.share, 2), round(half.sd, 4)
    (-0.12, 0.5, 0.0106)
    """

    sex: str
    own: float
    own_sd: float
    lots: int
    prior: SlidePrior

    @property
    def seen(self) -> tuple[float, float]:
        """The slide of the weeks seen, and its variance."""
        known, before = 1.0 / self.own_sd**2, 1.0 / self.prior.seen_var
        return (self.own * known + self.prior.target * before) / (known + before), 1.0 / (known + before)

    @property
    def share(self) -> float:
        """Share of the market's own slide in the pooled one."""
        return self.prior.lasting * self.prior.seen_var / (self.prior.seen_var + self.own_sd**2)

    @property
    def pooled(self) -> float:
        """The market's long-run slide."""
        return self.prior.target + self.share * (self.own - self.prior.target)

    @property
    def sd(self) -> float:
        """One standard error of `pooled`."""
        return float(np.sqrt(self.prior.var - self.share * self.prior.lasting * self.prior.seen_var))

    @property
    def total_sd(self) -> float:
        """One standard error of `own` as the long-run slide: of the lots, and of the weeks' straying."""
        return float(np.hypot(self.own_sd, self.prior.stray_sd))


def slide_prior(
    lots: LotSource, sex: str, defaults: Outlook | None, level_mean: float | None = None
) -> SlidePrior:
    """Return a sex's prior for some lots: the slide of ``defaults``, or the usual one.

    The weeks seen let the slide stray by stray^2 min(1, 11.5 / weeks), the variance of the mean of an autoregression of
    .84 a week. The region strayed in its own weeks likewise; the weeks in common tie the two at .68, and at 1 where the
    lots are the region's own.

    Parameters
    ----------
    level_mean : float [ln $/cwt], optional
        Mean price of the standard calf in the lots, which carries the region's slide to their level.
    """
    first, last = int(lots.sale_day.min()), int(lots.sale_day.max())
    weeks = (last - first) / 7.0 + 1.0
    curve = defaults.curves.get(sex) if defaults is not None else None
    if curve is None or defaults is None:
        stray = _stray(DEFAULT_DRIFT_CWT, weeks)
        return SlidePrior(USUAL_SLIDE[sex], 0.0, USUAL_SLIDE_SD, 0.0, stray, 0.0)
    basis = defaults.basis
    whole = float(np.interp(STANDARD_WEIGHT_LB, curve.weights_lb, curve.slope_sd_cwt))
    error = float(np.sqrt(max(whole**2 - curve.stray_cwt**2, 0.0)))
    there = float(defaults.log_index([defaults.as_of])[0])
    away = 0.0 if level_mean is None else level_mean - there
    target = curve_slope(curve) + curve.level_slope * float(np.clip(away, -FURTHEST_LEVEL, FURTHEST_LEVEL))
    ours = set(lots.markets) <= set(basis.markets)
    begins, ends = ((day - EPOCH).days for day in (basis.first_sale, basis.last_sale))
    their_weeks = (ends - begins) / 7.0 + 1.0
    common = max((min(last, ends) - max(first, begins)) / 7.0 + 1.0, 0.0)
    part = min(len(lots) / max(basis.lots, 1), 1.0) * min(common / weeks, 1.0) if ours else 0.0
    stray = _stray(curve.stray_cwt, weeks)
    theirs = min(_stray(curve.stray_cwt, their_weeks), error)
    together = SHARED_STRAY + (1.0 - SHARED_STRAY) * part
    shared = together * stray * theirs * common / float(np.sqrt(weeks * their_weeks))
    kin = 1.0 / max(len(basis.markets), 1) - 2.0 * part
    return SlidePrior(target, error, curve.between_cwt, kin, stray, shared, curve.level_slope)


def _stray(sd_cwt: float, weeks: float) -> float:
    return float(sd_cwt * np.sqrt(min(1.0, STRAY_WEEKS / weeks)))


def curve_slope(curve: SexCurve) -> float:
    """Return the mean year's slope over 100 lb around 550 lb, inside the weights seen [log points per cwt]."""
    middle = float(np.clip(STANDARD_WEIGHT_LB, curve.low_lb, curve.high_lb))
    ends = np.clip([middle - 50.0, middle + 50.0], curve.low_lb, curve.high_lb)
    low, high = np.interp(ends, curve.weights_lb, curve.log_relative.mean(axis=0))
    return float((high - low) / (ends[1] - ends[0]) * 100.0)


def thin_prior(
    recipe: Recipe, slides: Sequence[SlidePrior], defaults: Outlook | None
) -> tuple[FloatArray, FloatArray]:
    """Return the prior (target, sd) of thin records' coefficients, each of shape (k,), their weeks' straying included.

    Without defaults: the usual slide, straight (`constants.USUAL_SLIDE` has what it is and why). With a region's: its
    curve of the mean year as a parabola, its bend give or take .5 points.
    """
    first = recipe.sexes[0]
    prior = {"ln head": (defaults.head_slope if defaults else USUAL_HEAD_SLOPE, HEAD_SLOPE_SD)}
    prior |= {f"grade {grade}:weight": (0.0, GRADE_SLOPE_SD) for grade in recipe.grades}
    lent = (
        {sex: parabola(defaults.curves[sex]) for sex in recipe.sexes if sex in defaults.curves}
        if defaults
        else {}
    )
    for sex, slide in zip(recipe.sexes, slides, strict=True):
        prior[f"{sex}:weight0"] = slide.target, float(np.sqrt(slide.seen_var))
        if sex in lent:
            prior[f"{sex}:weight1"] = lent[sex][1], MARKETS_BEND_SD
            if first in lent:
                prior[sex] = lent[sex][0] - lent[first][0], HEIGHT_SD
    if "heifer" in recipe.sexes:
        prior.setdefault("heifer", (USUAL_HEIFER_HEIGHT, HEIGHT_SD))
    known = np.array([prior.get(name, (0.0, np.inf)) for name in recipe.names()])
    return known[:, 0], known[:, 1]


def parabola(curve: SexCurve) -> tuple[float, float]:
    """Return a sex's mean year as height and bend at 550 lb [log points]."""
    inside = (curve.weights_lb >= curve.low_lb) & (curve.weights_lb <= curve.high_lb)
    year = curve.log_relative[:, inside].mean(axis=0)
    height, _, bend = np.polynomial.polynomial.polyfit(scaled_weight(curve.weights_lb[inside]), year, 2)
    return float(height), float(bend)


def pooled_coef(
    coef: FloatArray,
    cov: FloatArray,
    gradients: FloatArray,
    lines: FloatArray,
    slopes: Sequence[PooledSlope],
    *,
    thin: bool,
) -> tuple[FloatArray, FloatArray]:
    """Return coefficients and covariance whose slides at 550 lb are the pooled ones.

    Records that stand alone are first conditioned on the slide of their weeks, which thin ones are by their fit; then
    the weeks' straying is taken off each sex's straight line.

    Parameters
    ----------
    gradients, lines : arrays, shape (m, k)
        A row for each slope: the function of the coefficients that it is, and the column of its straight line.
    """
    for g, line, slope in zip(gradients, lines, slopes, strict=True):
        seen, seen_var = slope.seen
        if not thin:
            spread = float(g @ cov @ g)
            gain = cov @ g / spread
            coef = coef + gain * (seen - g @ coef)
            cov = cov - np.outer(gain, gain) * (spread - seen_var)
        prior = slope.prior
        kept = np.eye(len(coef)) - (1.0 - prior.lasting) * np.outer(line, g)
        coef = coef - line * (1.0 - prior.lasting) * (g @ coef - prior.target)
        cov = kept @ cov @ kept.T + np.outer(line, line) * (prior.var - prior.lasting**2 * prior.seen_var)
    return coef, cov


def between_sd(own: ArrayLike, error_cov: ArrayLike, usual: float) -> float:
    """Return how far true values differ, by Paule and Mandel's equation, settled with two values' worth of a usual one.

    The tau^2 at which (y - mean)' (C + tau^2 I)^-1 (y - mean) = J - 1, zero where even tau = 0 leaves less; then

        tau^2 = ((J - 1) tau_PM^2 + 2 usual^2) / (J - 1 + 2)

    since a few can look alike by luck. C is the covariance of the errors, shape (j, j).

    References
    ----------
    Paule and Mandel (1982), Consensus values and weighting factors, J. Research NBS 87(5);
    DerSimonian and Kacker (2007), Contemporary Clinical Trials 28(2), sec. 2.
    """
    y = np.asarray(own, dtype=float)
    known, turn = np.linalg.eigh(np.asarray(error_cov, dtype=float))
    turned, ones, spare = turn.T @ y, turn.sum(axis=0), len(y) - 1

    def excess(variance: float) -> float:
        weight = 1.0 / (known + variance)
        left = turned - ones * ((weight * ones) @ turned / ((weight * ones) @ ones))
        return float((weight * left) @ left - spare)

    moment = 0.0
    if spare > 0 and excess(0.0) > 0.0:
        top = float(np.ptp(y) ** 2 + 1e-12)
        while excess(top) > 0.0:
            top *= 2.0
        moment = zero_between(excess, 0.0, top, within=1e-12)
    return float(
        np.sqrt((max(spare, 0) * moment + SETTLED_COUNT * usual**2) / (max(spare, 0) + SETTLED_COUNT))
    )


def grade_steps(grade: str) -> tuple[float, float]:
    """Return a grade's frame (small 1, medium 2, large 3) and muscle number; not a number where it names none.

    >>> grade_steps("ML 1-2"), grade_steps("3")
    ((2.5, 1.5), (nan, 3.0))
    """
    letters = [_FRAMES[c] for c in grade.upper() if c in _FRAMES]
    digits = [float(c) for c in grade if c.isdecimal()]
    return (float(np.mean(letters)) if letters else np.nan), (float(np.mean(digits)) if digits else np.nan)


def with_own_grades(
    recipe: Recipe,
    coef: FloatArray,
    cov: FloatArray,
    grades: Sequence[str],
    sums: GradeYears,
    defaults: Outlook | None = None,
) -> tuple[Recipe, FloatArray, FloatArray]:
    """Return the model with a discount for each grade that was fitted pooled with others.

    The lots of grade g lie r_g off their pool's curve, with error s_g. Departures of grades a step of frame or muscle
    apart go together, so that a grade with few lots leans on its neighbors and not on one number for all:

        T_gh = tau^2 .5^(steps apart),   departure = m + T (T + S)^-1 (r - m),   var = T - T (T + S)^-1 T

    tau by `between_sd`. m is zero, or what a region's file says of the grade, give or take 3 points.

    Parameters
    ----------
    grades, sums : sequence of str, GradeYears. Of the lots, in the order of ``recipe.grade_of``, and their residuals.
    """
    thin = [i for i, g in enumerate(grades) if recipe.grades[recipe.grade_of[i]] != g]
    if not thin:
        return recipe, coef, cov
    found = np.array([sums.whole(i) for i in thin])
    cells = [recipe.grades[recipe.grade_of[i]] for i in thin]
    known = np.isfinite(found[:, 1])
    r, s = np.where(known, found[:, 0], 0.0), np.where(known, found[:, 1], UNKNOWN_SD)
    tau = between_sd(r[known], np.diag(s[known] ** 2), GRADES_SD) if known.any() else GRADES_SD
    m, T = np.zeros(len(thin)), tau**2 * _nearness([grades[i] for i in thin])
    at = {name: place for place, name in enumerate(recipe.names())}
    for row, (i, cell) in enumerate(zip(thin, cells, strict=True)):
        lent = _lent_offset(defaults, grades[i], recipe.grades[0])
        if lent is not None:
            m[row] = lent - (coef[at[f"grade {cell}"]] if f"grade {cell}" in at else 0.0)
            T[row], T[:, row] = 0.0, 0.0
            T[row, row] = LENT_GRADE_SD**2
    gain = T @ np.linalg.inv(T + np.diag(s**2))
    shift, var = m + gain @ (r - m), np.diag(T - gain @ T)
    own = [g for g in recipe.grades[1:] if g in grades]
    names = (recipe.grades[0], *own, *(grades[i] for i in thin))
    cell_of = dict(zip(grades, recipe.grade_of, strict=True))
    wider = replace(
        recipe,
        grades=names,
        grade_of=tuple(names.index(g) for g in grades),
        level_grades=tuple(recipe.level_grades[cell_of[g]] for g in names),
    )
    carry = pooled_columns(recipe, wider, grades)
    added, added_var = np.zeros(len(carry)), np.zeros(len(carry))
    for row, i in enumerate(thin):
        place = wider.names().index(f"grade {grades[i]}")
        added[place], added_var[place] = shift[row], var[row]
    return wider, carry @ coef + added, carry @ cov @ carry.T + np.diag(added_var)


def pooled_columns(recipe: Recipe, wider: Recipe, grades: Sequence[str]) -> FloatArray:
    """Return C, shape (k wider, k): coefficients b of grades fitted pooled are C b in the model of each grade."""
    cells = {grade: recipe.grades[place] for grade, place in zip(grades, recipe.grade_of, strict=True)}
    pooled = {
        column.format(grade): column.format(cell)
        for grade, cell in cells.items()
        for column in ("grade {}", "grade {}:weight", "level:grade {}")
    }
    at = {name: place for place, name in enumerate(recipe.names())}
    carry = np.zeros((len(wider.names()), len(at)))
    for place, name in enumerate(wider.names()):
        carry[place, at[pooled.get(name, name)]] = 1.0
    return carry


def _nearness(grades: Sequence[str]) -> FloatArray:
    """Return how departures of grades go together, shape (g, g): a grade that names no frame or muscle stands alone."""
    steps = np.array([grade_steps(grade) for grade in grades])
    apart = np.abs(steps[:, None] - steps[None]).sum(axis=2)
    near = np.where(np.isfinite(apart), GRADE_NEAR ** np.nan_to_num(apart), 0.0)
    np.fill_diagonal(near, 1.0)
    return np.asarray(near)


def _lent_offset(defaults: Outlook | None, grade: str, standard: str) -> float | None:
    """Return a region's offset of a grade against ours of the standard, None where it lacks either [log points]."""
    lent = defaults.grades if defaults is not None else {}
    return lent[grade].log_offset - lent[standard].log_offset if grade in lent and standard in lent else None
