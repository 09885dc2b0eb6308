"""Structural change: the slide of each crop year, and grade discounts that jump from one year to the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from slidefit.market.lots import LotSource, crop_year
from slidefit.market.slides import SlideModel
from slidefit.market.within import WithinFit

FloatArray = NDArray[np.float64]

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


def year_slides(lots: LotSource, fit: WithinFit, model: SlideModel) -> tuple[YearSlide, ...]:
    """Return the slide of each crop year with five sales and sixty lots or more.

    The fitted slide at the year's own price level, plus the regression of the year's residuals on weight within sales
    (one shift for all weights and sexes); the interval is of that shift, clustered by sale, with t.
    """
    year = crop_year(lots.sale_day)
    sex = model.recipe.sexes[0]
    ends = [QUOTED_LB - STEP_LB / 2.0, QUOTED_LB + STEP_LB / 2.0]
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
        reach = float(stats.t.ppf(0.975, sales - 1)) * error
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


def _mean_level(fit: WithinFit, sales: NDArray[np.bool_]) -> float:
    """Return the mean price level over the lots of some sales [log points]."""
    return float(fit.level[sales] @ fit.sale_lots[sales] / fit.sale_lots[sales].sum())


def grade_jumps(lots: LotSource, fit: WithinFit) -> tuple[GradeJump, ...]:
    """Return the grades whose discount moved by over 3 percent, and four errors, from one crop year to the next.

    A year's discount is the fitted one at that year's price level plus the mean residual of the grade against the
    other lots of its sales. Grades pooled with others are judged together.
    """
    names = fit.recipe.names()
    year = crop_year(lots.sale_day)
    jumps = []
    for place, grade in enumerate(fit.recipe.grades[1:], start=1):
        plain, moves = (
            float(fit.solution.coef[names.index(name)]) if name in names else 0.0
            for name in (f"grade {grade}", f"level:grade {grade}")
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
