"""Past forecasts against what came; their accuracy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

import joblib
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri
from threadpoolctl import threadpool_limits

from slidefit.errors import FitError
from slidefit.facts import Setting, Text
from slidefit.market.fit.coding import sorted_lots
from slidefit.market.fit.design import Recipe, scaled_weight
from slidefit.market.fit.fixed_effects import PriceIndex
from slidefit.market.fit.lots import Lots, month_number
from slidefit.market.fit.slide_fit import FittedSlide, fit_slide
from slidefit.market.fit.slide_model import SlideModel, sale_slopes
from slidefit.market.market_fit import MarketFit, market_fit
from slidefit.market.months import MONTHS
from slidefit.market.outlook import Outlook
from slidefit.market.season import LEVEL_SALES, LEVEL_WINDOW_DAYS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Progress = Callable[[str], None]

HORIZONS = 9
FIRST_ORIGIN_MONTHS = 24
CHOICE_MONTHS = 12
MIN_ORIGINS = 6
WORTH_SHARING = 150_000
"""Lots times months from which starting other processes pays."""


@dataclass(frozen=True)
class Origin:
    """One past month: the outlook that the sales up to its end gave.

    Attributes
    ----------
    month : int
        Months since 1970-01.
    outlook : Outlook
    """

    month: int
    outlook: Outlook


@dataclass(frozen=True)
class Backtest:
    """Forecasts of the standard calf's price at every later sale, by months ahead, and what came.

    Attributes
    ----------
    origins : tuple of Origin, length n
    forecast, sd, actual : arrays, shape (n, h, k) [log points]
        Of the sales in months 1 .. h after each origin, k at most in a month, NaN where there are fewer; ``sd`` has
        the sale's own noise in it; ``actual`` is read with the slide of all records.
    no_change, last_year : arrays, shape (n, h)
        Two simple forecasts: the mean price of the origin's month, and that of the same month of the year before.
    index : PriceIndex
    slope : array, shape (s,) [log points per cwt]
        How far the slide of each sale of ``index`` lay from hindsight's, as far as its lots can tell.
    hindsight : SlideModel
        Of all records: what calves of any weight brought is read with them (see `brought`).
    """

    origins: tuple[Origin, ...]
    forecast: FloatArray
    sd: FloatArray
    actual: FloatArray
    no_change: FloatArray
    last_year: FloatArray
    index: PriceIndex
    slope: FloatArray
    hindsight: SlideModel

    def of_month(self, month: int | None) -> Backtest:
        """Return only the origins in a calendar month (1 to 12), such as that of weaning; None is all of them.

        Raises
        ------
        FitError
            No forecast starts in that month.
        """
        if month is None:
            return self
        keep = np.array([o.month % MONTHS == month - 1 for o in self.origins])
        if not keep.any():
            raise FitError(
                f"none of the {len(keep)} forecasts starts in month {month}",
                where=Text(Setting("wean_month")),
                remedy="Choose a month with sales in the records.",
            )
        return replace(
            self,
            origins=tuple(o for o, kept in zip(self.origins, keep, strict=True) if kept),
            **{name: getattr(self, name)[keep] for name in _PER_ORIGIN},
        )


_PER_ORIGIN = ("forecast", "sd", "actual", "no_change", "last_year")


def month_day(month: int, day: int = 15) -> date:
    """Return a day of a month counted since 1970-01.

    >>> month_day(12 * 56)
    datetime.date(2026, 1, 15)
    """
    return date(1970 + month // MONTHS, month % MONTHS + 1, day)


def _month_end(month: int) -> int:
    first_of_next = month_day(month + 1, 1)
    return ((first_of_next - timedelta(days=1)) - date(1970, 1, 1)).days


def backtest(
    records: pd.DataFrame,
    *,
    horizons: int = HORIZONS,
    first_origin_months: int = FIRST_ORIGIN_MONTHS,
    jobs: int | None = None,
    progress: Progress | None = None,
) -> Backtest:
    """Replay the fit at the end of every past month, with only the sales up to then.

    Everything is fitted anew each month (gross errors, row weights, slide, level, season); only the choice of the
    slide's model is made once a year, before the months it serves.

    Parameters
    ----------
    records : DataFrame
        Tidy sale records.
    horizons : int
        Months ahead, 1 to ``horizons``.
    first_origin_months : int
        Months of records before the first forecast.
    jobs : int, optional
        Processes that share the years replayed; by default one for each processor where the work is worth it. The
        answer doesn't depend on it.

    Raises
    ------
    FitError
        The records are too short to leave six origins, or can't be fitted at all.

    Notes
    -----
    Origins a month apart share most of what came after them: sixty origins at nine months ahead are not sixty
    independent tests but about seven.
    """
    tell = progress or (lambda _: None)
    lots, _ = sorted_lots(records)
    starts = _starts(lots, first_origin_months)
    blocks = [starts[first : first + CHOICE_MONTHS] for first in range(0, len(starts), CHOICE_MONTHS)]
    if jobs is None:
        jobs = min(joblib.cpu_count(), len(blocks)) if len(lots) * len(starts) > WORTH_SHARING else 1
    tell(f"replaying {month_day(starts[0]):%Y-%m} to {month_day(starts[-1]):%Y-%m}")
    shared = joblib.Parallel(n_jobs=jobs, return_as="generator")(
        joblib.delayed(_replay)(lots, block) for block in blocks
    )
    origins: list[Origin] = []
    for block in shared:
        origins += block
        tell(f"replayed up to {month_day(block[-1].month):%Y-%m}")
    with threadpool_limits(limits=1):
        whole = fit_slide(lots)
        full = market_fit(lots, whole, whole.within.effects)
    return _judge(tuple(origins), full, _slopes(lots, whole), horizons)


def _slopes(lots: Lots, whole: FittedSlide) -> FloatArray:
    """Return each sale's slide against the fitted one in the order of the price index, drawn in by what it knows."""
    found = sale_slopes(whole.within)
    slope = np.zeros(lots.sales)
    slope[found.sale] = found.slope * whole.drift_cwt**2 / (whole.drift_cwt**2 + found.variance)
    sale = whole.within.effects.sale
    return np.asarray(slope[sale][np.argsort(lots.sale_day[sale], kind="stable")])


def _starts(lots: Lots, first_origin_months: int) -> list[int]:
    """Return the months with sales that a forecast starts from; at least six.

    Raises
    ------
    FitError
        The records are too short for that.
    """
    sold = month_number(lots.sale_day)
    months = np.arange(sold.min(), sold.max() + 1)
    starts = sorted(set(months[first_origin_months - 1 : -1].tolist()) & set(sold.tolist()))
    if len(starts) < MIN_ORIGINS:
        raise FitError(
            f"the records span {len(months)} months: a backtest needs {first_origin_months} to learn from and "
            f"{MIN_ORIGINS} more with sales to be judged by",
            remedy="Add older or later sales.",
        )
    return starts


def _replay(lots: Lots, block: list[int]) -> list[Origin]:
    """Return the outlooks at the ends of a run of months, the model chosen on what was known at the first."""
    origins = []
    recipe: Recipe | None = None
    with threadpool_limits(limits=1):
        for month in block:
            known = lots.until(_month_end(month))
            slide = fit_slide(known, recipe=recipe)
            recipe = slide.within.recipe
            origins.append(Origin(month, market_fit(known, slide, slide.within.effects).outlook()))
    return origins


def _judge(origins: tuple[Origin, ...], full: MarketFit, slope: FloatArray, horizons: int) -> Backtest:
    index = full.index
    first, months = int(index.month[0]), len(index.month)
    sold = month_number(index.sale_day) - first
    sales = [np.flatnonzero(sold == place) for place in range(months)]
    days = index.sale_day.astype("datetime64[D]").tolist()
    noise = (index.month_var * index.month_sales - index.sale_sd**2 + full.season_fit.sale_sd**2)[sold]
    shape = (len(origins), horizons)
    forecast, sd, actual = (np.full((*shape, int(index.month_sales.max())), np.nan) for _ in range(3))
    no_change, last_year = (np.full(shape, np.nan) for _ in range(2))
    for row, origin in enumerate(origins):
        place = origin.month - first
        no_change[row] = index.month_log[place]
        for step in range(min(horizons, months - 1 - place)):
            mine = sales[place + step + 1]
            when = [days[sale] for sale in mine]
            at = (row, step, slice(0, len(mine)))
            forecast[at] = origin.outlook.log_index(when)
            sd[at] = np.sqrt(np.diag(origin.outlook.index_cov(when)) + noise[mine])
            actual[at] = index.sale_log[mine]
            before = place + step + 1 - MONTHS
            last_year[row, step] = index.month_log[before] if 0 <= before <= place else np.nan
    return Backtest(origins, forecast, sd, actual, no_change, last_year, index, slope, full.model)


def brought(
    test: Backtest, sex: str, weight_lb: FloatArray, day: date, *, until_then: bool = False
) -> FloatArray:
    """Return what calves of the standard grade brought about a day [ln $/cwt], the shape of ``weight_lb``.

    The mean of the three sales nearest the day (within 23 days; with ``until_then`` the last three up to it), at each
    weight by the slide of all records at the level of that time, and by how far those sales' own slide lay from it. NaN
    where there was no sale.

    Raises
    ------
    FitError
        A sex that the records don't hold.
    """
    if sex not in test.hindsight.recipe.sexes:
        known = ", ".join(test.hindsight.recipe.sexes)
        raise FitError(f"the fit has no slide for sex {sex!r}", remedy=f"Use one of: {known}.")
    at = (day - date(1970, 1, 1)).days
    apart = test.index.sale_day - at
    window = LEVEL_WINDOW_DAYS if until_then else LEVEL_WINDOW_DAYS // 2 + 1
    near = np.flatnonzero((apart <= 0 if until_then else True) & (np.abs(apart) <= window))
    if not len(near):
        return np.full(np.shape(weight_lb), np.nan)
    nearest = near[np.argsort(np.abs(apart[near]), kind="stable")[:LEVEL_SALES]]
    level = float(test.index.sale_log[nearest].mean())
    rows = test.hindsight.rows(sex, weight_lb, month=day.month, level=level - test.hindsight.level_mean)
    tilt = test.slope[nearest].mean() * scaled_weight(weight_lb)
    return np.asarray(level + rows @ test.hindsight.coef + tilt)


SHARES_PCT = (50, 80, 95)
GOOD_COVERAGE_PCT = (70.0, 90.0)
SKILL_MARGIN_PCT = 2.0
FEW_FORECASTS = 20


def accuracy_table(test: Backtest) -> pd.DataFrame:
    """Return the record of past forecasts, a row for each number of months ahead.

        error = actual - forecast [log points x 100, about percent],   skill = 100 (1 - RMSE / RMSE of the simple one)

    Returns
    -------
    DataFrame
        ``months_ahead``, ``forecasts`` (their number: one for each sale of the month), ``bias_pct`` (positive: prices
        came in higher), ``rmse_pct``,
        ``half_width_80_pct``, ``covered_50_pct``, ``covered_80_pct``, ``covered_95_pct``, ``skill_no_change_pct``
        and ``skill_last_year_pct`` (positive: better than it, over the forecasts that both could make).

    Notes
    -----
    Sales of one month, and forecasts that start a month apart, share most of what came: their number overstates the
    evidence.
    """
    error = test.actual - test.forecast
    rows = []
    for place in range(error.shape[1]):
        mine, sd = error[:, place], test.sd[:, place]
        seen = np.isfinite(mine)
        row: dict[str, float] = {"months_ahead": place + 1, "forecasts": int(seen.sum())}
        row["bias_pct"] = 100.0 * _mean(mine[seen])
        row["rmse_pct"] = 100.0 * _rms(mine[seen])
        row["half_width_80_pct"] = 100.0 * float(ndtri(0.9)) * _mean(sd[seen])
        for share in SHARES_PCT:
            reach = float(ndtri(0.5 + share / 200.0))
            row[f"covered_{share}_pct"] = 100.0 * _mean(
                (np.abs(mine[seen]) <= reach * sd[seen]).astype(float)
            )
        for name, simple in (("no_change", test.no_change), ("last_year", test.last_year)):
            other = test.actual[:, place] - simple[:, place, None]
            both = seen & np.isfinite(other)
            row[f"skill_{name}_pct"] = _skill(mine[both], other[both])
        rows.append(row)
    return pd.DataFrame(rows).astype({"months_ahead": int, "forecasts": int})


def _mean(values: FloatArray) -> float:
    return float(values.mean()) if len(values) else float("nan")


def _rms(values: FloatArray) -> float:
    return float(np.sqrt((values**2).mean())) if len(values) else float("nan")


def _skill(mine: FloatArray, other: FloatArray) -> float:
    base = _rms(other)
    return 100.0 * (1.0 - _rms(mine) / base) if base > 0 else float("nan")


def accuracy_notes(test: Backtest) -> tuple[str, ...]:
    """Return what the record of past forecasts says, in words, bad news first."""
    table = accuracy_table(test).set_index("months_ahead")
    first, last = month_day(test.origins[0].month), month_day(test.origins[-1].month)
    notes = [
        f"{len(test.origins)} forecasts from {first:%Y-%m} to {last:%Y-%m}, each from the sales up to its month only; "
        "those a month apart share most of what came after them"
    ]
    if len(test.origins) < FEW_FORECASTS:
        notes.append(f"{len(test.origins)} forecasts are few: a lucky or unlucky year decides the figures")
    low, high = GOOD_COVERAGE_PCT
    off = table[(table["covered_80_pct"] < low) | (table["covered_80_pct"] > high)]
    if len(off):
        told = ", ".join(f"{m} months: {c:.0f}" for m, c in off["covered_80_pct"].items())
        notes.append(
            f"80 percent ranges that held fewer than {low:.0f} or more than {high:.0f} in 100 ({told})"
        )
    else:
        seen = table["covered_80_pct"]
        notes.append(f"80 percent ranges held {seen.min():.0f} to {seen.max():.0f} times in 100")
    one_sided = table[np.abs(table["bias_pct"]) > 0.5 * table["rmse_pct"]]
    if len(one_sided):
        way = "higher" if one_sided["bias_pct"].mean() > 0 else "lower"
        notes.append(
            f"prices mostly came in {way} than forecast ({one_sided['bias_pct'].iloc[-1]:+.0f}% at "
            f"{one_sided.index[-1]} months): the records are of a market that moved one way"
        )
    notes.append(_skill_note(table, "skill_no_change_pct", "no change"))
    notes.append(_skill_note(table, "skill_last_year_pct", "the same month last year"))
    return tuple(notes)


def _skill_note(table: pd.DataFrame, column: str, other: str) -> str:
    skill = table[column].dropna()
    if skill.empty:
        return f"there is no year before to compare with {other}"
    better = [str(m) for m, s in skill.items() if s > SKILL_MARGIN_PCT]
    worse = [str(m) for m, s in skill.items() if s < -SKILL_MARGIN_PCT]
    parts = []
    if better:
        parts.append(f"beats {other} at {', '.join(better)} months ahead (by up to {skill.max():.0f}%)")
    if worse:
        parts.append(f"does worse than {other} at {', '.join(worse)} months ahead")
    return "the forecast " + " and ".join(parts) if parts else f"the forecast is no better than {other}"
