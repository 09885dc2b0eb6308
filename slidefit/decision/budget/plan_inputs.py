"""A plan's numbers as the inputs of the declared budget; shrink."""

from __future__ import annotations

from typing import Any

import numpy as np

from slidefit.decision.budget.lines import suffix
from slidefit.decision.budget.sale import BudgetShape, StretchShape
from slidefit.decision.growth import FeedingPeriod
from slidefit.plan.costs import SELLING_COSTS
from slidefit.plan.selling import DEFAULT_SHRINK_PCT, Contract, Selling

HOURS = (0.0, 1.0, 2.0, 8.0, 16.0, 24.0, 32.0)
SHRINK_PCT = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0)


def hauling_shrink_pct(hours: float) -> float:
    """Return the shrink of calves hauled for a number of hours on a moving truck [percent].

    Boyles, Ohio State University Extension, 30 May 2012: 1 h 2 percent, 2 to 8 h 4 to 6, 8 to 16 h 6 to 8,
    16 to 24 h 8 to 10, 24 to 32 h 10 to 12; read linearly inside a range.

    >>> hauling_shrink_pct(1), hauling_shrink_pct(5), hauling_shrink_pct(32)
    (2.0, 5.0, 12.0)
    """
    return float(np.interp(hours, HOURS, SHRINK_PCT))


def selling_shrink_pct(selling: Selling) -> float:
    """Return the shrink to the scale by a plan's selling terms [percent]."""
    if selling.shrink_pct is not None:
        return selling.shrink_pct
    if selling.hours_hauled is not None:
        return hauling_shrink_pct(selling.hours_hauled)
    return DEFAULT_SHRINK_PCT


def selling_inputs(selling: Selling) -> dict[str, float]:
    """Return what selling takes, as inputs of the budget."""
    return {
        **{each.key: float(getattr(selling, each.key)) for each in SELLING_COSTS},
        "commission_pct": selling.commission_share_pct,
        "commission_head": selling.commission_head or 0.0,
        "freight_loaded_mile": selling.freight_loaded_mile,
        "miles": selling.miles,
        "load_lb": selling.load_lb,
        "pencil_shrink_pct": selling.pencil_shrink_pct,
        "start_shrink_pct": selling_shrink_pct(selling),
        "shrink_pct": selling_shrink_pct(selling),
    }


def shape_of(stretches: tuple[FeedingPeriod, ...], contract: Contract | None, floor: bool) -> BudgetShape:
    """Return what an option's budget has lines for."""
    shapes = []
    for each in stretches:
        pounds = each.pasture is not None and each.pasture.intake_lb_day is not None
        pasture: Any = "" if each.pasture is None else "pounds" if pounds else "by weight"
        shapes.append(StretchShape(each.label, each.waits, pasture, tuple(feed.name for feed in each.ration)))
    if contract is None:
        return BudgetShape(tuple(shapes), "market", floor)
    return BudgetShape(tuple(shapes), "two-way contract" if contract.two_way else "contract", floor)


def feeding_inputs(stretches: tuple[FeedingPeriod, ...]) -> dict[str, float]:
    """Return the budget's inputs of days, gain and feed, stretch by stretch."""
    out: dict[str, float] = {}
    for number, each in enumerate(stretches):
        end = suffix(number)
        out |= {f"days{end}": float(each.days), f"gain_lb_day{end}": each.gain_lb_day}
        out[f"cost_head_day{end}"] = each.cost_head_day
        for place, feed in enumerate(each.ration, start=1):
            own = f"_{place}{end}"
            out |= {f"feed_lb_day{own}": feed.lb_day, f"feed_price_ton{own}": feed.price_ton}
            out[f"feed_waste_pct{own}"] = feed.waste_pct
        if each.pasture is not None:
            out |= {
                f"cost_acre{end}": each.pasture.total_cost_acre,
                f"forage_lb_acre{end}": each.pasture.forage_lb_acre,
                f"eaten_pct{end}": each.pasture.utilization_pct,
            }
            lb_day = each.pasture.intake_lb_day
            intake = (
                ("intake_pct", each.pasture.intake_pct or 0.0)
                if lb_day is None
                else ("intake_lb_day", lb_day)
            )
            out[f"{intake[0]}{end}"] = intake[1]
    return out
