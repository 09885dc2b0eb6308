"""How far the slide itself wanders from sale to sale around its fitted curve, and where it stands now."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from slidefit.market.lots import LotSource
from slidefit.market.within import WithinFit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DEFAULT_DRIFT_CWT = 0.016
MIN_SALES = 40
NOW_MIN_WEEKS = 100
DAYS_PER_WEEK = 7
FIRST_WEEK_AR = 0.9
LONGEST_WEEK_AR = 0.999


@dataclass(frozen=True)
class SaleSlopes:
    """How far each sale's slide lay from the fitted one.

    Attributes
    ----------
    sale : array of int, shape (s,)
        Sales with lots of different weights, ascending.
    slope : array, shape (s,) [log points per cwt]
    variance : array, shape (s,)
        Sampling variance of ``slope``.
    """

    sale: IntArray
    slope: FloatArray
    variance: FloatArray


@dataclass(frozen=True)
class DriftNow:
    """Where the slide stands on the last day against the fitted one, and how sure that is.

    Attributes
    ----------
    slope : float [log points per cwt]
    sd : float
    week_ar : float
        Share of a deviation that is left a week later; NaN where it was not estimated.
    stationary_sd : float [log points per cwt]
    """

    slope: float
    sd: float
    week_ar: float
    stationary_sd: float


def sale_slopes(fit: WithinFit) -> SaleSlopes:
    """Return the regression of each sale's residuals on weight, with sampling variance 1 / sum w (x - mean)^2."""
    known = fit.slope_known
    sale = np.flatnonzero(known > 0).astype(np.int64)
    return SaleSlopes(sale, fit.slope_score[sale] / known[sale], 1.0 / known[sale])


def slide_drift(fit: WithinFit) -> float:
    """Return the standard deviation of one sale's slide around the fitted one [log points per cwt].

    The mean square of the sales' slopes less their sampling variance, each sale weighing by what it knows. Under 40
    sales it is .016, as measured on real records.
    """
    found = sale_slopes(fit)
    if len(found.sale) < MIN_SALES:
        return DEFAULT_DRIFT_CWT
    share = 1.0 / (found.variance + DEFAULT_DRIFT_CWT**2) ** 2
    excess = float(((found.slope**2 - found.variance) * share).sum() / share.sum())
    return float(np.sqrt(max(excess, 0.0)))


def drift_now(lots: LotSource, fit: WithinFit) -> DriftNow:
    """Return how far today's slide lies from the fitted one, by a first-order autoregression of the sales' slopes.

        d_t = a^(weeks) d_{t-1} + step,   slope of a week's sales = d_t + N(0, sampling variance)

    with a and the spread of d by maximum likelihood and d_today by the Kalman filter. Under 100 weeks with sales
    nothing is estimated: d is zero, give or take `slide_drift`.

    References
    ----------
    Harvey (1989), Forecasting, Structural Time Series Models and the Kalman Filter, sec. 3.2.
    """
    found = sale_slopes(fit)
    week = lots.sale_day[found.sale] // DAYS_PER_WEEK
    weeks, place = np.unique(week, return_inverse=True)
    usual = slide_drift(fit)
    if len(weeks) < NOW_MIN_WEEKS or usual == 0.0:
        return DriftNow(0.0, usual, float("nan"), usual)
    know = np.bincount(place, 1.0 / found.variance)
    slope, variance = np.bincount(place, found.slope / found.variance) / know, 1.0 / know
    apart = np.diff(weeks).astype(float)

    def misfit(free: FloatArray) -> float:
        return -_filter(slope, variance, apart, *_settings(free))[2]

    start = np.array([np.log(FIRST_WEEK_AR / (1.0 - FIRST_WEEK_AR)), np.log(usual)])
    best = minimize(
        misfit, start, method="Nelder-Mead", options={"xatol": 1e-2, "fatol": 1e-3, "maxiter": 120}
    )
    week_ar, sd = _settings(best.x)
    now, now_variance, _ = _filter(slope, variance, apart, week_ar, sd)
    return DriftNow(float(now), float(np.sqrt(now_variance)), float(week_ar), float(sd))


def _settings(free: FloatArray) -> tuple[float, float]:
    return LONGEST_WEEK_AR / (1.0 + float(np.exp(-free[0]))), float(np.exp(np.clip(free[1], -12.0, 0.0)))


def _filter(
    slope: FloatArray, variance: FloatArray, apart: FloatArray, week_ar: float, sd: float
) -> tuple[float, float, float]:
    """Return the last filtered state, its variance, and the log likelihood (constant left out)."""
    state, spread, likelihood = 0.0, sd**2, 0.0
    carried = [1.0, *(week_ar**apart).tolist()]
    for keep, seen, noise in zip(carried, slope.tolist(), variance.tolist(), strict=True):
        state, spread = keep * state, keep**2 * spread + (1.0 - keep**2) * sd**2
        error, total = seen - state, spread + noise
        likelihood -= 0.5 * (np.log(total) + error**2 / total)
        state, spread = state + spread / total * error, spread * noise / total
    return state, spread, float(likelihood)
