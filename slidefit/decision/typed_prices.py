"""Prices typed in a plan as an outlook: today's price, a slide or a later price, and a typical season and spread."""

from __future__ import annotations

from datetime import date
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from slidefit.errors import OutlookError
from slidefit.market.blend import futures_outlook
from slidefit.market.months import month_weights
from slidefit.market.outlook import STANDARD_WEIGHT_LB, GradeOffset, Outlook, OutlookBasis, SexCurve
from slidefit.plan.plan import Plan, TypedPrices

FloatArray = NDArray[np.float64]
TYPICAL = MappingProxyType(
    {
        "season_pct": (-0.2, 2.4, 2.3, 0.7, -0.1, 1.3, 3.4, 3.4, 0.3, -3.6, -5.5, -3.9),
        "season_sd_pct": 1.5,
        "walk_sd_pct": 4.3,
        "drift_sd_pct": 0.7,
        "level_sd_pct": 1.2,
        "slide_sd_pct": 1.8,
        "lot_sd_pct": 3.6,
        "calf_sd_pct": 10.0,
        "sale_sd_pct": 1.2,
    }
)
"""Season and spreads where none are typed: fitted by this program to the public market reports (USDA AMS) of one New
Mexico auction, July 2017 to December 2023, 20,425 lots. Percent; walk and drift a month ahead, slide per cwt."""
TYPICAL_NAME = "one New Mexico auction, 2017 to 2023"
LOW_LB, HIGH_LB, STEP_LB = 150.0, 1600.0, 25.0
LEAST_SHARE = 0.2
"""A slide in dollars is not followed below this share of today's price."""


def outlook_for(outlook: Outlook | None, plan: Plan) -> Outlook:
    """Return the outlook that a plan is priced by: typed prices stand in for records; its futures move either."""
    if plan.prices is not None:
        outlook = typed_outlook(plan.prices, plan)
    if outlook is None:
        raise OutlookError(
            "there are no prices",
            where=plan.title or "plan",
            remedy="Add sale records, use a region, or type prices under [prices] in the plan.",
        )
    return futures_outlook(outlook, [each.quote() for each in plan.futures]) if plan.futures else outlook


def log_curve(prices: TypedPrices, season_log: FloatArray, as_of: date, sale_day: int) -> FloatArray:
    """Return ln(price / price at `weight_lb`) at each weight of the curve, the season taken out."""
    weights = np.arange(LOW_LB, HIGH_LB + 1.0, STEP_LB)
    cwt = (weights - prices.weight_lb) / 100.0
    if prices.slide_cwt is not None:
        share = 1.0 - prices.slide_cwt * cwt / prices.price_cwt
        return np.asarray(np.log(np.maximum(share, LEAST_SHARE)))
    if prices.slide_pct is not None:
        return np.asarray(np.log1p(-prices.slide_pct / 100.0) * cwt)
    assert prices.later_month and prices.later_price_cwt and prices.later_weight_lb
    later = date.fromisoformat(f"{prices.later_month}-{sale_day:02d}")
    seasons = month_weights([as_of, later]) @ season_log
    fall = np.log(prices.later_price_cwt / prices.price_cwt) - (seasons[1] - seasons[0])
    return np.asarray(fall / ((prices.later_weight_lb - prices.weight_lb) / 100.0) * cwt)


def typed_outlook(prices: TypedPrices, plan: Plan) -> Outlook:
    """Return the outlook of typed prices; one curve stands for every sex, grade and size of lot.

    A later price says what the slide is, with the season that is typed (none, where none is: it is in that price then).
    A typed slide goes with the typed season, or the typical one.
    """
    as_of = prices.as_of or min(plan.start_of(group) for group in plan.groups)
    flat = prices.later_price_cwt is not None and prices.season_pct is None
    season_pct = prices.season_pct or ((0.0,) * 12 if flat else TYPICAL["season_pct"])
    season = np.log1p(np.asarray(season_pct, dtype=float) / 100.0)
    season -= season.mean()
    curve_log = log_curve(prices, season, as_of, plan.dates.sale_day)
    weights = np.arange(LOW_LB, HIGH_LB + 1.0, STEP_LB)
    at_standard = float(np.interp(STANDARD_WEIGHT_LB, weights, curve_log))
    at_typed = float(np.interp(prices.weight_lb, weights, curve_log))
    level = np.log(prices.price_cwt) - float(month_weights([as_of])[0] @ season) + at_standard - at_typed
    curve = SexCurve(
        weights_lb=weights,
        log_relative=np.tile(curve_log - at_standard, (12, 1)),
        slope_sd_cwt=np.full(len(weights), typical("slide_sd_pct")),
        low_lb=LOW_LB,
        high_lb=HIGH_LB,
    )
    walk = typical("walk_sd_pct") if prices.price_sd_pct is None else prices.price_sd_pct / 100.0
    typed_all = prices.price_sd_pct is not None and (prices.season_pct is not None or flat)
    spread = "typed spread" if typed_all else f"typical spread ({TYPICAL_NAME})"
    source = f"typed prices; {spread}; not from your records"
    basis = OutlookBasis(source, lots=0, head=0, sales=0, markets=(), first_sale=as_of, last_sale=as_of)
    return Outlook(
        as_of=as_of,
        currency="USD",
        log_level=float(level),
        level_sd=typical("level_sd_pct"),
        season_log=season,
        season_cov=np.eye(12) * typical("season_sd_pct") ** 2,
        walk_sd_month=walk,
        drift_sd_month=typical("drift_sd_pct"),
        curves=dict.fromkeys(("steer", "heifer", "bull"), curve),
        grades={"": GradeOffset(0.0)},
        head_slope=0.0,
        lot_sd=typical("lot_sd_pct"),
        calf_sd=typical("calf_sd_pct"),
        sale_sd=typical("sale_sd_pct"),
        basis=basis,
    )


def typical(name: str) -> float:
    """Return a typical spread as a share."""
    return float(TYPICAL[name]) / 100.0  # type: ignore[arg-type]
