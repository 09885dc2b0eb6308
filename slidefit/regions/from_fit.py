"""From a fit to a region's default file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from slidefit import __version__
from slidefit.distributions import NORMAL_975
from slidefit.errors import FitError
from slidefit.market.futures import MonthBasis
from slidefit.market.market_fit import MarketFit
from slidefit.market.outlook import STANDARD_WEIGHT_LB, UNGRADED, Outlook
from slidefit.market.season import season_index
from slidefit.regions.region import (
    LEVEL_STEP,
    MONTH_KEYS,
    SEASON_AT_LB,
    Basis,
    Forecast,
    GradeTable,
    Noise,
    Price,
    Region,
    SeasonTable,
    SellingTerms,
    SexTable,
    SlideSeason,
    SourceTable,
    Standard,
    spread_at,
    step_key,
)

FloatArray = NDArray[np.float64]

STEP_LB = 50.0
SHORTEST_STEP_LB = 15.0
MONTHS_AHEAD = range(1, 13)
DECIMALS = 2
FINE_DECIMALS = 3


@dataclass(frozen=True)
class Provenance:
    """What a region file says of its making that a fit doesn't know."""

    made: date
    batches_sha256: str = ""


def region_of(
    fit: MarketFit,
    name: str,
    provenance: Provenance,
    *,
    market: str | None = None,
    selling: SellingTerms | None = None,
    remarks: tuple[str, ...] = (),
) -> Region:
    """Return a fit as a region's defaults, rounded as the file holds them.

    Parameters
    ----------
    market : str, optional. One market of the fit: its own price level, all else of the markets together.

    Raises
    ------
    FitError. A market that the fit doesn't hold, or a number outside of what a region's file may hold.
    """
    try:
        outlook = fit.outlook(market)
        past = [_months_before(fit, outlook, back) for back in ([12], [12 * year for year in range(1, 6)])]
        price = price_of(outlook, 0.0, (_seen(fit, 0), _seen(fit, 1)), *past)
        sexes = {sex: _sex_table(fit, outlook, sex) for sex in outlook.curves}
        return Region(
            name=name,
            markets=fit.basis.markets if market is None else (market,),
            currency=outlook.currency,
            remarks=remarks,
            price=price,
            standard=Standard.model_validate(
                {"sex": fit.model.recipe.sexes[0], "grade": fit.model.recipe.grades[0] or UNGRADED}
            ),
            season=_season(fit, outlook),
            slide_season=slide_season_of(outlook),
            steer=sexes.get("steer"),
            heifer=sexes.get("heifer"),
            bull=sexes.get("bull"),
            grades={
                grade or UNGRADED: discounted(fit, grade, -100.0 * float(np.expm1(offset.slope_cwt)))
                for grade, offset in outlook.grades.items()
            },
            forecast=_forecast(price, outlook),
            noise=_noise(outlook, fit.slide_fit.drift_cwt),
            basis=_basis(outlook.month_basis),
            selling=selling or SellingTerms(),
            source=_source(fit, provenance),
        )
    except ValidationError as fault:
        error = fault.errors(include_url=False)[0]
        raise FitError(
            f"the records give {'.'.join(map(str, error['loc']))} = {error['input']}, which no region's file may hold",
            where=name,
            remedy="They are too few or too alike to make a region of: add more sales.",
        ) from fault


def price_of(
    outlook: Outlook,
    added_log: float,
    seen_cwt: tuple[float, float],
    year_ago: tuple[float, float] | None = None,
    five_years: tuple[float, float] | None = None,
) -> Price:
    """Return the standard calf's price on the day of an outlook, some log points added."""
    return Price(
        as_of=outlook.as_of,
        standard_cwt=_rounded(np.exp(float(outlook.log_index([outlook.as_of])[0]) + added_log)),
        se_pct=_rounded(100.0 * outlook.level_sd),
        seen_cwt=seen_cwt,
        year_ago=year_ago,
        five_years=five_years,
    )


def with_spread(price: Price, forecast: Forecast) -> Forecast:
    """Return the forecast with its table by months ahead made anew from its parts."""
    spread = {str(h): _rounded(spread_at(price, forecast, h)) for h in MONTHS_AHEAD}
    return forecast.model_copy(update={"spread_pct": spread})


def step_nodes(low_lb: float, high_lb: float) -> FloatArray:
    """Return the ends of the steps of weight [lb]: those of the data, and every 50 lb between.

    >>> step_nodes(310.0, 460.0)
    array([310., 350., 400., 460.])
    """
    inner = np.arange(np.ceil(low_lb / STEP_LB) * STEP_LB, high_lb, STEP_LB)
    inner = inner[(inner - low_lb >= SHORTEST_STEP_LB) & (high_lb - inner >= SHORTEST_STEP_LB)]
    return np.concatenate([[low_lb], inner, [high_lb]])


def slide_season_of(outlook: Outlook) -> SlideSeason:
    """Return the points added to the slide by month, at 450 and at 750 lb, by least squares over all sexes.

    The month's curve less the year's is A_m x + B_m x^2 with x = (weight - 550) / 100, so the slide gains
    -(A_m + 2 B_m x): exact where the fit's season is on weight and weight squared.
    """
    rows, values = [], []
    for curve in outlook.curves.values():
        inside = (curve.weights_lb >= curve.low_lb) & (curve.weights_lb <= curve.high_lb)
        x = (curve.weights_lb[inside] - STANDARD_WEIGHT_LB) / 100.0
        seasonal = curve.log_relative[:, inside] - curve.log_relative[:, inside].mean(axis=0)
        rows.append(np.column_stack([x, x**2]))
        values.append(seasonal.T)
    parts, *_ = np.linalg.lstsq(np.vstack(rows), np.vstack(values), rcond=None)
    at = (np.array(SEASON_AT_LB) - STANDARD_WEIGHT_LB) / 100.0
    points = -100.0 * (parts[0][:, None] + 2.0 * parts[1][:, None] * at)
    return SlideSeason(
        **{
            key: (_rounded(a, FINE_DECIMALS), _rounded(b, FINE_DECIMALS))
            for key, (a, b) in zip(MONTH_KEYS, points, strict=True)
        }
    )


def _rounded(value: float, decimals: int = DECIMALS) -> float:
    return round(float(value), decimals) + 0.0


LEAST_YEARS = 3
"""Of five years' Octobers, how many must have had a sale for their mean to be told (our choice)."""


def _months_before(fit: MarketFit, outlook: Outlook, back: list[int]) -> tuple[float, float] | None:
    """Return the mean price of some months before the file's own [$/cwt] and its error [percent], where it was seen."""
    index = fit.index
    offset = outlook.log_level - fit.season_fit.level_log
    now = (outlook.as_of.year - 1970) * 12 + outlook.as_of.month - 1
    places = [now - months - int(index.month[0]) for months in back]
    seen = [p for p in places if 0 <= p < len(index.month) and np.isfinite(index.month_log[p])]
    if len(seen) < min(len(back), LEAST_YEARS):
        return None
    price = np.exp(index.month_log[seen] + offset)
    error = float(np.sqrt((price**2 * index.month_var[seen]).sum())) / len(seen)
    return _rounded(price.mean()), _rounded(100.0 * error / float(price.mean()))


def _seen(fit: MarketFit, end: int) -> float:
    return _rounded(np.exp(fit.model.level_mean + fit.model.level_range[end]))


def _season(fit: MarketFit, outlook: Outlook) -> SeasonTable:
    index = season_index(outlook.season_log)
    error = 100.0 * np.sqrt(np.maximum(np.diag(outlook.season_cov), 0.0))
    months = {key: (_rounded(i), _rounded(e)) for key, i, e in zip(MONTH_KEYS, index, error, strict=True)}
    unseen = tuple(MONTH_KEYS[m - 1] for m in outlook.unseen_months)
    return SeasonTable.model_validate({"waves": fit.season_fit.harmonics, "unseen": unseen, **months})


def _sex_table(fit: MarketFit, outlook: Outlook, sex: str) -> SexTable:
    curve = outlook.curves[sex]
    nodes = step_nodes(curve.low_lb, curve.high_lb)
    at_node = _year_curve(fit, sex, nodes)
    slope = np.diff(at_node) / (np.diff(nodes) / 100.0)
    middle = 0.5 * (nodes[1:] + nodes[:-1])
    error = np.sqrt(
        np.maximum(
            np.interp(middle, curve.weights_lb, curve.slope_sd_cwt) ** 2 - fit.slide_fit.drift_cwt**2, 0.0
        )
    )
    at_lb = float(np.clip(STANDARD_WEIGHT_LB, curve.low_lb, curve.high_lb))
    discount, more, slide_more, slide_more_se = _level_effect(fit, sex, at_lb)
    return SexTable(
        seen_lb=(curve.low_lb, curve.high_lb),
        discount_pct=_rounded(discount, FINE_DECIMALS),
        discount_se=_rounded(_row_error(fit, fit.model.rows(sex, [at_lb], level=fit.model.level_now)[0])),
        discount_at_lb=at_lb,
        discount_more=more,
        slide_more=slide_more,
        slide_more_se=slide_more_se,
        slide={
            step_key(a, b): (_rounded(-100.0 * np.expm1(s)), _rounded(100.0 * e))
            for a, b, s, e in zip(nodes[:-1], nodes[1:], slope, error, strict=True)
        },
    )


def _year_curve(fit: MarketFit, sex: str, weight_lb: FloatArray) -> FloatArray:
    """Return the mean of the twelve months' curves today [log points], in the shape of ``weight_lb``.

    Read from the model itself: the outlook's curves are in even steps, which miss the ends of the data.
    """
    return np.asarray(fit.model.by_month(sex, weight_lb).mean(axis=0))


def _level_effect(fit: MarketFit, sex: str, at_lb: float) -> tuple[float, float, tuple[float, float], float]:
    """Return the discount [percent], and what a rise of prices by 10 percent adds to it and to the slide [points].

    Last comes one standard error of the slide's at 550 lb. The slide's change is read at 450 and at 750 lb from levels
    around today's, inside those seen.
    """
    model = fit.model
    here = float(_year_curve(fit, sex, np.array([at_lb]))[0])
    discount = -100.0 * np.expm1(here)
    low, high = (model.held_level(model.level_now + side * LEVEL_STEP) for side in (-1.0, 1.0))
    if not model.recipe.level or high - low < 1e-6:
        return float(discount), 0.0, (0.0, 0.0), 0.0
    weights = [at_lb, *(w + side for w in SEASON_AT_LB for side in (-25.0, 25.0))]
    weights += [STANDARD_WEIGHT_LB - 25.0, STANDARD_WEIGHT_LB + 25.0]
    up, down = (model.rows(sex, weights, level=level) for level in (high, low))
    per_step = (up - down) * LEVEL_STEP / (high - low)
    rise = per_step @ model.coef
    gradient = (per_step[-1] - per_step[-2]) / 0.5
    slides = -100.0 * np.array([rise[2] - rise[1], rise[4] - rise[3]]) / 0.5
    more = -100.0 * np.exp(here) * np.expm1(rise[0])
    return (
        float(discount),
        _rounded(more),
        (_rounded(slides[0]), _rounded(slides[1])),
        _rounded(_row_error(fit, gradient)),
    )


def _row_error(fit: MarketFit, row: FloatArray) -> float:
    """Return one standard error of a function of the coefficients [log points x 100], its reach that of Student's t."""
    variance = max(float(row @ fit.model.cov @ row), 0.0)
    return 100.0 * fit.model.rule.reach() / NORMAL_975 * float(np.sqrt(variance))


def discounted(fit: MarketFit, grade: str, slide_more: float) -> GradeTable:
    """Return a grade with the discount that a fit gives it and its standard error."""
    model, place = fit.model, fit.grade_place[grade]
    sex, level = model.recipe.sexes[0], model.level_now
    mine, plain = (model.rows(sex, [STANDARD_WEIGHT_LB], level=level, grade=g)[0] for g in (place, 0))
    return GradeTable(
        discount_se=_rounded(_row_error(fit, mine - plain)),
        discount_pct=_rounded(-100.0 * np.expm1((mine - plain) @ model.coef), FINE_DECIMALS),
        slide_more=_rounded(slide_more, FINE_DECIMALS),
    )


def months_seen(fit: MarketFit) -> int:
    """Return how many months of a fit's index hold a sale."""
    return int(np.isfinite(fit.index.month_log).sum())


def _forecast(price: Price, outlook: Outlook) -> Forecast:
    parts = Forecast(
        walk_pct_month=_rounded(100.0 * outlook.walk_sd_month),
        drift_pct_month=_rounded(100.0 * outlook.drift_sd_month),
        scale=tuple(_rounded(each) for each in outlook.range_scale),
    )
    return with_spread(price, parts)


def _basis(found: MonthBasis | None) -> Basis | None:
    if found is None:
        return None
    return Basis(
        weight_lb=_rounded(found.weight_lb),
        spread_pct=_rounded(100.0 * found.sd),
        month_share=_rounded(found.month_share),
        months=found.months,
        month_pct=tuple(_rounded(100.0 * each) for each in np.expm1(found.log)),
    )


def _noise(outlook: Outlook, drift_cwt: float) -> Noise:
    return Noise(
        lot_pct=_rounded(100.0 * outlook.lot_sd),
        calf_pct=_rounded(100.0 * outlook.calf_sd),
        sale_pct=_rounded(100.0 * outlook.sale_sd),
        slide_pct=_rounded(100.0 * drift_cwt),
        slide_now_pct=_rounded(-100.0 * outlook.drift_slope),
        slide_week_share=_rounded(outlook.drift_week_share),
        head_pct=_rounded(100.0 * (2.0**outlook.head_slope - 1.0), FINE_DECIMALS),
    )


def _source(fit: MarketFit, provenance: Provenance) -> SourceTable:
    return SourceTable(
        first_sale=fit.basis.first_sale,
        last_sale=fit.basis.last_sale,
        lots=fit.basis.lots,
        head=fit.basis.head,
        sales=fit.basis.sales,
        months=months_seen(fit),
        batches_sha256=provenance.batches_sha256,
        method=f"slidefit {__version__}: {fit.label}",
        made=provenance.made,
        verdict=fit.verdict.text(),
        notes=fit.notes,
    )
