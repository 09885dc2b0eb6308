"""The invented market behind the demonstration data: every number that a fit should find again.

ln price = sale index + weight curve of the sex + season and level of the slide + grade + trait + lot size
+ noise, with x = (weight - 550 lb) / 100; the sale index is that of a 550-lb steer, medium and large 1, in a
lot of 15.
"""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

FIRST_SALE = date(2018, 1, 2)
LAST_SALE = date(2026, 10, 12)
STANDARD_WEIGHT_LB = 550.0
STANDARD_HEAD = 15.0
REFERENCE_PRICE_CWT = 220.0
SEXES = ("steer", "heifer", "bull")

# Log points at 550 lb against a steer, change per cwt, and half the change of that change.
CURVES = {"steer": (0.0, -0.115, 0.010), "heifer": (-0.090, -0.086, 0.008), "bull": (-0.070, -0.130, 0.010)}
# Log points at 550 lb against ML 1, change per cwt, and change for each log point of price level.
GRADES = {
    "ML 1": (0.0, 0.0, 0.0),
    "ML 1-2": (-0.040, 0.004, -0.020),
    "ML 2": (-0.110, 0.010, -0.030),
    "M 1": (-0.055, 0.006, 0.0),
}
TRAITS = {"": 0.0, "fleshy": -0.035, "thin": 0.020, "unweaned": -0.030}
LEVEL_SLOPE = -0.027  # the slide per cwt steepens by this for each log point of price
HEAD_SLOPE = 0.025
LOT_SD, CALF_SD, SALE_SD = 0.040, 0.120, 0.015
WALK_SD_MONTH = 0.018
DRIFT_SD, DRIFT_AR = 0.006, 0.35  # of the slide per cwt, from one crop year to the next

# Amplitude and month of the peak (0 is mid-January), once and twice a year.
INDEX_SEASON = ((0.045, 3.0), (0.012, 2.0))
SLOPE_SEASON = ((-0.018, 2.0), (-0.004, 1.0))
CURVE_SEASON = ((0.002, 2.0), (0.0, 0.0))

# The price cycle, $/cwt of the standard calf with the season taken out; the walk is pinned to these.
CYCLE = {
    "2018-01": 154.0,
    "2019-01": 149.0,
    "2020-04": 135.0,
    "2021-03": 146.0,
    "2022-03": 172.0,
    "2023-01": 198.0,
    "2023-09": 252.0,
    "2024-06": 268.0,
    "2025-01": 288.0,
    "2025-10": 345.0,
    "2026-10": 385.0,
}


def month_position(day: date) -> float:
    """Return months since mid-January of the day's year: 0.0 on January 15, 11.0 on December 15."""
    return day.month - 1 + (day.day - 15) / (365.25 / 12.0)


def harmonic(terms: tuple[tuple[float, float], tuple[float, float]], position: ArrayLike) -> FloatArray:
    """Return the two-harmonic wave at month positions; its mean over the twelve mid-months is zero."""
    at = np.asarray(position, dtype=float)
    (once, peak_once), (twice, peak_twice) = terms
    angle = 2.0 * np.pi / 12.0
    return np.asarray(
        once * np.cos(angle * (at - peak_once)) + twice * np.cos(2.0 * angle * (at - peak_twice))
    )


def crop_year(day: date) -> int:
    """Return the crop year, July to June, named by the year in which it begins."""
    return day.year if day.month >= 7 else day.year - 1


def log_relative(
    sex: str,
    weight_lb: ArrayLike,
    position: ArrayLike,
    log_index: ArrayLike,
    *,
    grade: str = "ML 1",
    drift: ArrayLike = 0.0,
) -> FloatArray:
    """Return ln(price / price of the standard calf the same day), before lot size, trait and noise.

    Parameters
    ----------
    weight_lb : array-like [lb]
    position : array-like [months since mid-January]
    log_index : array-like
        ln($/cwt) of the standard calf at that sale, its season included.
    drift : array-like [log points per cwt]
        What the crop year adds to the slope.
    """
    x = (np.asarray(weight_lb, dtype=float) - STANDARD_WEIGHT_LB) / 100.0
    level = np.asarray(log_index, dtype=float) - np.log(REFERENCE_PRICE_CWT)
    offset, slope, bend = CURVES[sex]
    grade_offset, grade_slope, grade_level = GRADES[grade]
    slope_now = slope + LEVEL_SLOPE * level + harmonic(SLOPE_SEASON, position) + np.asarray(drift)
    bend_now = bend + harmonic(CURVE_SEASON, position)
    return np.asarray(
        offset + slope_now * x + bend_now * x**2 + grade_offset + grade_slope * x + grade_level * level
    )


def percent_per_cwt(sex: str, middle_lb: float, month: int | None, price_cwt: float, drift: float) -> float:
    """Return the slide around a weight: the fall from 50 lb below to 50 lb above, in percent of the former.

    Parameters
    ----------
    month : int or None
        1 to 12; None averages the log slide of the twelve months.
    price_cwt : float [$/cwt]
        The standard calf's price, which sets the level.
    """
    months = np.arange(12.0) if month is None else np.array([month - 1.0])
    log_index = np.full(months.shape, np.log(price_cwt))
    ends = [log_relative(sex, middle_lb + step, months, log_index, drift=drift) for step in (-50.0, 50.0)]
    return float(100.0 * (1.0 - np.exp(np.mean(ends[1] - ends[0]))))


def draw_levels(rng: np.random.Generator) -> dict[str, float]:
    """Return the true ln($/cwt) of each month, season taken out: a random walk pinned to the price cycle."""
    count = (LAST_SALE.year - FIRST_SALE.year) * 12 + LAST_SALE.month
    names = [f"{FIRST_SALE.year + m // 12}-{m % 12 + 1:02d}" for m in range(count)]
    pins = np.array([names.index(name) for name in CYCLE])
    walk = np.cumsum(rng.normal(0.0, WALK_SD_MONTH, count))
    months = np.arange(count)
    bridge = walk - np.interp(months, pins, walk[pins])
    path = np.interp(months, pins, np.log(list(CYCLE.values()))) + bridge
    return {name: float(value) for name, value in zip(names, path, strict=True)}


def draw_drifts(rng: np.random.Generator) -> dict[int, float]:
    """Return what each crop year adds to the slope, log points per cwt; they average zero."""
    years = range(crop_year(FIRST_SALE), crop_year(LAST_SALE) + 1)
    shocks = rng.normal(0.0, DRIFT_SD * np.sqrt(1.0 - DRIFT_AR**2), len(years))
    values = np.zeros(len(years))
    for i, shock in enumerate(shocks):
        values[i] = shock + (DRIFT_AR * values[i - 1] if i else 0.0)
    values -= values.mean()
    return {year: float(value) for year, value in zip(years, values, strict=True)}


def log_level_on(days: list[date], levels: dict[str, float]) -> FloatArray:
    """Return the season-free log level on each day, read linearly between mid-months."""
    path = np.array(list(levels.values()))
    at = [(day.year - FIRST_SALE.year) * 12 + month_position(day) for day in days]
    return np.asarray(np.interp(at, np.arange(len(path)), path))
