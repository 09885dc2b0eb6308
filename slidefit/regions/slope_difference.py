"""How the slide of one market's own records differs from a region's: its tilt, and its own price of today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from slidefit.errors import FitError
from slidefit.market.fit.leastsquares import (
    Chunk,
    Solution,
    clustered_cov,
    residuals,
    sale_effects,
    sale_scores,
    solve,
    summarise,
)
from slidefit.market.months import DAYS_PER_MONTH, month_weights
from slidefit.market.outlook import STANDARD_HEAD, STANDARD_WEIGHT_LB, Outlook, grade_key
from slidefit.market.season import LEVEL_SALES, LEVEL_WINDOW_DAYS
from slidefit.regions.region import Region, SexTable
from slidefit.regions.region_outlook import level_effect, outlook_of_region

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEVEL_PASSES = 3
MIN_LOTS = 10
DRIFT_WEEKS = 11.5
"""Weeks that count as one for a slide that strays with a weekly autocorrelation of .84: (1 + .84) / (1 - .84)."""


@dataclass(frozen=True)
class Tilt:
    """A market's slide less the region's, the same at every weight [points per cwt, positive steeper].

    Attributes
    ----------
    points, se : float
    lots : int
    stray : float
        Part of the error that is the slide's straying over the weeks seen, which other markets share.
    first_day, last_day : int
        Days since 1970-01-01.
    """

    points: float
    se: float
    lots: int
    stray: float = 0.0
    first_day: int = 0
    last_day: int = 0


@dataclass(frozen=True)
class OwnMarket:
    """What a market's own records say against a region's file.

    Attributes
    ----------
    tilts : mapping of sex to Tilt
        Sexes with under 10 lots in sales of two or more are left out.
    as_of : date
        Its last sale.
    log_level, level_sd : float
        ln($/cwt) of the standard calf then, season out, from its last three sales; and one standard error.
    first_sale : date
    lots, head, sales, months : int
    """

    tilts: Mapping[str, Tilt]
    as_of: date
    log_level: float
    level_sd: float
    first_sale: date
    lots: int
    head: int
    sales: int
    months: int


@dataclass(frozen=True)
class _Lots:
    """Usable lots by sale; arrays of shape (n,), and the head that were counted."""

    log_price: FloatArray
    weight_lb: FloatArray
    sex: NDArray[np.str_]
    grade: NDArray[np.str_]
    head: FloatArray
    day: IntArray
    sale: IntArray
    sale_day: IntArray
    known_head: int


def own_market(region: Region, records: pd.DataFrame) -> OwnMarket:
    """Return how one market's records differ from a region's file.

    Within each sale the log price less the region's expectation is regressed on weight, a slope for each sex:

        ln price - expected(weight, sex, grade, month, level) = a_sale + offset_sex - tilt_sex x + error

    with x = (weight - 550 lb) / 100. The error of a tilt is that clustered by sale, never below that of independent
    lots, and the slide's straying over the weeks seen: slide_pct^2 min(1, 11.5 / weeks), the variance of the mean of
    an autoregression of .84 a week (measured on real records).

    Raises
    ------
    FitError
        No sale of these records has two usable lots.
    """
    outlook = outlook_of_region(region)
    lots = _usable(outlook, records)
    if not len(lots.log_price) or np.bincount(lots.sale).max() < 2:
        raise FitError(
            f"no sale of {', '.join(region.markets) or 'the market'} has two lots that the region's file can price",
            remedy="Add whole sales, or take the region's file as it is.",
        )
    columns, sexes = _columns(lots, region.standard.sex)
    row_weight = 1.0 / (outlook.lot_sd**2 + outlook.calf_sd**2 / np.maximum(lots.head, 1.0) + 1e-8)
    expected = _expected(outlook, lots)
    level = np.full(len(lots.sale_day), np.log(region.price.standard_cwt))
    for _ in range(LEVEL_PASSES):
        y = lots.log_price - expected - _level_effects(region, lots, np.exp(level))
        chunk = Chunk(y=y, X=columns, row_weight=row_weight, sale=lots.sale)
        solution = solve(summarise(chunk))
        level[np.unique(lots.sale)] = sale_effects(chunk, solution.coef)
    tilts = _tilts(chunk, solution, lots, sexes, region.noise.slide_pct / 100.0)
    as_of, log_level, level_sd = _level_now(outlook, lots, level)
    days = lots.sale_day.astype("datetime64[D]")
    return OwnMarket(
        tilts=tilts,
        as_of=as_of,
        log_level=log_level,
        level_sd=level_sd,
        first_sale=days[0].astype(date),
        lots=len(lots.log_price),
        head=lots.known_head,
        sales=len(days),
        months=len(np.unique(days.astype("datetime64[M]"))),
    )


def _usable(outlook: Outlook, records: pd.DataFrame) -> _Lots:
    grades = np.array(
        [grade_key(*pair) for pair in zip(records["frame"], records["muscle"], strict=True)], dtype=str
    )
    weight = records["weight_lb"].to_numpy(dtype=float)
    sex = records["sex"].to_numpy(dtype=str)
    inside = np.zeros(len(records), dtype=bool)
    for name, curve in outlook.curves.items():
        inside |= (sex == name) & (weight >= curve.low_lb) & (weight <= curve.high_lb)
    price = records["price_cwt"].to_numpy(dtype=float)
    use = inside & np.isin(grades, list(outlook.grades)) & (price > 0)
    rows = records[use]
    day = rows["sale_date"].to_numpy().astype("datetime64[D]").astype(np.int64)
    order = np.argsort(day, kind="stable")
    sale_day, sale = np.unique(day[order], return_inverse=True)
    return _Lots(
        log_price=np.log(price[use][order]),
        weight_lb=weight[use][order],
        sex=sex[use][order],
        grade=grades[use][order],
        head=rows["head"].fillna(STANDARD_HEAD).to_numpy(dtype=float)[order],
        day=day[order],
        sale=sale.astype(np.int64),
        sale_day=sale_day,
        known_head=int(rows["head"].sum()),
    )


def _columns(lots: _Lots, standard_sex: str) -> tuple[FloatArray, list[str]]:
    """Return minus x for each sex with lots enough, then an offset for each sex that is not the standard one."""
    x = (lots.weight_lb - STANDARD_WEIGHT_LB) / 100.0
    sexes = [
        str(sex)
        for sex, count in zip(*np.unique(lots.sex, return_counts=True), strict=True)
        if count >= MIN_LOTS
    ]
    tilts = [-x * (lots.sex == sex) for sex in sexes]
    offsets = [(lots.sex == sex).astype(float) for sex in np.unique(lots.sex) if sex != standard_sex]
    columns = tilts + offsets
    return np.column_stack(columns) if columns else np.empty((len(x), 0)), sexes


def _expected(outlook: Outlook, lots: _Lots) -> FloatArray:
    """Return the region's expected log price of each lot against the standard calf of the same sale."""
    months = month_weights(lots.sale_day.astype("datetime64[D]").tolist())[lots.sale]
    expected = outlook.head_slope * np.log(np.maximum(lots.head, 1.0) / STANDARD_HEAD)
    for sex, curve in outlook.curves.items():
        mine = lots.sex == sex
        by_month = np.vstack(
            [np.interp(lots.weight_lb[mine], curve.weights_lb, row) for row in curve.log_relative]
        )
        expected[mine] += (months[mine] * by_month.T).sum(axis=1)
    for grade, offset in outlook.grades.items():
        mine = lots.grade == grade
        x = (lots.weight_lb[mine] - STANDARD_WEIGHT_LB) / 100.0
        expected[mine] += offset.log_offset + offset.slope_cwt * x
    return np.asarray(expected)


def _level_effects(region: Region, lots: _Lots, level_cwt: FloatArray) -> FloatArray:
    effect = np.zeros(len(lots.log_price))
    tables: Mapping[str, SexTable] = dict(region.sexes().items())
    for sex, table in tables.items():
        mine = lots.sex == sex
        effect[mine] = level_effect(region, table, lots.weight_lb[mine], level_cwt[lots.sale[mine]])
    return effect


def _tilts(
    chunk: Chunk, solution: Solution, lots: _Lots, sexes: list[str], slide_sd: float
) -> dict[str, Tilt]:
    scores = sale_scores(chunk, solution)
    alone = len(scores) < 2
    cov = np.zeros_like(solution.bread) if alone else clustered_cov(solution, scores, np.arange(len(scores)))
    error = residuals(chunk, solution.coef)
    variance = max(
        float((chunk.row_weight * error**2).sum() / max(len(error) - len(solution.coef), 1)), 1e-12
    )
    plain = variance * np.diag(solution.bread)
    weeks = (float(np.ptp(lots.sale_day)) + 7.0) / 7.0
    stray = slide_sd**2 * min(1.0, DRIFT_WEEKS / weeks)
    return {
        sex: Tilt(
            100.0 * float(solution.coef[place]),
            100.0 * float(np.sqrt(max(cov[place, place], plain[place]) + stray)),
            int((lots.sex == sex).sum()),
            100.0 * float(np.sqrt(stray)),
            int(lots.sale_day[0]),
            int(lots.sale_day[-1]),
        )
        for place, sex in enumerate(sexes)
        if solution.identified[place]
    }


def _level_now(outlook: Outlook, lots: _Lots, level: FloatArray) -> tuple[date, float, float]:
    """Return the last sale, the season-free level then from the last three sales of 45 days, and its error."""
    last = int(lots.sale_day[-1])
    recent = np.flatnonzero(lots.sale_day > last - LEVEL_WINDOW_DAYS)[-LEVEL_SALES:]
    days = lots.sale_day[recent]
    shares = month_weights(days.astype("datetime64[D]").tolist())
    behind = (last - float(days.mean())) / DAYS_PER_MONTH
    lots_there = np.bincount(lots.sale)[recent]
    noise = (outlook.sale_sd**2 + outlook.noise_sd(STANDARD_HEAD) ** 2 / lots_there).mean() / len(recent)
    spread = float(np.sqrt(noise + outlook.walk_sd_month**2 * behind))
    as_of = np.datetime64(last, "D").astype(date)
    return as_of, float((level[recent] - shares @ outlook.season_log).mean()), spread
