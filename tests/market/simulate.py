"""Tidy sale records drawn from a known truth, so that a fit can be held against it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

import numpy as np
import pandas as pd

COLUMNS = [
    "sale_date",
    "date_precision",
    "market",
    "sex",
    "frame",
    "muscle",
    "head",
    "weight_lb",
    "weight_low_lb",
    "weight_high_lb",
    "price_cwt",
    "price_low_cwt",
    "price_high_cwt",
    "traits",
    "currency",
    "flags",
    "batch",
    "source_row",
]
DAYS_PER_MONTH = 365.25 / 12.0


@dataclass(frozen=True)
class Truth:
    """ln price = level(sale) + season + offset + (slope + season and level of the slope + drift) x + bend x^2 + ...

    x is (weight - 550 lb) / 100; ``curves`` gives (offset, slope, bend) for each sex; ``grades`` a log offset and
    a share for each grade; waves are (size, month of the peak, 0 = mid-January); spreads are log points.
    """

    curves: tuple[tuple[str, tuple[float, float, float]], ...] = (
        ("steer", (0.0, -0.11, 0.008)),
        ("heifer", (-0.09, -0.08, 0.006)),
    )
    grades: tuple[tuple[str, float, float], ...] = (("ML 1", 0.0, 0.8), ("ML 1-2", -0.04, 0.2))
    season: tuple[float, float] = (0.05, 3.0)
    slope_season: tuple[float, float] = (-0.015, 2.0)
    level_slope: float = -0.03
    head_slope: float = 0.02
    lot_sd: float = 0.04
    calf_sd: float = 0.12
    sale_sd: float = 0.015
    walk_sd_month: float = 0.03
    trend_year: float = 0.06
    price_cwt: float = 180.0
    drift_sd: float = 0.0
    drift_ar: float = 0.9
    drift_year_sd: float = 0.0
    drift_year_ar: float = 0.35


@dataclass(frozen=True)
class SampledSales:
    """Records, and the truth of each sale: its day, season-free log level and what the slope drifted by."""

    records: pd.DataFrame
    day: np.ndarray
    level: np.ndarray
    drift: np.ndarray


def wave(size_and_peak: tuple[float, float], day_of_year: np.ndarray) -> np.ndarray:
    """Return size x cos(2 pi (month - peak) / 12), months counted from mid-January."""
    size, peak = size_and_peak
    return size * np.cos(2.0 * np.pi * ((day_of_year - 14.0) / DAYS_PER_MONTH - peak) / 12.0)


def autoregression(rng: np.random.Generator, count: int, sd: float, ar: float) -> np.ndarray:
    """Return a stationary first-order autoregression of standard deviation ``sd``."""
    shocks = rng.normal(0.0, sd * np.sqrt(1.0 - ar**2), count)
    shocks[0] = rng.normal(0.0, sd)
    return np.array(list(accumulate(shocks, lambda before, shock: shock + ar * before)))


def simulate(
    seed: int,
    *,
    truth: Truth | None = None,
    sales: int = 200,
    lots: int = 12,
    days_between: int = 7,
    first: str = "2017-10-04",
    market: str = "Birch Landing",
    weights_lb: tuple[float, float] = (350.0, 800.0),
) -> SampledSales:
    """Return ``sales`` sales of ``lots`` lots each, evenly spaced, drawn from the truth."""
    truth = truth or Truth()
    rng = np.random.default_rng(seed)
    day = np.datetime64(first, "D").astype(int) + days_between * np.arange(sales)
    stamp = day.astype("datetime64[D]")
    turn = (stamp - stamp.astype("datetime64[Y]").astype("datetime64[D]")).astype(float)
    steps = rng.normal(0.0, truth.walk_sd_month * np.sqrt(days_between / DAYS_PER_MONTH), sales)
    level = np.cumsum(steps) - steps[0] + truth.trend_year * (day - day[0]) / 365.25
    crop = stamp.astype("datetime64[M]").astype(int)
    year = (crop - 6) // 12
    yearly = autoregression(rng, int(np.ptp(year)) + 1, truth.drift_year_sd, truth.drift_year_ar)
    drift = autoregression(rng, sales, truth.drift_sd, truth.drift_ar) + yearly[year - year.min()]
    of = np.repeat(np.arange(sales), lots)
    n = len(of)
    sex = rng.integers(0, len(truth.curves), n)
    offset, slope, bend = np.array([c for _, c in truth.curves])[sex].T
    names, grade_log, share = zip(*truth.grades, strict=True)
    grade = rng.choice(len(names), n, p=np.array(share) / sum(share))
    weight = np.round(rng.uniform(*weights_lb, n))
    head = np.maximum(np.round(rng.lognormal(2.0, 0.9, n)), 1.0)
    x = (weight - 550.0) / 100.0
    price_level = level + wave(truth.season, turn)
    slope_now = slope + wave(truth.slope_season, turn)[of] + truth.level_slope * price_level[of] + drift[of]
    sale_log = np.log(truth.price_cwt) + price_level + rng.normal(0, truth.sale_sd, sales)
    log_price = (
        sale_log[of]
        + offset
        + slope_now * x
        + bend * x**2
        + np.array(grade_log)[grade]
        + truth.head_slope * np.log(head / 15.0)
        + rng.normal(0.0, 1.0, n) * np.sqrt(truth.lot_sd**2 + truth.calf_sd**2 / head)
    )
    frame, muscle = zip(*(name.split(" ") if " " in name else ("", name) for name in names), strict=True)
    records = pd.DataFrame(
        {
            "sale_date": stamp[of].astype("datetime64[s]"),
            "date_precision": "day",
            "market": market,
            "sex": np.array([s for s, _ in truth.curves])[sex],
            "frame": np.array(frame)[grade],
            "muscle": np.array(muscle)[grade],
            "head": head,
            "weight_lb": weight,
            "weight_low_lb": np.nan,
            "weight_high_lb": np.nan,
            "price_cwt": np.exp(log_price),
            "price_low_cwt": np.nan,
            "price_high_cwt": np.nan,
            "traits": "",
            "currency": "USD",
            "flags": "",
            "batch": "simulated",
            "source_row": np.arange(1, n + 1),
        }
    )[COLUMNS]
    return SampledSales(records, day, level, drift)


def true_percent(
    truth: Truth,
    sex: str,
    weight_lb: float,
    *,
    month: int | None = None,
    level: float = 0.0,
    drift: float = 0.0,
) -> float:
    """Return the true fall in percent over the 100 lb around a weight, at a log level about ``price_cwt``."""
    _, slope, bend = dict(truth.curves)[sex]
    turn = (
        0.0 if month is None else wave(truth.slope_season, np.array([14.0 + (month - 1) * DAYS_PER_MONTH]))[0]
    )
    low, high = (weight_lb - 600.0) / 100.0, (weight_lb - 500.0) / 100.0
    change = (slope + turn + truth.level_slope * level + drift) + bend * (high**2 - low**2)
    return float(-100.0 * np.expm1(change))
