"""The backtest: what the fit would have said at each past month, from what was known then, against what came."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from slidefit.errors import FitError
from slidefit.facts import Setting, Text
from slidefit.futures_contracts import FuturesQuote
from slidefit.market.blend import (
    FIRST_ORIGIN_MONTHS,
    HORIZONS,
    MIN_ORIGINS,
    Origin,
    PastForecasts,
    past_forecasts,
    sale_noise_var,
)
from slidefit.market.fit.coding import RecordTable, coded_lots
from slidefit.market.fit.design import Recipe, scaled_weight
from slidefit.market.fit.fixed_effects import PriceIndex
from slidefit.market.fit.lots import Lots, draw_sales, month_number
from slidefit.market.fit.slide_fit import FittedSlide, fit_slide
from slidefit.market.fit.slide_model import SlideModel, sale_slopes
from slidefit.market.futures import QuoteHistory
from slidefit.market.market_fit import MarketFit, market_fit
from slidefit.market.months import MONTHS
from slidefit.market.season import LEVEL_SALES, LEVEL_WINDOW_DAYS
from slidefit.public_result import PublicBacktest
from slidefit.shared_work import Crew, processors

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Progress = Callable[[str], None]

_CHOICE_MONTHS = 12
_WORTH_SHARING = 150_000
"""Lots times months from which starting other processes pays."""


@dataclass(frozen=True, repr=False)
class Backtest(PublicBacktest, PastForecasts):
    """Forecasts of the standard calf's price at every later sale, by months ahead, and what came.

    Attributes
    ----------
    origins, forecast, walk, sd, actual, record
        As in `PastForecasts`; ``actual`` is read with the slide of all records.
    no_change, last_year, last_sale, month_season : arrays, shape (n, h)
        Simple forecasts: the mean price of the origin's month; that of the same month of the year before; the last
        sale's price; and the mean of the origin's month carried on by the season that was known then.
    has_futures : bool
    index : PriceIndex
    slope : array, shape (s,) [log points per cwt]
        How far the slide of each sale of ``index`` lay from hindsight's, as far as its lots can tell.
    hindsight : SlideModel. Of all records: what calves of any weight brought is read with them (see `brought`).
    """

    no_change: FloatArray
    last_year: FloatArray
    last_sale: FloatArray
    month_season: FloatArray
    index: PriceIndex
    slope: FloatArray
    hindsight: SlideModel
    has_futures: bool = False

    def of_month(self, month: int | None) -> Backtest:
        """Return only the origins in a calendar month (1 to 12), such as that of weaning; None is all of them.

        Raises
        ------
        FitError. No forecast starts in that month.
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


RIVALS = ("no_change", "last_year", "last_sale", "month_season")
_PER_ORIGIN = ("forecast", "walk", "sd", "actual", *RIVALS)


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
    records: pd.DataFrame | RecordTable,
    *,
    quotes: Sequence[FuturesQuote] = (),
    horizons: int = HORIZONS,
    first_origin_months: int = FIRST_ORIGIN_MONTHS,
    jobs: int | None = None,
    progress: Progress | None = None,
) -> Backtest:
    """Replay the fit at the end of every past month, with only the sales up to then.

    Everything is fitted anew each month (gross errors, row weights, slide, level, season, basis); only the choice of
    the slide's model is made once a year, before the months it serves. The futures' share and the scale of the ranges
    are learned from the outcomes known by then.

    The arguments are those of `slidefit.backtest`.

    Raises
    ------
    FitError. The records are too short to leave six origins, or can't be fitted at all.

    Notes
    -----
    Origins a month apart share most of what came after them: sixty origins at nine months ahead are not sixty
    independent tests but about seven.
    """
    tell = progress or (lambda _: None)
    with coded_lots(records) as coded:
        lots = draw_sales(coded.lots, len(coded.lots), 0).lots
    history = QuoteHistory(quotes) if quotes else None
    starts = _starts(lots, first_origin_months)
    if jobs is None:
        jobs = min(processors(), len(starts)) if len(lots) * len(starts) > _WORTH_SHARING else 1
    tell(f"replaying {month_day(starts[0]):%Y-%m} to {month_day(starts[-1]):%Y-%m}")
    yearly, origins = starts[::_CHOICE_MONTHS], []
    with Crew((lots, history), jobs) as crew, threadpool_limits(limits=1):
        whole = fit_slide(lots)
        full = market_fit(lots, whole)
        latest_first = list(crew.map(_replayed, [(month, None) for month in reversed(yearly)]))
        first = dict(zip(yearly, reversed(latest_first), strict=True))
        recipes = [first[yearly[place // _CHOICE_MONTHS]][1] for place in range(len(starts))]
        others = [each for each in zip(starts, recipes, strict=True) if each[0] not in first]
        later = crew.map(_replayed, others)
        for month in starts:
            origins.append((first[month] if month in first else next(later))[0])
            tell(f"replayed up to {month_day(month):%Y-%m}")
    return _judge(tuple(origins), full, _slopes(lots, whole), horizons, history)


def _slopes(lots: Lots, whole: FittedSlide) -> FloatArray:
    """Return each sale's slide against the fitted one in the order of the price index, drawn in by what it knows."""
    known, apart, variance = sale_slopes(whole.within)
    slope = np.zeros(lots.sales)
    slope[known] = apart * whole.drift_cwt**2 / (whole.drift_cwt**2 + variance)
    sale = whole.within.seen
    return np.asarray(slope[sale][np.argsort(lots.sale_day[sale], kind="stable")])


def _starts(lots: Lots, first_origin_months: int) -> list[int]:
    """Return the months with sales that a forecast starts from; at least six."""
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


def _replayed(
    told: tuple[Lots, QuoteHistory | None], asked: tuple[int, Recipe | None]
) -> tuple[Origin, Recipe]:
    """Return the outlook at a month's end and its model, chosen on what was known then where none is given."""
    (lots, history), (month, recipe) = told, asked
    known = lots.until(_month_end(month))
    slide = fit_slide(known, recipe=recipe)
    fitted = market_fit(known, slide, history=history)
    noise = sale_noise_var(fitted.index, fitted.season_fit.sale_sd)
    outlook = replace(fitted, quotes=()).outlook()
    return Origin(month, outlook, fitted.index.sale_log, noise), slide.within.recipe


def _judge(
    origins: tuple[Origin, ...],
    full: MarketFit,
    slope: FloatArray,
    horizons: int,
    history: QuoteHistory | None,
) -> Backtest:
    index = full.index
    past = past_forecasts(origins, index, sale_noise_var(index, full.season_fit.sale_sd), horizons, history)
    shape = (len(origins), horizons)
    no_change, last_year, last_sale, month_season = (np.full(shape, np.nan) for _ in range(4))
    first = int(index.month[0])
    for row, origin in enumerate(past.origins):
        place = origin.month - first
        no_change[row] = index.month_log[place]
        last_sale[row] = index.sale_log[month_number(index.sale_day) <= origin.month][-1]
        season = origin.outlook.season_log
        for step in range(min(horizons, len(index.month) - 1 - place)):
            before = place + step + 1 - MONTHS
            last_year[row, step] = index.month_log[before] if 0 <= before <= place else np.nan
            turn = season[(origin.month + step + 1) % MONTHS] - season[origin.month % MONTHS]
            month_season[row, step] = index.month_log[place] + turn
    simple: dict[str, Any] = dict(zip(RIVALS, (no_change, last_year, last_sale, month_season), strict=True))
    return Backtest(
        **vars(past),
        **simple,
        index=index,
        slope=slope,
        hindsight=full.model,
        has_futures=history is not None,
    )


def brought(
    test: Backtest, sex: str, weight_lb: FloatArray, day: date, *, until_then: bool = False
) -> FloatArray:
    """Return what calves of the standard grade brought about a day [ln $/cwt], the shape of ``weight_lb``.

    The mean of the three sales nearest the day (within 23 days; with ``until_then`` the last three up to it), at each
    weight by the slide of all records at the level of that time, and by how far those sales' own slide lay from it. NaN
    where there was no sale.

    Raises
    ------
    FitError. A sex that the records don't hold.
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
