"""Level and season by a structural time series; the season table."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from slidefit.market.fit.fixed_effects import MIN_SALE_SD, PriceIndex
from slidefit.market.fit.lots import month_number
from slidefit.market.outlook import DAYS_PER_MONTH, MID_MONTH_DAY, MONTHS, NORMAL_975, Outlook, month_weights

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


USUAL_DRIFT_SD = 0.015
DRIFT_PRIOR_MONTHS = 18
DRIFT_HORIZONS = range(2, 10)
MIN_DRIFT_PAIRS = 12
UNKNOWN_SEASON_SD = 0.05
MARKETS_SEASON_SD = 0.02
MIN_WALK_CHANGES = 12
TWO_HARMONICS_MONTHS = 9
ONE_HARMONIC_MONTHS = 6
LEVEL_SALES = 3
LEVEL_WINDOW_DAYS = 45


@dataclass(frozen=True)
class Season:
    """The season of the standard calf and how the level wanders.

    Attributes
    ----------
    log : array, shape (12,) [log points]
        Mid-month season, mean zero over the calendar months.
    cov : array, shape (12, 12)
        Covariance of its estimates.
    harmonics : int
        0 where the records can't show a season: ``log`` is then zero and ``cov`` a wide guess.
    walk_sd_month, drift_sd_month : float [log points]
    level_day : int
        Day (since 1970-01-01) that the level holds for: the last sale.
    level_log, level_sd : float
        ln($/cwt) of the standard calf then, the season taken out, and its standard error.
    notes : tuple of str
    sale_sd : float [log points]
        Spread of a sale around the level and the season, beyond what its lots explain.
    innovations : array, shape (m,)
        Standardised one-step errors by month, NaN where there is none; empty without a season.
    borrowed : bool
        Whether the season is a region's, since the records show none.
    """

    log: FloatArray
    cov: FloatArray
    harmonics: int
    walk_sd_month: float
    drift_sd_month: float
    level_day: int
    level_log: float
    level_sd: float
    notes: tuple[str, ...]
    sale_sd: float
    innovations: FloatArray = field(default_factory=lambda: np.empty(0))
    borrowed: bool = False


def months_seen_twice(index: PriceIndex) -> int:
    """Return how many calendar months were seen in two years or more; one year alone can't tell season from trend."""
    seen = index.month[np.isfinite(index.month_log)]
    return int((np.bincount(seen % MONTHS, minlength=MONTHS) >= 2).sum())


def fit_season(index: PriceIndex, defaults: Outlook | None = None) -> Season:
    """Fit a random-walk level, a fixed season and noise to the index, week by week (see `structural.fit_structural`).

    The season has two waves (one, or none, where the calendar is thinly seen). There is no trend in the mean: its
    uncertainty stands in ``drift_sd_month`` (see `drift_sd`). A history too short for a season takes that of
    ``defaults``, with 2 percent a month more for how far the seasons of markets differ (our judgement, no source).
    Under a year of monthly changes nothing is fitted: today's level is the mean of the last three sales.
    """
    twice = months_seen_twice(index)
    changes = int(np.isfinite(index.month_log).sum()) - 1
    harmonics = 2 if twice >= TWO_HARMONICS_MONTHS else 1 if twice >= ONE_HARMONIC_MONTHS else 0
    few = (
        f"only {twice} calendar month{'s were' if twice > 1 else ' was'}"
        if twice
        else "no calendar month was"
    )
    thin = f"{few} seen in two years or more"
    innovations = np.empty(0)
    if harmonics == 0 or changes < MIN_WALK_CHANGES:
        harmonics = 0
        log, cov, notes = _season_from(defaults, thin)
    else:
        notes = (f"{thin}: the season is a single wave",) if harmonics == 1 else ()
    if changes < MIN_WALK_CHANGES:
        walk, note = _usual_walk(changes, defaults)
        level, level_sd = _level_of_last_sales(index, log, walk)
        notes, sale_sd = (*notes, *note), index.sale_sd
    else:
        lent = _season_at(index.sale_day, log) if harmonics == 0 else 0.0
        found = fit_structural(index.sale_day, index.sale_log - lent, harmonics)
        walk, level, level_sd = found.walk_sd_month, found.level_log, found.level_sd
        sale_sd = float(np.sqrt(max(found.noise_sd**2 - index.lots_var, MIN_SALE_SD**2)))
        if harmonics:
            log, cov, innovations = found.season, found.season_cov, found.innovations
    drift = drift_sd(index, log, walk)
    borrowed = harmonics == 0 and defaults is not None
    day = int(index.sale_day[-1])
    return Season(
        log, cov, harmonics, walk, drift, day, level, level_sd, notes, sale_sd, innovations, borrowed
    )


def _season_at(day: IntArray, season_log: FloatArray) -> FloatArray:
    return np.asarray(month_weights(day.astype("datetime64[D]").tolist()) @ season_log)


def _season_from(defaults: Outlook | None, thin: str) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Return the season that the records can't show and its covariance: a region's, or none at all, and the note."""
    if defaults is None:
        note = (
            f"{thin}: prices are carried forward with no season, and the range allows for one of about "
            f"{UNKNOWN_SEASON_SD:.0%}"
        )
        return np.zeros(MONTHS), UNKNOWN_SEASON_SD**2 * np.eye(MONTHS), (note,)
    note = f"{thin}: the season is that of {defaults.basis.source}, give or take {MARKETS_SEASON_SD:.0%} a month more"
    return defaults.season_log, defaults.season_cov + MARKETS_SEASON_SD**2 * np.eye(MONTHS), (note,)


def _usual_walk(changes: int, defaults: Outlook | None) -> tuple[float, tuple[str, ...]]:
    """Return how far the level wanders in a month where the records can't tell, and the note on it."""
    walk = DEFAULT_WALK_SD if defaults is None else defaults.walk_sd_month
    where = "as on longer records" if defaults is None else f"as {defaults.basis.source} says"
    return walk, (
        f"sales in {changes + 1} month{'s' if changes else ''} are too few to tell how far prices wander: "
        f"{walk:.0%} a month is assumed, "
        f"{where}",
    )


def drift_sd(index: PriceIndex, season_log: FloatArray, walk: float) -> float:
    """Return the spread of the level's unseen trend [log points a month], from changes over two to nine months.

    A walk's change over h months has variance walk^2 h; a trend that lasts adds tau^2 h^2. So, z being the monthly
    index less its season, v its sampling variance and n the usual sales of a month,

        tau^2 = mean over h of (mean (z_{m+h} - z_m)^2 - 2 v - walk^2 (h - (1 - 1/n^2) / 3)) / h^2

    (means of n sales spread over a month are smoother than the walk), never below zero, then settled with 18 months of
    the usual 1.5 percent: a short history shows no trend since the season and the walk have taken it up.

    Notes
    -----
    The tau that covers is not the tau of one history: docs/method.md has the coverage on real and simulated markets.
    """
    z = index.month_log - season_log[index.month % MONTHS]
    noise = float(np.nanmean(index.month_var))
    sales = float(np.median(index.month_sales[index.month_sales > 0]))
    smoother = (1.0 - 1.0 / sales**2) / 3.0
    excess = []
    for ahead in DRIFT_HORIZONS:
        change = z[ahead:] - z[:-ahead]
        change = change[np.isfinite(change)]
        if len(change) >= MIN_DRIFT_PAIRS:
            excess.append((float(np.mean(change**2)) - 2.0 * noise - walk**2 * (ahead - smoother)) / ahead**2)
    if not excess:
        return USUAL_DRIFT_SD
    months = float(np.isfinite(z).sum())
    settled = months * max(float(np.mean(excess)), 0.0) + DRIFT_PRIOR_MONTHS * USUAL_DRIFT_SD**2
    return float(np.sqrt(settled / (months + DRIFT_PRIOR_MONTHS)))


def _level_of_last_sales(index: PriceIndex, season_log: FloatArray, walk: float) -> tuple[float, float]:
    """Return the level on the last day from the last three sales of the last 45 days, and its standard error.

    Error: sale noise over the root of their number, and the walk since each of them, all shared after the later one.
    """
    last = int(index.sale_day[-1])
    recent = np.flatnonzero(index.sale_day > last - LEVEL_WINDOW_DAYS)[-LEVEL_SALES:]
    days = index.sale_day[recent]
    level = float((index.sale_log[recent] - _season_at(days, season_log)).mean())
    behind = (last - days) / DAYS_PER_MONTH
    spread = np.sqrt(index.sale_sd**2 / len(recent) + walk**2 * np.minimum.outer(behind, behind).mean())
    return level, float(spread)


def season_table(season: Season) -> pd.DataFrame:
    """Return the season index of the standard calf by calendar month, with a 95 percent interval.

        index_m = 100 exp(s_m) / mean over months of exp(s)

    so that the twelve indices average exactly 100.

    Returns
    -------
    DataFrame
        ``month`` (1 to 12), ``index``, ``low``, ``high`` (year mean = 100).
    """
    ratio = np.exp(season.log)
    index = 100.0 * ratio / ratio.mean()
    reach = NORMAL_975 * np.sqrt(np.maximum(np.diag(season.cov), 0.0))
    return pd.DataFrame(
        {
            "month": np.arange(1, MONTHS + 1),
            "index": index,
            "low": index * np.exp(-reach),
            "high": index * np.exp(reach),
        }
    )
