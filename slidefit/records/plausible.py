"""Prices that can't be true beside their neighbours: one wrong digit, another unit. All thresholds stand here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from slidefit.records.coded import BoolArray, FloatArray, IntArray

# what a rough market pays, in log points, only to put unlike calves of one sale side by side
ROUGH_SLIDE_CWT = -0.10
ROUGH_SEX = {"steer": 0.0, "mixed": -0.04, "heifer": -0.08, "bull": -0.10}
ROUGH_WEIGHTS_CWT = (2.0, 10.0)
FEWEST_NEIGHBOURS = 4
FEWEST_IN_FILE = 3
MOST_YEARS_TOGETHER = 2
WHOLE_FILE = 3  # place of the whole file among the neighbourhoods
TOO_HIGH = float(np.log(2.0))
TOO_LOW = float(np.log(1.0 / 3.0))
TOO_LOW_FOR_LOW_GRADES = float(np.log(1.0 / 15.0))
LOW_FRAMES = ("S", "MS")
LOW_MUSCLES = ("2-3", "3", "3-4", "4")
FAR = 0.45
DOUBTFUL = float(np.log(1.6))
FITS_OTHER_UNIT = 0.35


@dataclass(frozen=True)
class PriceVerdict:
    """Which prices can't be true, which fit another unit better, and which are only far off."""

    implausible: BoolArray
    unit_doubtful: BoolArray
    far: BoolArray


def leveled(weight_lb: FloatArray, sex: pd.Series) -> FloatArray:
    """Return what a rough market pays for weight and sex, in log points (zero for a 550-lb steer)."""
    coded = sex.astype("category").cat
    offsets = np.array([ROUGH_SEX.get(str(name), 0.0) for name in coded.categories])
    by_weight = ROUGH_SLIDE_CWT * (np.clip(weight_lb / 100.0, *ROUGH_WEIGHTS_CWT) - 5.5)
    return np.asarray(by_weight + offsets[coded.codes], dtype=np.float64)


def judge_prices(frame: pd.DataFrame, *, unit_said: bool) -> PriceVerdict:
    """Judge each price against the middle of its own sale, weight and sex taken into account.

    A sale with fewer than ``FEWEST_NEIGHBOURS`` other prices is judged by the month, then the year, of the same
    file. There is no fixed upper limit, since the level of prices has tripled within ten years. Calves of small
    frame or thin muscle really bring a fifth of what good ones do, so only far lower prices are disbelieved there.

    Parameters
    ----------
    frame : DataFrame of tidy rows
    unit_said : bool
        Whether the file names the unit; if not, a number that fits dollars a head or dollars a pound better is
        called doubtful.
    """
    weight, price = frame["weight_lb"].to_numpy(dtype=float), frame["price_cwt"].to_numpy(dtype=float)
    rough = leveled(weight, frame["sex"])
    gap = _gaps(frame, np.log(price) - rough)
    low_grade = frame["frame"].isin(LOW_FRAMES).to_numpy() | frame["muscle"].isin(LOW_MUSCLES).to_numpy()
    implausible = (gap > TOO_HIGH) | (gap < np.where(low_grade, TOO_LOW_FOR_LOW_GRADES, TOO_LOW))
    doubtful = np.zeros(len(frame), dtype=bool)
    if not unit_said:
        by_head = np.abs(gap + np.log(100.0 / weight)) < FITS_OTHER_UNIT
        by_pound = np.abs(gap + np.log(100.0)) < FITS_OTHER_UNIT
        doubtful = ((gap > DOUBTFUL) & by_head) | (implausible & by_pound)
    return PriceVerdict(implausible & ~doubtful, doubtful, (np.abs(gap) > FAR) & ~implausible & ~doubtful)


def _gaps(frame: pd.DataFrame, level: FloatArray) -> FloatArray:
    """Return each row's level less the middle level of its sale, or of the month, year or file when few sold."""
    days = frame["sale_date"].to_numpy().astype("datetime64[D]")
    market, currency = (
        frame["market"].astype("category").cat.codes,
        frame["currency"].astype("category").cat.codes,
    )
    money = currency.to_numpy().astype(np.int64)
    keys: tuple[IntArray, ...] = (
        (days.astype(np.int64) * 100_000 + market.to_numpy()) * 100 + money,
        days.astype("datetime64[M]").astype(np.int64) * 100 + money,
        days.astype("datetime64[Y]").astype(np.int64) * 100 + money,
        money,
    )
    gap = np.zeros(len(frame))
    open_rows = np.ones(len(frame), dtype=bool)
    if np.ptp(days.astype("datetime64[Y]").astype(np.int64)) > MOST_YEARS_TOGETHER:
        keys = keys[:-1]
    for place, key in enumerate(keys):
        if not open_rows.any():
            break
        fewest = FEWEST_NEIGHBOURS if place < WHOLE_FILE else FEWEST_IN_FILE
        middle, count = _middles(key, level)
        ready = open_rows & (count >= fewest)
        gap[ready] = level[ready] - middle[ready]
        open_rows &= ~ready
    return gap


def _middles(key: IntArray, level: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the median level and the count of the group of each row."""
    groups, _ = pd.factorize(key)
    middle = np.asarray(pd.Series(level).groupby(groups).median(), dtype=np.float64)
    counts = np.bincount(groups).astype(np.int64)
    return middle[groups], counts[groups]
