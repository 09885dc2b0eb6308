"""Structural change: the slide of each crop year, and grade discounts that jump from one year to the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from slidefit.market.basis import scaled_weight
from slidefit.market.lots import Lots, crop_year
from slidefit.market.slides import SlideModel
from slidefit.market.within import WithinFit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

YEAR_MIN_SALES = 5
YEAR_MIN_LOTS = 60
GRADE_YEAR_LOTS = 40
STEP_LB = 100.0
QUOTED_LB = 550.0
JUMP_LOG = 0.03
JUMP_ERRORS = 4.0


@dataclass(frozen=True)
class YearSlide:
    """The slide of one crop year (July to June) for the standard sex at 550 lb, at that year's price level.

    Attributes
    ----------
    crop_year : int
        Its first calendar year.
    lots, sales : int
    price_cwt : float [$/cwt]
        Of the standard calf, mean over the lots.
    percent_per_cwt, percent_low, percent_high : float
        With a 95 percent interval.
    left_over : float [log points per cwt]
        What the price level and the season don't account for: drift.
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


def _centred(values: FloatArray, weight: FloatArray, lots: Lots) -> FloatArray:
    total = np.maximum(np.bincount(lots.sale, weight, lots.sales), 1e-12)
    return np.asarray(values - (np.bincount(lots.sale, weight * values, lots.sales) / total)[lots.sale])


def _slope(
    z: FloatArray, weight: FloatArray, residual: FloatArray, sale: IntArray
) -> tuple[float, float, int]:
    """Return the regression of residuals on ``z``, its error clustered by sale, and the number of sales."""
    known = float((weight * z**2).sum())
    if known <= 0.0:
        return 0.0, float("inf"), 0
    slope = float((weight * z * residual).sum()) / known
    _, place = np.unique(sale, return_inverse=True)
    scores = np.bincount(place, weight * z * (residual - slope * z))
    sales = len(scores)
    error = float(np.sqrt((scores**2).sum() * sales / max(sales - 1, 1))) / known
    return slope, error, sales


def year_slides(lots: Lots, fit: WithinFit, model: SlideModel) -> tuple[YearSlide, ...]:
    """Return the slide of each crop year with five sales and sixty lots or more.

    The fitted slide at the year's own price level, plus the regression of the year's residuals on weight within sales
    (one shift for all weights and sexes); the interval is of that shift, clustered by sale, with t.
    """
    weight = np.where(fit.kept, 1.0 / fit.spread.variance(lots.head), 0.0)
    x = _centred(scaled_weight(lots.weight_lb), weight, lots)
    residual = np.nan_to_num(fit.residual)
    year = crop_year(lots.sale_day)[lots.sale]
    sex = model.recipe.sexes[0]
    ends = [QUOTED_LB - STEP_LB / 2.0, QUOTED_LB + STEP_LB / 2.0]
    found = []
    for name in np.unique(year):
        mine = (year == name) & fit.kept
        shift, error, sales = _slope(x[mine], weight[mine], residual[mine], lots.sale[mine])
        if sales < YEAR_MIN_SALES or mine.sum() < YEAR_MIN_LOTS:
            continue
        level = float(fit.level[lots.sale[mine]].mean())
        at = model.rows(sex, ends, level=level)
        change = float((at[1] - at[0]) @ model.coef) + shift
        reach = float(stats.t.ppf(0.975, sales - 1)) * error
        percent, low, high = (-100.0 * float(np.expm1(change + side)) for side in (0.0, reach, -reach))
        price = float(np.exp(model.level_mean + level))
        found.append(YearSlide(int(name), int(mine.sum()), sales, price, percent, low, high, shift))
    return tuple(found)


def grade_jumps(lots: Lots, fit: WithinFit) -> tuple[GradeJump, ...]:
    """Return the grades whose discount moved by over 3 percent, and four errors, from one crop year to the next.

    A year's discount is the fitted one at that year's price level plus the mean residual of the grade against the
    other lots of its sales. Grades pooled with others are judged together.
    """
    recipe = fit.recipe
    names = recipe.names()
    weight = np.where(fit.kept, 1.0 / fit.spread.variance(lots.head), 0.0)
    residual = np.nan_to_num(fit.residual)
    year = crop_year(lots.sale_day)[lots.sale]
    place_of = np.array(recipe.grade_of)[lots.grade]
    jumps = []
    for place, grade in enumerate(recipe.grades[1:], start=1):
        z = _centred((place_of == place).astype(float), weight, lots)
        plain, moves = (
            float(fit.solution.coef[names.index(name)]) if name in names else 0.0
            for name in (f"grade {grade}", f"level:grade {grade}")
        )
        before: tuple[int, float, float] | None = None
        for name in np.unique(year).tolist():
            mine = (year == name) & fit.kept
            if (mine & (place_of == place)).sum() < GRADE_YEAR_LOTS:
                continue
            shift, error, _ = _slope(z[mine], weight[mine], residual[mine], lots.sale[mine])
            log = plain + moves * float(fit.level[lots.sale[mine]].mean()) + shift
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
            f"{year.percent_per_cwt:.1f} ({_season_year(year.crop_year)}, ${year.price_cwt:,.0f})"
            for year in (lowest, highest)
        )
        notes.append(
            f"year by year the slide at {QUOTED_LB:.0f} lb lay between {low} and {high} percent per cwt"
        )
    for jump in jumps:
        was, now = (-100.0 * float(np.expm1(log)) for log in (jump.before, jump.after))
        notes.append(
            f"the discount of grade {jump.grade} went from {was:.0f} to {now:.0f} percent in "
            f"{_season_year(jump.crop_year)}: a jump like that is mostly a change in how grades are reported; "
            "fit later years alone (--since) to price that grade"
        )
    return tuple(notes)


def _season_year(first: int) -> str:
    return f"{first}-{(first + 1) % 100:02d}"
