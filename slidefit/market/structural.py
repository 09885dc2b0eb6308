"""The structural time series of the standard calf's price: a wandering level, a fixed season, noise; week by week."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from slidefit.market.lots import month_number
from slidefit.market.outlook import MID_MONTH_DAY, MONTHS, month_weights

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DAYS_PER_WEEK = 7
WEEKS_PER_MONTH = 365.25 / 12.0 / DAYS_PER_WEEK
WEEKS_PER_YEAR = 365.25 / DAYS_PER_WEEK
PERCENT = 100.0
USUAL_NOISE_SD = 0.03
WALK_PRIOR_MONTHS = 6
DEFAULT_WALK_SD = 0.04


@dataclass(frozen=True)
class Structural:
    """What the weekly prices say of the level and the season on the last day.

    Attributes
    ----------
    level_log, level_sd : float
        ln($/cwt) of the standard calf on the last day, season taken out, and the standard error of its price that day.
    season : array, shape (12,) [log points]
        At the middle of each calendar month, mean zero.
    season_cov : array, shape (12, 12)
    walk_sd_month : float [log points]
    noise_sd : float [log points]
        Of one sale around the level and the season: its own and that of its lots.
    innovations : array, shape (m,)
        Standardised one-week errors, summed to a standardised one for each month from the first to the last; NaN
        where there is none.
    """

    level_log: float
    level_sd: float
    season: FloatArray
    season_cov: FloatArray
    walk_sd_month: float
    noise_sd: float
    innovations: FloatArray


def weekly_means(day: IntArray, log_price: FloatArray) -> FloatArray:
    """Return the mean log price of each week up to the last day, NaN in a week without a sale.

    Weeks end on the weekday of the last sale, so that the last one holds the last day alone where sales are weekly.
    """
    week = (day - day[-1]) // DAYS_PER_WEEK
    place = week - week[0]
    count = np.bincount(place)
    total = np.bincount(place, log_price)
    return np.asarray(np.divide(total, count, out=np.full(len(count), np.nan), where=count > 0))


def fit_structural(day: IntArray, log_price: FloatArray, harmonics: int) -> Structural:
    """Fit a random-walk level, a season of fixed waves and noise to the weekly means of sales, by maximum likelihood.

        y_w = level_w + season(day_w) + noise,   level_w = level_{w-1} + N(0, walk^2)

    The walk's variance is settled with that of 6 months of the usual 4 percent a month: a short history can look calm
    by luck. Level and season are those of the Kalman filter on the last day.

    Parameters
    ----------
    day, log_price : arrays, shape (s,)
        Of each sale, ascending.
    harmonics : int
        Waves a year, 0 to 2.

    Notes
    -----
    Weeks, not months: the mean of a month is smoother than the walk it is taken of (its change has two thirds of the
    walk's variance), and read as if it were the walk itself it makes prices look calmer than they are.

    References
    ----------
    Durbin and Koopman (2012), Time Series Analysis by State Space Methods, 2nd ed., sec. 3.2; Harvey (1989),
    Forecasting, Structural Time Series Models and the Kalman Filter, sec. 2.3; Working (1960), Note on the
    correlation of first differences of averages in a random chain, Econometrica 28(4).
    """
    from statsmodels.tsa.statespace.structural import UnobservedComponents

    y = weekly_means(day, log_price)
    base = float(np.nanmean(y))
    model = UnobservedComponents(
        PERCENT * (y - base),
        level="local level",
        freq_seasonal=[{"period": WEEKS_PER_YEAR, "harmonics": harmonics}] if harmonics else None,
        stochastic_freq_seasonal=[False] if harmonics else None,
    )
    usual = {"sigma2.irregular": USUAL_NOISE_SD**2, "sigma2.level": DEFAULT_WALK_SD**2 / WEEKS_PER_MONTH}
    start = [PERCENT**2 * usual[name] for name in model.param_names]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        params = np.array(model.fit(start_params=start, disp=0, maxiter=200, return_params=True))
        months = len(np.unique(month_number(day)))
        place = model.param_names.index("sigma2.level")
        settled = months * params[place] + WALK_PRIOR_MONTHS * start[place]
        params[place] = settled / (months + WALK_PRIOR_MONTHS)
        result = model.filter(params, cov_type="none")
    state = np.asarray(result.filtered_state)[:, -1] / PERCENT
    cov = np.asarray(result.filtered_state_cov)[:, :, -1] / PERCENT**2
    last = int(day[-1])
    months_on = _season_rows(_mid_months(last) - last, harmonics)
    months_on = months_on - months_on.mean(axis=0)
    season = months_on @ state[1:]
    today = np.concatenate([[1.0], _season_rows(np.zeros(1), harmonics)[0]])
    season_today = float(month_weights([np.datetime64(last, "D").astype(date)])[0] @ season)
    errors = np.array(result.standardized_forecasts_error[0], dtype=float)
    errors[: len(state)] = np.nan
    return Structural(
        level_log=base + float(today @ state) - season_today,
        level_sd=float(np.sqrt(max(today @ cov @ today, 0.0))),
        season=season,
        season_cov=months_on @ cov[1:, 1:] @ months_on.T,
        walk_sd_month=float(np.sqrt(params[place] * WEEKS_PER_MONTH)) / PERCENT,
        noise_sd=float(np.sqrt(params[model.param_names.index("sigma2.irregular")] * _sales_a_week(day)))
        / PERCENT,
        innovations=_by_month(errors, last),
    )


def _sales_a_week(day: IntArray) -> float:
    """Return the usual sales of a week that has any: the harmonic mean, as the variance of a mean goes by it."""
    count = np.bincount((day - day[-1]) // DAYS_PER_WEEK - (day[0] - day[-1]) // DAYS_PER_WEEK)
    return float(1.0 / np.mean(1.0 / count[count > 0]))


def _mid_months(last_day: int) -> FloatArray:
    """Return the middle of each calendar month of the last day's year, shape (12,) [days since 1970-01-01]."""
    year = np.datetime64(last_day, "D").astype("datetime64[Y]")
    firsts = (year.astype("datetime64[M]") + np.arange(MONTHS)).astype("datetime64[D]").astype(float)
    return np.asarray(firsts + MID_MONTH_DAY - 1)


def _season_rows(days_on: FloatArray, harmonics: int) -> FloatArray:
    """Return what the season is of its state on the last day, days later or before, shape (n, 2 harmonics)."""
    turn = 2.0 * np.pi * np.asarray(days_on, dtype=float) / (DAYS_PER_WEEK * WEEKS_PER_YEAR)
    waves = [wave(k * turn) for k in range(1, harmonics + 1) for wave in (np.cos, np.sin)]
    return np.column_stack(waves) if waves else np.empty((len(turn), 0))


def _by_month(errors: FloatArray, last_day: int) -> FloatArray:
    """Return weekly standardised errors as one for each month: their sum over the root of their number."""
    day = last_day - DAYS_PER_WEEK * np.arange(len(errors) - 1, -1, -1)
    month = month_number(day)
    place = month - month[0]
    seen = np.isfinite(errors)
    count = np.bincount(place[seen], minlength=int(place[-1]) + 1)
    total = np.bincount(place[seen], errors[seen], minlength=len(count))
    return np.asarray(np.divide(total, np.sqrt(count), out=np.full(len(count), np.nan), where=count > 0))
