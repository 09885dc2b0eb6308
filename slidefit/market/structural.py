"""The structural time series of the standard calf's price: a wandering level, a fixed season, noise; week by week."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import accumulate
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from slidefit.market.fit.design import harmonics as harmonics_at
from slidefit.market.fit.lots import month_number
from slidefit.market.months import MID_MONTH_DAY, MONTHS, month_weights
from slidefit.minimum import lowest_between

if TYPE_CHECKING:
    from statsmodels.tsa.statespace.structural import UnobservedComponents

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DAYS_PER_WEEK = 7
_WEEKS_PER_MONTH = 365.25 / 12.0 / DAYS_PER_WEEK
_WEEKS_PER_YEAR = 365.25 / DAYS_PER_WEEK
WALK_PRIOR_MONTHS = 6
DEFAULT_WALK_SD = 0.04
_LOG_RATIO_BOUNDS = (-14.0, 8.0)
"""Of the walk's weekly variance to the noise's: from a level that stands still to one without noise."""
_LOG_RATIO_STEP = 0.1
"""Over so short a way the likelihood is a parabola: its vertex lies within .001 of a search's (tested)."""


@dataclass(frozen=True)
class Structural:
    """What the weekly prices say of the level and the season on the last day.

    Attributes
    ----------
    level_log, level_sd : float
        ln($/cwt) of the standard calf on the last day, season taken out, and the standard error of its price that day.
    season : array, shape (12,) [log points]. At the middle of each calendar month, mean zero.
    season_cov : array, shape (12, 12)
    walk_sd_month : float [log points]
    noise_sd : float [log points]. Of one sale around the level and the season: its own and that of its lots.
    innovations : array, shape (w,)
        One-step errors over their standard errors, of each week with a sale after the first.
    """

    level_log: float
    level_sd: float
    season: FloatArray
    season_cov: FloatArray
    walk_sd_month: float
    noise_sd: float
    innovations: FloatArray


@dataclass(frozen=True)
class _Changes:
    """Changes between the weeks with a sale: of the price and the season's waves (n, 1 + p), and weeks apart (n,)."""

    both: FloatArray
    weeks: FloatArray

    def solved(self, ratio: float) -> _Solved:
        """Return the waves that fit best by generalised least squares, given the walk's variance over the noise's.

        Cov(changes) = noise^2 (ratio diag(weeks) + tridiagonal(-1, 2, -1)) = noise^2 L D L'.
        """
        diagonal = (2.0 + ratio * self.weeks).tolist()
        pivot = np.array(list(accumulate(diagonal, lambda above, own: own - 1.0 / above)))
        ahead = forward(pivot, self.both)
        price, waves = ahead[:, 0], ahead[:, 1:]
        weighted = waves.T / pivot
        known = weighted @ waves
        wave = np.linalg.solve(known, weighted @ price)
        error = price - waves @ wave
        spare = len(self.weeks) - len(wave)
        noise_var = float(error @ (error / pivot)) / spare
        size = float(np.log(pivot).sum()) + float(np.linalg.slogdet(known)[1])
        return _Solved(pivot, wave, known, error, noise_var, spare * np.log(noise_var) + size)


@dataclass(frozen=True)
class _Solved:
    """A solution: D of the covariance, waves and their information, L^-1 errors, noise variance, -2 log likelihood."""

    pivot: FloatArray
    wave: FloatArray
    known: FloatArray
    error: FloatArray
    noise_var: float
    misfit: float


def forward(pivot: FloatArray, values: FloatArray) -> FloatArray:
    """Return L^-1 values, shape (n, k), with ones in L and -1 / pivot under them: sums over spans doubled each time.

    scipy.linalg does the same, and takes a quarter of a second to load.

    >>> forward(np.array([2.0, 2.0, 2.0]), np.ones((3, 1))).ravel()
    array([1.  , 1.5 , 1.75])
    """
    out, share = values.copy(), np.append(0.0, 1.0 / pivot[:-1])[:, None]
    span = 1
    while span < len(out):
        out[span:] += share[span:] * out[:-span]
        share[span:] *= share[:-span].copy()
        span *= 2
    return out


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

    The changes of y from sale week to sale week have a tridiagonal covariance, so that their restricted likelihood is
    exact in as many steps as there are weeks. It is the diffuse likelihood of the Kalman filter, whose last level is
    y less the season and less the best guess of the last noise. The walk's variance is settled with that of 6 months
    of the usual 4 percent a month: a short history can look calm by luck.

    Parameters
    ----------
    day, log_price : arrays, shape (s,). Of each sale, ascending.
    harmonics : int. Waves a year, 0 to 2.

    Notes
    -----
    Weeks, not months: the mean of a month is smoother than the walk it is taken of (its change has two thirds of the
    walk's variance), and read as if it were the walk itself it makes prices look calmer than they are.

    References
    ----------
    Harvey (1989), Forecasting, Structural Time Series Models and the Kalman Filter, sec. 2.3 and 4.3; Patterson and
    Thompson (1971), Biometrika 58(3), restricted likelihood; Working (1960), Note on the correlation of first
    differences of averages in a random chain, Econometrica 28(4).
    """
    y = weekly_means(day, log_price)
    seen = np.flatnonzero(np.isfinite(y))
    days_on = np.asarray(DAYS_PER_WEEK * (seen - len(y) + 1.0), dtype=np.float64)
    waves = harmonics_at(days_on, harmonics)
    changes = _Changes(np.diff(np.column_stack([y[seen], waves]), axis=0), np.diff(seen).astype(float))
    log_ratio = lowest_between(
        lambda free: changes.solved(float(np.exp(free))).misfit, _LOG_RATIO_BOUNDS, within=_LOG_RATIO_STEP
    )
    ratio = float(np.exp(log_ratio))
    found = changes.solved(ratio)
    months = len(np.unique(month_number(day)))
    usual = DEFAULT_WALK_SD**2 / _WEEKS_PER_MONTH
    walk_var = (months * ratio * found.noise_var + WALK_PRIOR_MONTHS * usual) / (months + WALK_PRIOR_MONTHS)
    noise_var = found.noise_var
    found = changes.solved(walk_var / noise_var)
    last_noise = np.cumprod(1.0 / found.pivot[::-1])[::-1]
    wave_cov = noise_var * np.linalg.inv(found.known) if harmonics else np.zeros((0, 0))
    through = changes.both[:, 1:].T @ last_noise
    last = int(day[-1])
    months_on = harmonics_at(mid_months(last) - last, harmonics)
    months_on = months_on - months_on.mean(axis=0)
    season = months_on @ found.wave
    today = np.datetime64(last, "D").astype(date)
    return Structural(
        level_log=float(y[-1] - found.error[-1] / found.pivot[-1] - month_weights([today])[0] @ season),
        level_sd=float(np.sqrt(noise_var * (1.0 - last_noise[-1]) + through @ wave_cov @ through)),
        season=season,
        season_cov=months_on @ wave_cov @ months_on.T,
        walk_sd_month=float(np.sqrt(walk_var * _WEEKS_PER_MONTH)),
        noise_sd=float(np.sqrt(noise_var * _sales_a_week(day))),
        innovations=found.error / np.sqrt(noise_var * found.pivot),
    )


def as_statsmodels(day: IntArray, log_price: FloatArray, harmonics: int) -> UnobservedComponents:
    """Return the same model for statsmodels, not yet fitted: 100 times the weekly mean logs, centered.

    ``fit()`` of what comes back gives statsmodels' own estimates, tests and plots of the level, the season and noise;
    its walk is not settled with the usual one as `fit_structural`'s is.
    """
    from statsmodels.tsa.statespace.structural import UnobservedComponents

    y = weekly_means(day, log_price)
    waves = [{"period": _WEEKS_PER_YEAR, "harmonics": harmonics}] if harmonics else None
    return UnobservedComponents(
        100.0 * (y - np.nanmean(y)),
        level="local level",
        freq_seasonal=waves,
        stochastic_freq_seasonal=[False] if harmonics else None,
    )


def _sales_a_week(day: IntArray) -> float:
    """Return the usual sales of a week that has any: the harmonic mean, as the variance of a mean goes by it."""
    count = np.bincount((day - day[-1]) // DAYS_PER_WEEK - (day[0] - day[-1]) // DAYS_PER_WEEK)
    return float(1.0 / np.mean(1.0 / count[count > 0]))


def mid_months(last_day: int) -> FloatArray:
    """Return the middle of each calendar month of the last day's year, shape (12,) [days since 1970-01-01]."""
    year = np.datetime64(last_day, "D").astype("datetime64[Y]")
    firsts = (year.astype("datetime64[M]") + np.arange(MONTHS)).astype("datetime64[D]").astype(float)
    return np.asarray(firsts + MID_MONTH_DAY - 1)
