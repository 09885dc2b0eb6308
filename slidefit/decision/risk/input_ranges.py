"""The range that each input may plausibly take, from the plan's own spreads or from a plain rule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from slidefit.decision.growth import longest_days, wait_days
from slidefit.decision.options import Candidate, GroupCase
from slidefit.decision.risk.breakevens import planned_gain
from slidefit.decision.risk.odds import TEN_PERCENT_Z

INPUTS = {
    "gain": ("daily gain on the program", "lb/day"),
    "sale_price": ("price at sale", "$/cwt"),
    "feed_cost": ("feed and pasture", "$/head-day"),
    "death_loss": ("death loss", "percent"),
    "slide": ("slide", "percent per cwt"),
    "forage_yield": ("forage yield", "lb dry matter/acre"),
    "bid": ("price today", "$/cwt"),
    "interest": ("interest", "percent a year"),
    "shrink": ("shrink at sale", "percent"),
    "days": ("days kept", "days"),
}
"""Label and unit of each input, in the order shown."""
FEED_SHARE = 0.20
BID_SHARE = 0.05
INTEREST_POINTS = 2.0
SHRINK_POINTS = 1.0
DAYS_EITHER_WAY = 14
DEATH_POINTS = 2.0
SPREAD = "1 in 10 below, 1 in 10 above"
RULE = "a plain rule, our choice"


@dataclass(frozen=True)
class FlipRange:
    """An input of an option with its plausible range, and where that comes from."""

    name: str
    label: str
    unit: str
    low: float
    planned: float
    high: float
    reason: str


def span(name: str, low: float, planned: float, high: float, reason: str) -> FlipRange:
    """Return the range of an input, with its label and unit."""
    return FlipRange(name, *INPUTS[name], float(low), float(planned), float(high), reason)


def market_ranges(case: GroupCase, candidate: Candidate) -> list[FlipRange]:
    """Return the ranges of the sale price, the slide and today's price."""
    option = candidate.option
    out = []
    if not option.is_contract:
        price = option.line.price_cwt(option.sale_lb)
        off = float(np.exp(TEN_PERCENT_Z * option.price_sd))
        out.append(span("sale_price", price / off, price, price * off, SPREAD))
    if not option.is_contract and option.gain_lb >= 20.0:
        cwt = option.gain_lb / 100.0
        slide = float(option.line.log_at(option.start_lb) - option.line.log_at(option.sale_lb)) / cwt
        sd = float(case.outlook.slide_sd(case.group.sex, option.start_lb, option.sale_lb)) / cwt
        low, mid, high = (100.0 * (1.0 - np.exp(-(slide + z * TEN_PERCENT_Z * sd))) for z in (-1, 0, 1))
        out.append(span("slide", low, mid, high, SPREAD))
    off, bid = float(np.exp(TEN_PERCENT_Z * option.start_log_var**0.5)), option.inputs["start_price_cwt"]
    rule = (1.0 - BID_SHARE, 1.0 + BID_SHARE, RULE)
    low, high, why = rule if option.has_bid else (1.0 / off, off, SPREAD)
    return [*out, span("bid", bid * low, bid, bid * high, why)]


def keeping_ranges(candidate: Candidate) -> list[FlipRange]:
    """Return the ranges of gain, feed cost, deaths and forage yield."""
    option, death = candidate.option, candidate.program.death_loss_pct
    gain, width = planned_gain(option), TEN_PERCENT_Z * option.gain_sd_lb_day
    out = [span("gain", gain - width, gain, gain + width, SPREAD)]
    feed = option.plain["feed_all"] / option.days
    if feed > 0.0:
        out.append(span("feed_cost", feed * (1.0 - FEED_SHARE), feed, feed * (1.0 + FEED_SHARE), RULE))
    out.append(span("death_loss", 0.0, death, max(2.0 * death, DEATH_POINTS), "none to twice the plan"))
    grazed = [each.pasture.forage_lb_acre for each in candidate.stretches if each.pasture is not None]
    if grazed:
        off = float(np.exp(TEN_PERCENT_Z * option.forage_log_sd))
        out.append(span("forage_yield", grazed[0] / off, grazed[0], grazed[0] * off, SPREAD))
    return out


def ranges_of(case: GroupCase, candidate: Candidate) -> dict[str, FlipRange]:
    """Return the range of every input that has a part in an option."""
    option, program, kept = candidate.option, candidate.program, (case.start - case.weaning).days
    interest, shrink = option.inputs["interest_pct"], option.inputs["shrink_pct"]
    first = max(wait_days(program, case.weaning) + 1 - kept, 1, option.days - DAYS_EITHER_WAY)
    longest, last = longest_days(program, case.weaning), option.days + DAYS_EITHER_WAY
    last = last if longest is None else max(option.days, min(last, longest - kept))
    least = max(0.0, interest - INTEREST_POINTS)
    found = [
        *keeping_ranges(candidate),
        *market_ranges(case, candidate),
        span("interest", least, interest, interest + INTEREST_POINTS, RULE),
        span("shrink", max(0.0, shrink - SHRINK_POINTS), shrink, shrink + SHRINK_POINTS, RULE),
        span("days", first, option.days, last, "two weeks either way"),
    ]
    by_name = {each.name: each for each in found}
    return {name: by_name[name] for name in INPUTS if name in by_name}
