"""Expectations blended: half the level and season, half futures; shares and ranges moved by past forecasts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from slidefit.futures_contracts import FuturesQuote
from slidefit.market.fit.design import design, one_calf
from slidefit.market.fit.fixed_effects import PriceIndex
from slidefit.market.fit.lots import day_of_year, month_number
from slidefit.market.fit.slide_model import SlideModel
from slidefit.market.futures import (
    CONTRACT_WEIGHT_LB,
    OLDEST_QUOTE_DAYS,
    PRIOR_SHARE,
    Curve,
    FuturesView,
    MonthBasis,
    QuoteHistory,
    fit_basis,
    futures_path,
)
from slidefit.market.months import DAYS_PER_MONTH, EPOCH, MONTHS
from slidefit.market.outlook import Outlook
from slidefit.market.past_record import (
    NEEDED_MONTHS,
    OURS,
    PastRecord,
    learned_scale,
    learned_share,
    said_came,
)
from slidefit.market.season import fit_season
from slidefit.market.to_outlook import level_today

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

HORIZONS = 9
FIRST_ORIGIN_MONTHS = 24
MIN_ORIGINS = 6
MOST_ORIGIN_MONTHS = 120
"""Ten years of past forecasts are looked back at: enough, and never more than a second or two of work."""
_STEP_DAYS = 3
RAMP_DAYS = 7
"""The day of the last sale is known from the sale; the futures' share grows to its full size in a week (our choice)."""
FADE_MONTHS = 3.0
"""Past its last contract what the futures add halves every three months (our choice). Kept whole it was .76 to .92
times the error of none in the rising years to 2022; it was 1.03 to 1.22 after 2023 (docs/method.md)."""
_BEYOND_MONTHS = 24
ERRORS_TOGETHER = 0.75
"""Correlation of the two errors: .54 to .79 at one to seven months on the New Mexico records."""


def market_basis(
    model: SlideModel, index: PriceIndex, level_today: float, history: QuoteHistory
) -> MonthBasis | None:
    """Return cash less futures by month from the index, its slide carrying the standard calf to the contract's weight.

    Parameters
    ----------
    level_today : float [log points]. About the records' mean, season included.
    history : QuoteHistory. Only quotes up to each sale are held against it.

    Returns
    -------
    MonthBasis or None. None where fewer than twelve months hold sales with quotes.
    """
    sex = model.recipe.sexes[0]
    weight_lb = float(min(CONTRACT_WEIGHT_LB, model.support[sex].high_lb))
    at_sales = _relative(
        model, sex, weight_lb, day_of_year(index.sale_day), index.sale_log - model.level_mean
    )
    day_sd = history.day_sd(int(index.sale_day[-1]))
    found = fit_basis(index.sale_day, index.sale_log + at_sales, history.nearest_log(index.sale_day), day_sd)
    if found is None:
        return None
    middles = np.array([f"2025-{month:02d}-15" for month in range(1, MONTHS + 1)], dtype="datetime64[D]")
    today = _relative(
        model, sex, weight_lb, day_of_year(middles.astype(np.int64)), np.full(MONTHS, level_today)
    )
    return replace(found, weight_lb=weight_lb, relative=today)


def _relative(
    model: SlideModel, sex: str, weight_lb: float, day: FloatArray, level: FloatArray
) -> FloatArray:
    """Return ln(price at a weight / price of the standard calf) by day of the year and level, shape (n,)."""
    calves = one_calf(model.recipe, sex, np.full(len(day), weight_lb), day=day)
    calves = replace(calves, level=np.clip(level, *model.level_range))
    return np.asarray(design(model.recipe, calves) @ model.coef)


def futures_outlook(
    outlook: Outlook, quotes: Sequence[FuturesQuote] | QuoteHistory, share: float | None = None
) -> Outlook:
    """Return the outlook with futures in its expected prices and their ranges.

        expected = (1 - share) (level + season) + share (futures and basis)
        variance = a^2 + b^2 + 2 x .75 a b,   a = (1 - share) sd of the level, b = share x sd of the futures

    Parameters
    ----------
    quotes : sequence of FuturesQuote, or QuoteHistory
        Of any days; the newest day's contracts are used. Without quotes the outlook is returned as it is.
    share : float, optional. By default what past forecasts taught (``outlook.record``), else one half.
    """
    history = quotes if isinstance(quotes, QuoteHistory) else QuoteHistory(quotes)
    if not history.quotes:
        return outlook
    plain = replace(outlook, futures=None)
    if share is None:
        share = outlook.record.futures_share if outlook.record is not None else PRIOR_SHARE
    basis, newest = outlook.month_basis, history.quotes[-1].as_of
    today = max((max(outlook.as_of, newest) - EPOCH).days, 0)
    curve = history.curve(today, OLDEST_QUOTE_DAYS)
    if basis is None or curve is None:
        old = (outlook.as_of - newest).days > OLDEST_QUOTE_DAYS
        why = "too_old" if old else "expired" if curve is None else "short_basis"
        log = np.zeros(MONTHS) if basis is None else basis.log
        contracts = curve.contracts if curve is not None else ()
        return replace(plain, futures=FuturesView(newest, contracts, 0.0, log, set_aside=why))
    months, shift, ratio = _path(plain, curve, basis, share)
    view = FuturesView(
        newest, curve.contracts, share, basis.log, basis.weight_lb, months=months, shift=shift, ratio=ratio
    )
    return replace(plain, futures=view)


def _path(
    plain: Outlook, curve: Curve, basis: MonthBasis, share: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return months from the last sale, what futures add there, and the ratio of standard errors, shapes (g,)."""
    start = (plain.as_of - EPOCH).days
    last = max(int(curve.expiries[-1]), start + RAMP_DAYS)
    inside = np.arange(start, last, _STEP_DAYS)
    beyond = last + np.round(DAYS_PER_MONTH * np.arange(_BEYOND_MONTHS + 1)).astype(np.int64)
    days = np.concatenate([inside, beyond])
    when = [EPOCH + timedelta(int(day)) for day in days]
    path, path_sd = futures_path(curve, basis, when[: len(inside) + 1], plain.as_of)
    seen = np.isfinite(path)
    wide = replace(plain, range_scale=())
    of_level = np.sqrt(wide.index_var(when))
    held = np.flatnonzero(seen)[-1] if seen.any() else 0
    known = slice(0, held + 1)
    grown = share * np.clip((days - start) / RAMP_DAYS, 0.0, 1.0)[known]
    shift, ratio = np.zeros(len(days)), np.ones(len(days))
    if seen.any():
        shift[known] = grown * (path[known] - plain.log_index(when[: held + 1]))
        parts = (1.0 - grown) * of_level[known], grown * path_sd[known]
        mixed = np.sqrt(parts[0] ** 2 + parts[1] ** 2 + 2.0 * ERRORS_TOGETHER * parts[0] * parts[1])
        ratio[known] = mixed / of_level[known]
        after = (days[held + 1 :] - days[held]) / DAYS_PER_MONTH
        shift[held + 1 :] = shift[held] * 0.5 ** (after / FADE_MONTHS)
        grew = np.maximum(of_level[held + 1 :] ** 2 - of_level[held] ** 2, 0.0)
        ratio[held + 1 :] = np.sqrt(mixed[-1] ** 2 + grew) / of_level[held + 1 :]
    return (days - start) / DAYS_PER_MONTH, shift, ratio


@dataclass(frozen=True)
class Origin:
    """One past month, counted from 1970-01, the outlook that the sales up to its end gave, and how they were read then.

    Attributes
    ----------
    sale_log, noise_var : arrays, shape (s,)
        Log price of the standard calf at every sale up to then, and the variance of its own noise.
    """

    month: int
    outlook: Outlook
    sale_log: FloatArray
    noise_var: FloatArray


@dataclass(frozen=True)
class PastForecasts:
    """Forecasts of the standard calf's price at every later sale, and what came, in log points.

    Attributes
    ----------
    origins : tuple of Origin, length n. Their outlooks with futures and scaled ranges, by what was known then.
    forecast, walk, sd, actual : arrays, shape (n, h, k)
        Of the sales in months 1 .. h after each origin, k at most in a month, NaN where there are fewer: the forecast,
        the same without futures, its standard error with the sale's own noise, and the price.
    record : PastRecord. What all of them teach.
    """

    origins: tuple[Origin, ...]
    forecast: FloatArray
    walk: FloatArray
    sd: FloatArray
    actual: FloatArray
    record: PastRecord


def past_forecasts(
    raw: Sequence[Origin],
    index: PriceIndex,
    noise_var: FloatArray,
    horizons: int,
    history: QuoteHistory | None,
) -> PastForecasts:
    """Return forecasts from past outlooks in the order of months, each with the share and the ranges learned by then.

    Parameters
    ----------
    raw : sequence of Origin. Outlooks without futures, their ranges unscaled.
    noise_var : array, shape (s,). Variance of each sale's own noise.
    """
    sales = _sales_ahead(raw, index, horizons)
    known_by = np.array([origin.month for origin in raw])
    outcome = known_by[:, None] + np.arange(1, horizons + 1)
    shape = sales.shape
    actual, noise = _at(index.sale_log, sales), _at(noise_var, sales)
    walk, futures, forecast, level_var = (np.full(shape, np.nan) for _ in range(4))
    final: list[Origin] = []
    scales = np.ones(shape)
    for row, origin in enumerate(raw):
        mine = sales[row] >= 0
        day, at = np.unique(index.sale_day[sales[row][mine]], return_inverse=True)
        when = day.astype("datetime64[D]").tolist()
        walk[row][mine] = origin.outlook.log_index(when)[at]
        blended, then = origin.outlook, _known(history, origin.month)
        known, as_read = outcome <= origin.month, _at(origin.sale_log, sales)
        if then is not None and then.quotes:
            futures[row][mine] = _futures_alone(origin, then, when)[at]
            share = learned_share(_monthly(walk), _monthly(futures), _monthly(as_read), known)
            blended = futures_outlook(blended, then, share)
        forecast[row][mine] = blended.log_index(when)[at]
        level_var[row][mine] = blended.index_var(when)[at]
        missed = ((as_read - forecast) ** 2 - _at(origin.noise_var, sales)) / level_var
        scale = tuple(learned_scale(_monthly(missed), known).tolist())
        blended = replace(blended, range_scale=scale)
        scales[row][mine] = np.interp(blended.months_ahead(when), np.arange(horizons) + 0.5, scale)[at]
        final.append(replace(origin, outlook=blended))
    sd = np.sqrt(level_var * scales**2 + noise)
    every, missed = np.ones(shape[:2], dtype=bool), ((actual - forecast) ** 2 - noise) / level_var
    first, last = (str(np.datetime64(int(month), "M")) for month in (known_by[0], known_by[-1]))
    record = PastRecord(
        source="records",
        first_month=first,
        last_month=last,
        origins=len(raw),
        said_came=said_came((actual - forecast) / sd),
        range_scale=tuple(learned_scale(_monthly(missed), every).round(4).tolist()),
        futures_share=round(learned_share(_monthly(walk), _monthly(futures), _monthly(actual), every), 4),
    )
    return PastForecasts(tuple(final), forecast, walk, sd, actual, record)


def _known(history: QuoteHistory | None, month: int) -> QuoteHistory | None:
    """Return the quotes up to the end of a month."""
    until = (np.datetime64(month + 1, "M").astype("datetime64[D]") - 1).astype(int)
    return history.until(int(until)) if history is not None else None


def _futures_alone(origin: Origin, then: QuoteHistory, when: Sequence[date]) -> FloatArray:
    """Return what the futures of a month's end expect on later days; NaN where they say nothing."""
    end = (np.datetime64(origin.month + 1, "M").astype("datetime64[D]") - 1).astype(int)
    curve, basis = then.curve(int(end), OLDEST_QUOTE_DAYS), origin.outlook.month_basis
    if curve is None or basis is None:
        return np.full(len(when), np.nan)
    return futures_path(curve, basis, when, origin.outlook.as_of)[0]


def _at(values: FloatArray, sales: IntArray) -> FloatArray:
    """Return the value of each sale, NaN where there is none or it is not known yet."""
    seen = (sales >= 0) & (sales < len(values))
    return np.asarray(np.where(seen, values[np.where(seen, sales, 0)], np.nan))


def _monthly(values: FloatArray) -> FloatArray:
    """Return the mean over the sales of a month, NaN where none is known, shape (n, h)."""
    seen = np.isfinite(values)
    total, count = np.where(seen, values, 0.0).sum(axis=2), seen.sum(axis=2)
    return np.asarray(np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0))


def _sales_ahead(raw: Sequence[Origin], index: PriceIndex, horizons: int) -> IntArray:
    """Return the places of the sales in the months after each origin, shape (n, h, k); -1 where there are fewer."""
    month = month_number(index.sale_day)
    most = int(index.month_sales.max())
    sales = np.full((len(raw), horizons, most), -1, dtype=np.int64)
    for row, origin in enumerate(raw):
        for step in range(horizons):
            mine = np.flatnonzero(month == origin.month + step + 1)
            sales[row, step, : len(mine)] = mine
    return sales


def _index_until(index: PriceIndex, month: int) -> PriceIndex:
    """Return the index with the sales up to the end of a month."""
    sales, months = month_number(index.sale_day) <= month, index.month <= month
    return replace(
        index,
        sale_day=index.sale_day[sales],
        sale_log=index.sale_log[sales],
        month=index.month[months],
        month_log=index.month_log[months],
        month_var=index.month_var[months],
        month_sales=index.month_sales[months],
    )


def replayed_index(
    index: PriceIndex,
    outlook_at: Callable[[PriceIndex], Outlook],
    sale_sd: float,
    *,
    first_months: int = FIRST_ORIGIN_MONTHS,
    most_months: int = MOST_ORIGIN_MONTHS,
) -> tuple[Origin, ...]:
    """Return the outlooks at past months' ends that an index up to then gives, without futures and unscaled.

    Parameters
    ----------
    sale_sd : float [log points]. Of a sale's own noise, beyond what its lots explain.
    first_months, most_months : int
        Months of records before the first of them, and how many of the last months are taken.
    """
    month = np.unique(month_number(index.sale_day))
    starts = month[(month >= month[0] + first_months - 1) & (month < month[-1])][-most_months:]
    parts = [(int(start), _index_until(index, int(start))) for start in starts]
    return tuple(
        Origin(start, outlook_at(part), part.sale_log, sale_noise_var(part, sale_sd)) for start, part in parts
    )


def own_record(
    base: Outlook,
    model: SlideModel,
    index: PriceIndex,
    sale_sd: float,
    history: QuoteHistory | None,
    defaults: Outlook | None,
) -> PastRecord:
    """Return what forecasts from past months' ends were worth, the slide being that of all records; else ours.

    The level, the season and the basis are fitted anew at each of them; `backtest.backtest` fits the slide anew too.
    """

    def outlook_at(index: PriceIndex) -> Outlook:
        season = fit_season(index, defaults)
        level = level_today(season, model.level_mean)
        return replace(
            base,
            **season.of_outlook(),
            month_basis=market_basis(model, index, level, history) if history is not None else None,
        )

    origins = replayed_index(index, outlook_at, sale_sd)
    if len(origins) < MIN_ORIGINS:
        return OURS
    record = past_forecasts(origins, index, sale_noise_var(index, sale_sd), HORIZONS, history).record
    if record.origins >= NEEDED_MONTHS:
        return record
    return replace(OURS, range_scale=record.range_scale, futures_share=record.futures_share)


def sale_noise_var(index: PriceIndex, sale_sd: float) -> FloatArray:
    """Return the variance of each sale's own noise around the level, shape (s,): what its lots explain, and its own."""
    lots_var = index.month_var * index.month_sales - index.sale_sd**2
    return np.asarray((lots_var + sale_sd**2)[month_number(index.sale_day) - index.month[0]])
