"""SlideModel: price by weight with its interval; its drift from sale to sale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from slidefit.distributions import NORMAL_975, student_quantile
from slidefit.errors import FitError
from slidefit.facts import Setting, Text
from slidefit.market.fit.constants import DEFAULT_DRIFT_CWT, DRIFT_MIN_SALES, NOW_MIN_WEEKS
from slidefit.market.fit.design import LB_PER_CWT, Recipe, design, one_calf
from slidefit.market.fit.fixed_effects import FixedEffectsFit
from slidefit.market.fit.lots import LotSource, day_of_year
from slidefit.market.months import MONTHS
from slidefit.market.outlook import BEYOND_DATA_LB
from slidefit.minimum import lowest_around

FloatArray = NDArray[np.float64]

CONFIDENCE = 0.95
STEP_LB = 100.0
USUAL_WEIGHTS_LB = (450.0, 550.0, 650.0, 750.0)
MONTH_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class ErrorRule:
    """How the standard errors were made.

    Attributes
    ----------
    kind : str. ``crop year`` or ``sale``: what the errors are clustered by.
    groups : int. Number of clusters; intervals use t with one less.
    inflation : float
        Factor on the standard errors, for the drift that a short history can't show; 1 with enough crop years.
    """

    kind: str
    groups: int
    inflation: float

    def reach(self, confidence: float = CONFIDENCE) -> float:
        """Return the half-width of an interval in standard errors of the plain covariance."""
        return self.inflation * student_quantile(max(self.groups - 1, 1), 0.5 + confidence / 2.0)


@dataclass(frozen=True)
class Support:
    """What was seen of one sex: its rows, and the central 99 percent of head by weight [lb]."""

    low_lb: float
    high_lb: float
    rows: int
    head: int


@dataclass(frozen=True)
class DriftNow:
    """Where the slide stands on the last day against the fitted one, and how sure that is.

    Attributes
    ----------
    slope, sd : float [log points per cwt]
    week_ar : float. Share of a deviation that is left a week later; NaN where it was not estimated.
    stationary_sd : float [log points per cwt]
    """

    slope: float = 0.0
    sd: float = 0.0
    week_ar: float = 0.0
    stationary_sd: float = 0.0


@dataclass(frozen=True)
class SlideModel:
    """The within-sale regression, as much of it as reading the slide takes.

    Attributes
    ----------
    recipe : Recipe
    coef, cov : arrays, shapes (k,) and (k, k)
    rule : ErrorRule
    level_mean : float [ln $/cwt]. Mean level over the lots: the standard calf's.
    level_now : float [log points]. Level at the last sales, about ``level_mean``.
    level_range : (float, float) [log points]. Lowest and highest level seen; the slide's level is held inside.
    unseen_months : tuple of int
    support : mapping of sex to Support
    now : DriftNow. How far today's slide lies from the fitted one.
    """

    recipe: Recipe
    coef: FloatArray
    cov: FloatArray
    rule: ErrorRule
    level_mean: float
    level_now: float
    level_range: tuple[float, float]
    unseen_months: tuple[int, ...]
    support: Mapping[str, Support]
    now: DriftNow = DriftNow()

    def held_level(self, level: float) -> float:
        """Return the level, held inside those seen."""
        return float(np.clip(level, *self.level_range))

    def rows(
        self,
        sex: str,
        weight_lb: ArrayLike,
        *,
        month: int | None = None,
        level: float = 0.0,
        grade: ArrayLike = 0,
    ) -> FloatArray:
        """Return regression rows of plain lots, shape (n, k); ``month`` None is the mean of the year."""
        day = 0.0 if month is None else mid_month_day(month)
        calves = one_calf(self.recipe, sex, weight_lb, grade=grade, day=day, level=self.held_level(level))
        return design(self.recipe, calves, season=month is not None)

    def by_month(self, sex: str, weight_lb: FloatArray) -> FloatArray:
        """Return the log price against the standard calf at today's level in each month, shape (12, n)."""
        days = np.array([mid_month_day(month) for month in range(1, MONTHS + 1)])
        weights, day = np.tile(weight_lb, MONTHS), np.repeat(days, len(weight_lb))
        calves = one_calf(self.recipe, sex, weights, day=day, level=self.held_level(self.level_now))
        return np.asarray(design(self.recipe, calves) @ self.coef).reshape(MONTHS, -1)


def mid_month_day(month: int) -> float:
    """Return the day of the year of the 15th of a month (of a year without a leap day)."""
    return float(day_of_year(np.array([f"2025-{month:02d}-15"], dtype="datetime64[D]").astype(np.int64))[0])


def slide_rows(
    model: SlideModel,
    *,
    sexes: Sequence[str] | None = None,
    weights_lb: Sequence[float] | None = None,
    months: Sequence[int | None] | None = None,
    allow_unseen: bool = False,
) -> list[dict[str, Any]]:
    """Return the slide: the fall of price over 100 lb around each weight, with a 95 percent interval.

        percent = 100 (1 - p(w + 50) / p(w - 50)),   dollars = p(w - 50) percent / 100

    Parameters
    ----------
    sexes : sequence of str, optional. All that were fitted.
    weights_lb : sequence of float [lb], optional
        Middles of the steps; 450, 550, 650 and 750 where the data reach them.
    months : sequence of int or None, optional. Calendar months; None is the mean of the year.

    Returns
    -------
    list of dict
        ``sex``, ``from_lb``, ``to_lb``, ``month`` (None: mean of the year); ``percent_per_cwt``, ``percent_low``,
        ``percent_high``, ``price_cwt`` (at ``from_lb``) and ``dollars_per_cwt_per_cwt`` at the records' mean level; and
        ``percent_today``, ``percent_today_low``, ``percent_today_high``, ``price_today_cwt``,
        ``dollars_today``, the same at the level of the last sales and with the slide's drift since (its interval
        allows for that drift). Positive when heavier is cheaper.

    Raises
    ------
    FitError. A sex or a month that was not seen, or a weight over 50 lb outside the data.

    Notes
    -----
    Dollars per cwt per cwt are also cents per lb per cwt, the way a contract's slide is quoted. The slide compares
    different calves sold the same day; it is not what one calf does as it grows through the season.
    """
    wanted = list(sexes or model.recipe.sexes)
    rows = []
    for sex in wanted:
        support = _support(model, sex)
        for weight in (
            weights_lb if weights_lb is not None else usual_weights(support.low_lb, support.high_lb)
        ):
            _check_weight(support, sex, weight)
            for month in months or [None]:
                _check_month(model, month, allow_unseen)
                rows.append(_one_slide(model, sex, float(weight), month))
    return rows


def _one_slide(model: SlideModel, sex: str, weight: float, month: int | None) -> dict[str, Any]:
    ends = [weight - STEP_LB / 2.0, weight + STEP_LB / 2.0]
    row: dict[str, Any] = {"sex": sex, "from_lb": ends[0], "to_lb": ends[1], "month": month}
    step_cwt = STEP_LB / LB_PER_CWT
    of_records = ("percent_per_cwt", "percent_low", "percent_high", "price_cwt", "dollars_per_cwt_per_cwt")
    of_today = (
        "percent_today",
        "percent_today_low",
        "percent_today_high",
        "price_today_cwt",
        "dollars_today",
    )
    settings = (
        (of_records, 0.0, 0.0, 0.0),
        (of_today, model.level_now, model.now.slope * step_cwt, model.now.sd * step_cwt),
    )
    for names, level, drift, drift_sd in settings:
        at = model.rows(sex, ends, month=month, level=level)
        gradient = at[1] - at[0]
        change = float(gradient @ model.coef) + drift
        sampling = model.rule.reach() * float(np.sqrt(gradient @ model.cov @ gradient))
        reach = float(np.hypot(sampling, NORMAL_975 * drift_sd))
        price = float(np.exp(model.level_mean + level + at[0] @ model.coef))
        percent, low, high = (-100.0 * float(np.expm1(change + side)) for side in (0.0, reach, -reach))
        row |= dict(zip(names, (percent, low, high, price, price * percent / 100.0), strict=True))
    return row


def _support(model: SlideModel, sex: str) -> Support:
    if sex not in model.recipe.sexes:
        raise FitError(
            f"the fit has no slide for sex {sex!r}", remedy=f"Use one of: {', '.join(model.recipe.sexes)}."
        )
    return model.support[sex]


def usual_weights(low_lb: float, high_lb: float) -> list[float]:
    """Return the weights that a slide is told at: 450, 550, 650 and 750 lb where the data reach them."""
    half = STEP_LB / 2.0
    inside = [w for w in USUAL_WEIGHTS_LB if low_lb <= w - half and w + half <= high_lb]
    return inside or [round((low_lb + high_lb) / 20.0) * 10.0]


def _check_weight(support: Support, sex: str, weight: float) -> None:
    low, high = support.low_lb - BEYOND_DATA_LB, support.high_lb + BEYOND_DATA_LB
    if not low <= weight - STEP_LB / 2.0 or not weight + STEP_LB / 2.0 <= high:
        raise FitError(
            f"the slide around {weight:,.0f} lb runs over 50 lb outside the weights seen for {sex}s, "
            f"{support.low_lb:,.0f} to {support.high_lb:,.0f} lb",
            where=Text(Setting("weight_lb")),
            remedy=f"Ask for a weight from {low + 50:,.0f} to {high - 50:,.0f} lb.",
        )


def _check_month(model: SlideModel, month: int | None, allow_unseen: bool) -> None:
    if month is None:
        return
    if not 1 <= month <= 12:
        raise FitError(
            f"{month} is not a month", where=Text(Setting("months")), remedy="Give a number from 1 to 12."
        )
    if month in model.unseen_months and model.recipe.season_harmonics and not allow_unseen:
        raise FitError(
            f"no sale was ever seen in {MONTH_NAMES[month - 1]}",
            where=Text(Setting("months")),
            remedy=Text(
                "Leave the month out for the mean of the year, add sales of that month, or read it off the "
                "season's wave with ",
                Setting("allow_unseen"),
                ".",
            ),
        )


IntArray = NDArray[np.int64]

DAYS_PER_WEEK = 7
_FIRST_WEEK_AR = 0.9
_LONGEST_WEEK_AR = 0.999


def sale_slopes(fit: FixedEffectsFit) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return sales with lots of different weights, how far the slide of each lay from the fitted one, and its variance.

    The regression of the sale's residuals on weight [log points per cwt], sampling variance 1 / sum w (x - mean)^2.
    """
    known = fit.slope_known
    sale = np.flatnonzero(known > 0).astype(np.int64)
    return sale, fit.slope_score[sale] / known[sale], 1.0 / known[sale]


def slide_drift(fit: FixedEffectsFit) -> float:
    """Return the standard deviation of one sale's slide around the fitted one [log points per cwt].

    The mean square of the sales' slopes less their sampling variance, each sale weighing by what it knows. Under 40
    sales it is .016, as measured on real records.
    """
    sale, slope, variance = sale_slopes(fit)
    if len(sale) < DRIFT_MIN_SALES:
        return DEFAULT_DRIFT_CWT
    share = 1.0 / (variance + DEFAULT_DRIFT_CWT**2) ** 2
    excess = float(((slope**2 - variance) * share).sum() / share.sum())
    return float(np.sqrt(max(excess, 0.0)))


def drift_now(lots: LotSource, fit: FixedEffectsFit) -> DriftNow:
    """Return how far today's slide lies from the fitted one, by a first-order autoregression of the sales' slopes.

        d_t = a^(weeks) d_{t-1} + step,   slope of a week's sales = d_t + N(0, sampling variance)

    with a and the spread of d by maximum likelihood and d_today by the Kalman filter. Under 100 weeks with sales
    nothing is estimated: d is zero, give or take `slide_drift`.

    References
    ----------
    Harvey (1989), Forecasting, Structural Time Series Models and the Kalman Filter, sec. 3.2.
    """
    sale, each, each_var = sale_slopes(fit)
    week = lots.sale_day[sale] // DAYS_PER_WEEK
    weeks, place = np.unique(week, return_inverse=True)
    usual = slide_drift(fit)
    if len(weeks) < NOW_MIN_WEEKS or usual == 0.0:
        return DriftNow(0.0, usual, float("nan"), usual)
    know = np.bincount(place, 1.0 / each_var)
    slope, variance = np.bincount(place, each / each_var) / know, 1.0 / know
    apart = np.diff(weeks).astype(float)

    def misfit(free: FloatArray) -> float:
        return -_filter(slope, variance, apart, *_settings(free))[2]

    start = np.array([np.log(_FIRST_WEEK_AR / (1.0 - _FIRST_WEEK_AR)), np.log(usual)])
    week_ar, sd = _settings(lowest_around(misfit, start, near=1e-2, alike=1e-3, most_steps=120))
    now, now_variance, _ = _filter(slope, variance, apart, week_ar, sd)
    return DriftNow(float(now), float(np.sqrt(now_variance)), float(week_ar), float(sd))


def _settings(free: FloatArray) -> tuple[float, float]:
    return _LONGEST_WEEK_AR / (1.0 + float(np.exp(-free[0]))), float(np.exp(np.clip(free[1], -12.0, 0.0)))


def _filter(
    slope: FloatArray, variance: FloatArray, apart: FloatArray, week_ar: float, sd: float
) -> tuple[float, float, float]:
    """Return the last filtered state, its variance, and the log likelihood (constant left out)."""
    state, spread, likelihood = 0.0, sd**2, 0.0
    carried = [1.0, *(week_ar**apart).tolist()]
    for keep, seen, noise in zip(carried, slope.tolist(), variance.tolist(), strict=True):
        state, spread = keep * state, keep**2 * spread + (1.0 - keep**2) * sd**2
        error, total = seen - state, spread + noise
        likelihood -= 0.5 * (log(total) + error**2 / total)
        state, spread = state + spread / total * error, spread * noise / total
    return state, spread, likelihood
