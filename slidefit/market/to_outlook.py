"""From a fit to an outlook; past lots brought to today's level."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from slidefit.distributions import NORMAL_975
from slidefit.market.fit.coding import RecordTable, table_of
from slidefit.market.fit.slide_model import SlideModel
from slidefit.market.months import month_weights
from slidefit.market.outlook import (
    STANDARD_HEAD,
    STANDARD_WEIGHT_LB,
    GradeOffset,
    Outlook,
    SexCurve,
    grade_key,
)
from slidefit.market.season import Season

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]

GRID_STEP_LB = 10.0
GRID_BEYOND_LB = 300.0
GRID_LOWEST_LB = 50.0
BEYOND_SD_CWT = 0.03


def level_today(season: Season, level_mean: float) -> float:
    """Return today's price level about the records' mean, season included [log points]."""
    as_of = np.datetime64(season.level_day, "D").astype(date)
    return float(season.level_log + month_weights([as_of])[0] @ season.log - level_mean)


def curve_grid(low_lb: float, high_lb: float) -> FloatArray:
    """Return the weights that a curve is published at [lb]: even steps of 10 lb, 300 lb past the data on both sides.

    Even steps let a reader find a weight's place by division.

    >>> curve_grid(412.5, 780.0)[[0, 1, -1]]
    array([ 110.,  120., 1080.])
    """
    first = max(GRID_LOWEST_LB, GRID_STEP_LB * float(np.floor((low_lb - GRID_BEYOND_LB) / GRID_STEP_LB)))
    last = GRID_STEP_LB * np.ceil((high_lb + GRID_BEYOND_LB) / GRID_STEP_LB)
    return np.asarray(first + GRID_STEP_LB * np.arange(round((last - first) / GRID_STEP_LB) + 1.0))


def sex_curve(model: SlideModel, sex: str, drift_cwt: float) -> SexCurve:
    """Return a sex's price by weight and month at today's level, carried beyond the data with a wider error.

    Beyond the heaviest calves seen the curve goes on log-quadratically (slope as at the edge, curvature of the whole
    curve in ln weight); below the lightest with half the edge's slope.
    """
    support = model.support[sex]
    grid = curve_grid(support.low_lb, support.high_lb)
    inside = np.clip(grid, support.low_lb, support.high_lb)
    curves = extrapolate(grid, model.by_month(sex, inside), support.low_lb, support.high_lb)
    half = GRID_STEP_LB
    up = model.rows(sex, np.minimum(inside + half, support.high_lb), level=model.level_now)
    down = model.rows(sex, np.maximum(inside - half, support.low_lb), level=model.level_now)
    step = np.minimum(inside + half, support.high_lb) - np.maximum(inside - half, support.low_lb)
    gradient = (up - down) / (step / 100.0)[:, None]
    sampling = np.sqrt(np.maximum(((gradient @ model.cov) * gradient).sum(axis=1), 0.0))
    sampling *= model.rule.reach() / NORMAL_975
    beyond = np.where((grid < support.low_lb) | (grid > support.high_lb), BEYOND_SD_CWT, 0.0)
    return SexCurve(
        weights_lb=grid,
        log_relative=curves,
        slope_sd_cwt=np.sqrt(sampling**2 + drift_cwt**2 + beyond**2),
        low_lb=support.low_lb,
        high_lb=support.high_lb,
        stray_cwt=drift_cwt,
        level_slope=_level_slope(model, sex),
    )


def _level_slope(model: SlideModel, sex: str) -> float:
    """Return what a log point of price level adds to the slide at 550 lb [log points per cwt]."""
    names = ("level:weight", f"level:{sex}:weight")
    return sum(float(c) for name, c in zip(model.recipe.names(), model.coef, strict=True) if name in names)


def extrapolate(grid: FloatArray, curves: FloatArray, low_lb: float, high_lb: float) -> FloatArray:
    """Return curves with their flat ends replaced by the rule of `sex_curve`, in the shape of ``curves``.

    Parameters
    ----------
    grid : array, shape (m,) [lb]. Increasing, past both ends of the data.
    curves : array, shape (months, m) [log points]
        Fitted inside ``low_lb`` to ``high_lb``, outside held at its value at the end itself.
    """
    weight, first = np.unique(np.clip(grid, low_lb, high_lb), return_index=True)
    if len(weight) < 4:
        return curves
    value = curves[:, first]
    bend = np.polynomial.polynomial.polyfit(np.log(weight / STANDARD_WEIGHT_LB), value.T, 2)[2]
    top, bottom = weight[-1], weight[0]
    top_slope = (value[:, -1] - value[:, -3]) / (weight[-1] - weight[-3])
    bottom_slope = (value[:, 2] - value[:, 0]) / (weight[2] - weight[0])
    rise = np.log(grid / top)
    above = value[:, -1:] + np.outer(top_slope, top * rise) + np.outer(bend, rise**2)
    below = value[:, :1] + np.outer(0.5 * bottom_slope, grid - bottom)
    return np.where(grid > top, above, np.where(grid < bottom, below, curves))


def grade_offsets(model: SlideModel, places: Mapping[str, int]) -> dict[str, GradeOffset]:
    """Return grades against the standard one at today's level, by name; ``places`` are those in the recipe."""
    weights, each = [STANDARD_WEIGHT_LB, STANDARD_WEIGHT_LB + 100.0], [0, *places.values()]
    sex, level, grade = model.recipe.sexes[0], model.level_now, np.repeat(each, 2)
    log = model.rows(sex, np.tile(weights, len(each)), level=level, grade=grade) @ model.coef
    apart = (log.reshape(-1, 2)[1:] - log[:2]).tolist()
    return {name: GradeOffset(at, on - at) for name, (at, on) in zip(places, apart, strict=True)}


RECENT_DAYS = 365
MOST_LOTS = 20_000
DRAW_SEED = 20_002


@dataclass(frozen=True)
class Comparable:
    """Recent lots at today's level.

    Attributes
    ----------
    lots : DataFrame. ``sale_date``, ``market``, ``sex``, ``weight_lb``, ``head``, ``price_cwt`` [$/cwt].
    drawn : bool. Whether whole sales were drawn at random, since the recent lots are too many to show.
    """

    lots: pd.DataFrame
    drawn: bool


def _recent(table: RecordTable, outlook: Outlook, days: int, most: int) -> tuple[pd.DataFrame, bool]:
    """Return the records of the last days, or of whole sales drawn among them, the same every time; and whether so."""
    since, until = outlook.as_of - timedelta(days=days), outlook.as_of
    recent = f"FROM tidy WHERE sale_date > DATE '{since}' AND sale_date <= DATE '{until}'"
    with table.opened() as connection:
        sales = connection.execute(
            f"SELECT sale_date, coalesce(market, '') AS barn, count(*) AS lots {recent} GROUP BY ALL ORDER BY ALL"
        ).df()
        share = most / max(float(sales["lots"].sum()), 1.0)
        if share < 1.0:
            sales = sales[np.random.default_rng(DRAW_SEED).random(len(sales)) < share]
        connection.register("shown", sales)
        found = connection.execute(
            "SELECT tidy.sale_date, tidy.market, sex, frame, muscle, head, weight_lb, price_cwt FROM tidy "
            "JOIN shown ON tidy.sale_date = shown.sale_date AND coalesce(market, '') = barn "
            f"ORDER BY tidy.sale_date, tidy.market, {table.order}"
        ).df()
    return found, share < 1.0


def comparable_prices(
    outlook: Outlook, records: pd.DataFrame | RecordTable, *, days: int = RECENT_DAYS, most: int = MOST_LOTS
) -> Comparable:
    """Return recent lots at today's price level, in today's month, as the standard grade in a lot of 15.

    price today = curve today x exp(residual), the residual being the lot's distance from the curve of its own
    month, grade and lot size, with the median of its sale (market and day) taken off.

    Parameters
    ----------
    outlook : Outlook
    records : DataFrame or RecordTable. Tidy sale records.
    days : int. How far back from ``outlook.as_of``.
    most : int. About as many lots are taken; of more, whole sales are drawn at random, always the same ones.

    Returns
    -------
    Comparable. Lots of a sex, grade or weight that the outlook doesn't know are left out, as are sales of one lot.

    Notes
    -----
    The level of each sale is taken from its own lots, so the cloud shows the scatter within sales, not the
    uncertainty of the price level. The curve is in the points: they are not independent evidence of it.
    """
    import pandas as pd

    table = table_of(records)
    recent, drawn = _recent(table, outlook, days, most)
    fitted = replace(outlook, drift_slope=0.0)
    grades = [grade_key(*pair) for pair in zip(recent["frame"], recent["muscle"], strict=True)]
    known = recent["sex"].isin(list(outlook.curves)) & np.isin(grades, list(outlook.grades))
    usable = recent[known & (recent["price_cwt"] > 0) & recent["weight_lb"].notna()].reset_index(drop=True)
    inside = np.zeros(len(usable), dtype=bool)
    expected, today = np.full(len(usable), np.nan), np.full(len(usable), np.nan)
    heads = usable["head"].fillna(STANDARD_HEAD).clip(lower=1.0)
    for keys, lots in usable.groupby(["sale_date", "sex", "frame", "muscle"], sort=False):
        day, sex, frame, muscle = keys
        at = lots.index.to_numpy()
        weight = lots["weight_lb"].to_numpy(dtype=float)
        curve = outlook.curves[str(sex)]
        inside[at] = (weight >= curve.low_lb) & (weight <= curve.high_lb)
        then = fitted.log_relative(
            str(sex), weight, pd.Timestamp(str(day)).date(), frame=str(frame), muscle=str(muscle)
        )
        expected[at] = then + outlook.head_slope * np.log(heads.to_numpy()[at] / STANDARD_HEAD)
        today[at] = outlook.log_index([outlook.as_of])[0] + outlook.log_relative(
            str(sex), weight, outlook.as_of
        )
    residual = pd.Series(np.log(usable["price_cwt"].to_numpy(dtype=float)) - expected)
    sales = residual.groupby([usable["market"], usable["sale_date"]])
    kept = inside & (sales.transform("size") > 1).to_numpy()
    residual = residual - sales.transform("median")
    out = usable[["sale_date", "market", "sex", "weight_lb", "head"]].copy()
    out["price_cwt"] = np.exp(today + residual.to_numpy())
    return Comparable(out[kept].reset_index(drop=True), drawn)
