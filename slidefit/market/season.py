"""Stage 2: the level and the season of the price index, by a structural time series model."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from slidefit.market.index import PriceIndex
from slidefit.market.outlook import DAYS_PER_MONTH, MONTHS, Outlook, month_weights

FloatArray = NDArray[np.float64]

USUAL_DRIFT_SD = 0.015
DRIFT_PRIOR_MONTHS = 36
DRIFT_HORIZONS = range(2, 10)
MIN_DRIFT_PAIRS = 12
DEFAULT_WALK_SD = 0.04
UNKNOWN_SEASON_SD = 0.05
MARKETS_SEASON_SD = 0.02
WALK_PRIOR_MONTHS = 24
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
    innovations: FloatArray = field(default_factory=lambda: np.empty(0))
    borrowed: bool = False


def months_seen_twice(index: PriceIndex) -> int:
    """Return how many calendar months were seen in two years or more; one year alone can't tell season from trend."""
    seen = index.month[np.isfinite(index.month_log)]
    return int((np.bincount(seen % MONTHS, minlength=MONTHS) >= 2).sum())


def fit_season(index: PriceIndex, defaults: Outlook | None = None) -> Season:
    """Fit a random-walk level, a fixed season and measurement noise to the monthly index.

        y_m = level_m + season_m + noise,   level_m = level_{m-1} + N(0, walk^2)

    The season has two harmonics (one, or none, where the calendar is thinly seen). There is no trend in the mean: its
    uncertainty stands in ``drift_sd_month`` (see `drift_sd`). The walk's variance is settled with that of 24 months of
    the usual 4 percent: a short history can look calm by luck. Today's level is the mean of the last three sales,
    season taken out. A history too short for a season takes that of ``defaults``, with 2 percent a month more for how
    far the seasons of markets differ (our judgement, no source).

    References
    ----------
    Durbin and Koopman (2012), Time Series Analysis by State Space Methods, 2nd ed., sec. 3.2;
    Harvey (1989), Forecasting, Structural Time Series Models and the Kalman Filter, sec. 2.3.
    """
    twice = months_seen_twice(index)
    changes = int(np.isfinite(index.month_log).sum()) - 1
    harmonics = 2 if twice >= TWO_HARMONICS_MONTHS else 1 if twice >= ONE_HARMONIC_MONTHS else 0
    thin = f"only {twice} calendar months were seen in two years or more"
    innovations = np.empty(0)
    if harmonics == 0 or changes < MIN_WALK_CHANGES:
        harmonics = 0
        log, cov, notes = _season_from(defaults, thin)
        walk, note = _walk_without_season(index, log, changes, defaults)
        notes += note
    else:
        notes = (f"{thin}: the season is a single wave",) if harmonics == 1 else ()
        log, cov, walk, innovations = _structural(index.month_log, harmonics)
        shift = int(index.month[0] % MONTHS)
        order = (np.arange(MONTHS) - shift) % MONTHS
        log, cov = log[order], cov[np.ix_(order, order)]
    day, level, level_sd = _level_now(index, log, walk)
    drift = drift_sd(index, log, walk)
    borrowed = harmonics == 0 and defaults is not None
    return Season(log, cov, harmonics, walk, drift, day, level, level_sd, notes, innovations, borrowed)


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


def _walk_without_season(
    index: PriceIndex, season_log: FloatArray, changes: int, defaults: Outlook | None
) -> tuple[float, tuple[str, ...]]:
    """Return how far the level wanders in a month where the season was not fitted, and the note on it."""
    if changes >= MIN_WALK_CHANGES:
        return _structural(index.month_log - season_log[index.month % MONTHS], 0)[2], ()
    walk = DEFAULT_WALK_SD if defaults is None else defaults.walk_sd_month
    where = "as on longer records" if defaults is None else f"as {defaults.basis.source} says"
    return walk, (
        f"sales in {changes + 1} months are too few to tell how far prices wander: {walk:.0%} a month is assumed, "
        f"{where}",
    )


def drift_sd(index: PriceIndex, season_log: FloatArray, walk: float) -> float:
    """Return the spread of the level's unseen trend [log points a month], from changes over two to nine months.

    A walk's change over h months has variance walk^2 h; a trend that lasts adds tau^2 h^2. So, z being the index less
    its season and v its sampling variance,

        tau^2 = mean over h of (mean (z_{m+h} - z_m)^2 - 2 v - walk^2 h) / h^2

    never below zero, then settled with 36 months of the usual 1.5 percent (a short history shows no trend since the
    season and the walk have taken it up).

    Notes
    -----
    The tau that covers is not the tau of one history: docs/method.md has the coverage on real and simulated markets.
    """
    z = index.month_log - season_log[index.month % MONTHS]
    noise = float(np.nanmean(index.month_var))
    excess = []
    for ahead in DRIFT_HORIZONS:
        change = z[ahead:] - z[:-ahead]
        change = change[np.isfinite(change)]
        if len(change) >= MIN_DRIFT_PAIRS:
            excess.append((float(np.mean(change**2)) - 2.0 * noise - walk**2 * ahead) / ahead**2)
    if not excess:
        return USUAL_DRIFT_SD
    months = float(np.isfinite(z).sum())
    settled = months * max(float(np.mean(excess)), 0.0) + DRIFT_PRIOR_MONTHS * USUAL_DRIFT_SD**2
    return float(np.sqrt(settled / (months + DRIFT_PRIOR_MONTHS)))


def _structural(y: FloatArray, harmonics: int) -> tuple[FloatArray, FloatArray, float, FloatArray]:
    """Return the season of the first twelve months of ``y``, its covariance, the walk's sd and one-step errors."""
    from statsmodels.tsa.statespace.structural import UnobservedComponents

    season = [{"period": MONTHS, "harmonics": harmonics}] if harmonics else None
    model = UnobservedComponents(
        y,
        level="local level",
        freq_seasonal=season,
        stochastic_freq_seasonal=[False] if harmonics else None,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        params = np.array(model.fit(disp=0, maxiter=200, return_params=True))
        place = model.param_names.index("sigma2.level")
        months = float(np.isfinite(y).sum())
        settled = months * params[place] + WALK_PRIOR_MONTHS * DEFAULT_WALK_SD**2
        params[place] = settled / (months + WALK_PRIOR_MONTHS)
        result = model.smooth(params, cov_type="none")
    walk = float(np.sqrt(params[place]))
    if not harmonics:
        return np.zeros(MONTHS), np.zeros((MONTHS, MONTHS)), walk, np.empty(0)
    state = np.asarray(result.smoothed_state)[1:, -1]
    state_cov = np.asarray(result.smoothed_state_cov)[1:, 1:, -1]
    turn = np.asarray(model.ssm["transition"])[1:, 1:]
    row = np.asarray(model.ssm["design"]).reshape(-1)[1:]
    ahead = (-(len(y) - 1)) % MONTHS
    rows = np.vstack([row @ np.linalg.matrix_power(turn, ahead + k) for k in range(MONTHS)])
    innovations = np.array(result.standardized_forecasts_error[0], dtype=float)
    innovations[: len(state) + 1] = np.nan
    return rows @ state, rows @ state_cov @ rows.T, walk, innovations


def _level_now(index: PriceIndex, season_log: FloatArray, walk: float) -> tuple[int, float, float]:
    """Return the day of the last sale, the level then from the last three sales, and its standard error.

    Only sales of the last 45 days count. Error: sale noise over the root of their number, and the walk since their
    mean day.
    """
    last = int(index.sale_day[-1])
    recent = np.flatnonzero(index.sale_day > last - LEVEL_WINDOW_DAYS)[-LEVEL_SALES:]
    days = index.sale_day[recent]
    shares = month_weights(days.astype("datetime64[D]").tolist())
    level = float((index.sale_log[recent] - shares @ season_log).mean())
    behind = (last - float(days.mean())) / DAYS_PER_MONTH
    spread = np.sqrt(index.sale_sd**2 / len(recent) + walk**2 * behind)
    return last, level, float(spread)
