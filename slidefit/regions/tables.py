"""The slide, the season and prices of a region's file, as the tables that a fit gives too."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from slidefit.errors import OutlookError
from slidefit.market.outlook import MONTHS, STANDARD_WEIGHT_LB, Outlook
from slidefit.market.slides import STEP_LB, USUAL_WEIGHTS_LB
from slidefit.regions.region import SEASON_AT_LB, Region, SexTable
from slidefit.regions.to_outlook import outlook_of_region

FloatArray = NDArray[np.float64]

NORMAL_975 = 1.959964
LEVEL_STEP = float(np.log(1.1))
SHEET_STEP_LB = 50.0


def usual_weights(table: SexTable) -> list[float]:
    """Return the weights that a slide is told at: 450, 550, 650 and 750 lb where the data reach them."""
    low, high = table.seen_lb
    inside = [w for w in USUAL_WEIGHTS_LB if low <= w - STEP_LB / 2 and w + STEP_LB / 2 <= high]
    return inside or [round((low + high) / 20.0) * 10.0]


def slide_error(table: SexTable, weight_lb: float) -> float:
    """Return one standard error of the slide over the 100 lb around a weight [log points], errors shared along it."""
    steps = table.steps()
    middle = [0.5 * (a + b) for a, b, _, _ in steps]
    at = np.linspace(weight_lb - STEP_LB / 2, weight_lb + STEP_LB / 2, 11)
    return float(np.interp(at, middle, [e for *_, e in steps]).mean()) / 100.0


def region_slides(
    region: Region,
    *,
    sexes: Sequence[str] | None = None,
    weights_lb: Sequence[float] | None = None,
    months: Sequence[int | None] | None = None,
    allow_unseen: bool = False,
) -> pd.DataFrame:
    """Return the slide over 100 lb around each weight with its 95 percent interval, at the price level of the file.

    percent = 100 (1 - p(w + 50) / p(w - 50))

    Returns
    -------
    DataFrame
        ``sex``, ``from_lb``, ``to_lb``, ``month`` (missing: mean of the year), ``percent_per_cwt``,
        ``percent_low``, ``percent_high``, ``price_cwt`` (at ``from_lb``), ``dollars_per_cwt_per_cwt``.

    Raises
    ------
    OutlookError
        A sex that the file doesn't hold, a weight over 50 lb outside the data, or a month without a sale behind it.
    """
    outlook = outlook_of_region(region)
    unseen = [m for m in months or [] if m in outlook.unseen_months]
    if unseen and not allow_unseen:
        raise OutlookError(
            f"the region's file rests on no sale in month {unseen[0]}",
            where="--month",
            remedy="Leave the month out for the mean of the year, or say --allow-unseen.",
        )
    rows: list[dict[str, object]] = []
    for sex in sexes or list(region.sexes()):
        curve = outlook.curve(sex)
        table = dict(region.sexes().items())[sex]  # type: ignore[index]
        for weight in weights_lb or usual_weights(table):
            ends = np.array([weight - STEP_LB / 2, weight + STEP_LB / 2])
            for end in ends:
                outlook.check_weight(sex, float(end))
            reach = NORMAL_975 * slide_error(table, weight)
            for month in months or [None]:
                line = curve.log_relative.mean(axis=0) if month is None else curve.log_relative[month - 1]
                start, end = np.interp(ends, curve.weights_lb, line)
                falls = [-100.0 * float(np.expm1(end - start + side)) for side in (0.0, reach, -reach)]
                price = float(np.exp(outlook.log_level + start))
                rows.append(
                    {
                        "sex": sex, "from_lb": float(ends[0]), "to_lb": float(ends[1]), "month": month,
                        "percent_per_cwt": falls[0], "percent_low": falls[1], "percent_high": falls[2],
                        "price_cwt": price, "dollars_per_cwt_per_cwt": price * falls[0] / 100.0,
                    }
                )  # fmt: skip
    slides = pd.DataFrame(rows)
    slides["month"] = slides["month"].astype("Int64")
    return slides


def region_season(region: Region) -> pd.DataFrame:
    """Return ``month``, ``index`` (year mean = 100), ``low`` and ``high`` (95 percent interval)."""
    index = np.array([month[0] for month in region.season.months()])
    reach = NORMAL_975 * np.array([month[1] for month in region.season.months()]) / 100.0
    return pd.DataFrame(
        {
            "month": np.arange(1, MONTHS + 1),
            "index": index,
            "low": index * np.exp(-reach),
            "high": index * np.exp(reach),
        }
    )


def level_rise(region: Region, standard_cwt: ArrayLike) -> FloatArray:
    """Return how far a price of the standard calf lies over the file's, in steps of 10 percent, inside those seen."""
    held = np.clip(np.asarray(standard_cwt, dtype=float), *region.price.seen_cwt)
    return np.asarray(np.log(held / np.clip(region.price.standard_cwt, *region.price.seen_cwt)) / LEVEL_STEP)


def added_slide(at_ends: tuple[float, float], weight_lb: FloatArray) -> FloatArray:
    """Return points given at 450 and at 750 lb, at other weights: straight between and beyond."""
    low, high = SEASON_AT_LB
    return np.asarray(at_ends[0] + (at_ends[1] - at_ends[0]) * (weight_lb - low) / (high - low))


def level_effect(
    region: Region, table: SexTable, weight_lb: FloatArray, standard_cwt: ArrayLike
) -> FloatArray:
    """Return what a price level other than the file's adds to the log price against the standard calf.

    The slide gains ``slide_more`` for each 10 percent (its mean from 550 lb on times the distance), the discount
    ``discount_more``.
    """
    x = (weight_lb - STANDARD_WEIGHT_LB) / 100.0
    fall = x * added_slide(table.slide_more, 0.5 * (weight_lb + STANDARD_WEIGHT_LB))
    return np.asarray(-level_rise(region, standard_cwt) * (fall + table.discount_more) / 100.0)


def price_sheet(region: Region, sex: str, standard_cwt: float) -> pd.DataFrame:
    """Return prices [$/cwt] by weight (rows, every 50 lb) and calendar month (columns 1 to 12).

    Parameters
    ----------
    standard_cwt : float [$/cwt]
        The standard calf's price as the mean of the year; each month moves with the season.
    """
    outlook: Outlook = outlook_of_region(region)
    curve, table = outlook.curve(sex), dict(region.sexes().items())[sex]  # type: ignore[index]
    first = np.ceil(curve.low_lb / SHEET_STEP_LB) * SHEET_STEP_LB
    weights = np.arange(first, curve.high_lb + 1e-9, SHEET_STEP_LB)
    index = np.array([month[0] for month in region.season.months()]) / 100.0
    level = level_effect(region, table, weights, standard_cwt)
    prices = {
        month: standard_cwt
        * index[month - 1]
        * np.exp(np.interp(weights, curve.weights_lb, curve.log_relative[month - 1]) + level)
        for month in range(1, MONTHS + 1)
    }
    return pd.DataFrame(prices, index=pd.Index(weights, name="weight_lb"))
