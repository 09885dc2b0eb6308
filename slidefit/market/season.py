"""The level and the season of the price index; the season table."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.distributions import NORMAL_975
from slidefit.market.fit.constants import MIN_SALE_SD
from slidefit.market.fit.fixed_effects import PriceIndex
from slidefit.market.months import DAYS_PER_MONTH, EPOCH, MONTHS, month_weights
from slidefit.market.outlook import Outlook
from slidefit.market.structural import DEFAULT_WALK_SD, fit_structural

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

USUAL_DRIFT_SD = 0.015
DRIFT_PRIOR_MONTHS = 18
_DRIFT_HORIZONS = range(2, 10)
_MIN_DRIFT_PAIRS = 12
UNKNOWN_SEASON_SD = 0.05
_MARKETS_SEASON_SD = 0.02
_MIN_WALK_CHANGES = 12
_TWO_HARMONICS_MONTHS = 9
_ONE_HARMONIC_MONTHS = 6
LEVEL_SALES = 3
LEVEL_WINDOW_DAYS = 45


@dataclass(frozen=True)
class Season:
    """The season of the standard calf and how the level wanders.

    Attributes
    ----------
    log : array, shape (12,) [log points]. Mid-month season, mean zero over the calendar months.
    cov : array, shape (12, 12). Covariance of its estimates.
    harmonics : int. 0 where the records can't show a season: ``log`` is then zero and ``cov`` a wide guess.
    walk_sd_month, drift_sd_month : float [log points]
    level_day : int. Day (since 1970-01-01) that the level holds for: the last sale.
    level_log, level_sd : float. ln($/cwt) of the standard calf then, the season taken out, and its standard error.
    notes : tuple of str
    sale_sd : float [log points]. Spread of a sale around the level and the season, beyond what its lots explain.
    innovations : array, shape (w,)
        One-step errors over their standard errors, by week with a sale; empty without a season.
    borrowed : bool. Whether the season is a region's, since the records show none.
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

    def of_outlook(self) -> dict[str, Any]:
        """Return the fields of an `Outlook` that it settles."""
        same = {name: getattr(self, name) for name in ("level_sd", "walk_sd_month", "drift_sd_month")}
        told = {"log_level": self.level_log, "season_log": self.log, "season_cov": self.cov}
        return {"as_of": EPOCH + timedelta(self.level_day), **told, **same}


def months_seen_twice(index: PriceIndex) -> int:
    """Return how many calendar months were seen in two years or more; one year alone can't tell season from trend."""
    seen = index.month[np.isfinite(index.month_log)]
    return int((np.bincount(seen % MONTHS, minlength=MONTHS) >= 2).sum())


def fit_season(index: PriceIndex, defaults: Outlook | None = None) -> Season:
    """Fit a random-walk level, a fixed season and noise to the index, week by week (see `structural.fit_structural`).

    The season has two waves (one, or none, where the calendar is thinly seen). There is no trend in the mean: its
    uncertainty stands in ``drift_sd_month`` (see `drift_sd`). A history too short for a season takes that of
    ``defaults``, with 2 percent a month more for how far the seasons of markets differ (our judgment, no source).
    Under a year of monthly changes nothing is fitted: today's level is the mean of the last three sales.

    Today's level is half the filter's and half the mean of the last three sales. One barn's forecasts were better by
    less smoothing (New Mexico), another's by more (Colorado); the error of a mean of two forecasts is never above the
    mean of theirs (docs/method.md). Its standard error is the mean of theirs.
    """
    twice = months_seen_twice(index)
    changes = int(np.isfinite(index.month_log).sum()) - 1
    harmonics = 2 if twice >= _TWO_HARMONICS_MONTHS else 1 if twice >= _ONE_HARMONIC_MONTHS else 0
    few = (
        f"only {twice} calendar month{'s were' if twice > 1 else ' was'}"
        if twice
        else "no calendar month was"
    )
    thin = f"{few} seen in two years or more"
    innovations = np.empty(0)
    if harmonics == 0 or changes < _MIN_WALK_CHANGES:
        harmonics = 0
        log, cov, notes = _season_from(defaults, thin)
    else:
        notes = (f"{thin}: the season is a single wave",) if harmonics == 1 else ()
    if changes < _MIN_WALK_CHANGES:
        walk, note = _usual_walk(changes, defaults)
        level, level_sd = _level_of_last_sales(index, log, walk, index.sale_sd)
        notes, sale_sd = (*notes, *note), index.sale_sd
    else:
        lent = _season_at(index.sale_day, log) if harmonics == 0 else 0.0
        found = fit_structural(index.sale_day, index.sale_log - lent, harmonics)
        walk = found.walk_sd_month
        sale_sd = float(np.sqrt(max(found.noise_sd**2 - index.lots_var, MIN_SALE_SD**2)))
        if harmonics:
            log, cov, innovations = found.season, found.season_cov, found.innovations
        last, last_sd = _level_of_last_sales(index, log, walk, found.noise_sd)
        level, level_sd = 0.5 * (found.level_log + last), 0.5 * (found.level_sd + last_sd)
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
    note = f"{thin}: the season is that of {defaults.basis.source}, plus or minus {_MARKETS_SEASON_SD:.0%} a month more"
    return defaults.season_log, defaults.season_cov + _MARKETS_SEASON_SD**2 * np.eye(MONTHS), (note,)


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
    for ahead in _DRIFT_HORIZONS:
        change = z[ahead:] - z[:-ahead]
        change = change[np.isfinite(change)]
        if len(change) >= _MIN_DRIFT_PAIRS:
            excess.append((float(np.mean(change**2)) - 2.0 * noise - walk**2 * (ahead - smoother)) / ahead**2)
    if not excess:
        return USUAL_DRIFT_SD
    months = float(np.isfinite(z).sum())
    settled = months * max(float(np.mean(excess)), 0.0) + DRIFT_PRIOR_MONTHS * USUAL_DRIFT_SD**2
    return float(np.sqrt(settled / (months + DRIFT_PRIOR_MONTHS)))


def _level_of_last_sales(
    index: PriceIndex, season_log: FloatArray, walk: float, noise: float
) -> tuple[float, float]:
    """Return the level on the last day from the last three sales of the last 45 days, and its standard error.

    Error: sale noise over the root of their number, and the walk since each of them, all shared after the later one.
    """
    last = int(index.sale_day[-1])
    recent = np.flatnonzero(index.sale_day > last - LEVEL_WINDOW_DAYS)[-LEVEL_SALES:]
    days = index.sale_day[recent]
    level = float((index.sale_log[recent] - _season_at(days, season_log)).mean())
    behind = (last - days) / DAYS_PER_MONTH
    spread = np.sqrt(noise**2 / len(recent) + walk**2 * np.minimum.outer(behind, behind).mean())
    return level, float(spread)


def season_rows(season: Season) -> list[dict[str, Any]]:
    """Return the season index of the standard calf by calendar month, with a 95 percent interval.

        index_m = 100 exp(s_m) / mean over months of exp(s)

    so that the twelve indices average exactly 100.

    Returns
    -------
    list of dict. ``month`` (1 to 12), ``index``, ``low``, ``high`` (year mean = 100).
    """
    return index_rows(season_index(season.log), np.sqrt(np.maximum(np.diag(season.cov), 0.0)))


def season_index(season_log: FloatArray) -> FloatArray:
    """Return a season as an index by calendar month, year mean 100."""
    ratio = np.exp(season_log)
    return np.asarray(100.0 * ratio / ratio.mean())


def index_rows(index: FloatArray, error: FloatArray) -> list[dict[str, Any]]:
    """Return an index by calendar month as rows of `season_rows`; ``error`` in log points."""
    reach = NORMAL_975 * error
    sides = np.column_stack([index, index * np.exp(-reach), index * np.exp(reach)]).tolist()
    return [
        {"month": month, "index": mid, "low": low, "high": high}
        for month, (mid, low, high) in enumerate(sides, 1)
    ]
