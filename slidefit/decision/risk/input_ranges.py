"""The range that each input may plausibly take, from the plan's own spreads or from a plain rule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from slidefit.decision.growth import longest_days, wait_days
from slidefit.decision.options import Candidate, GroupCase
from slidefit.decision.risk.breakevens import planned_gain
from slidefit.decision.risk.odds import TEN_PERCENT_Z

INPUTS = (
    "gain",
    "sale_price",
    "feed_cost",
    "death_loss",
    "slide",
    "forage_yield",
    "bid",
    "interest",
    "shrink",
    "days",
)
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
    """An input of an option with its plausible range.

    Attributes
    ----------
    name, label, unit : str
    low, planned, high : float
    reason : str
        Where the range comes from.
    """

    name: str
    label: str
    unit: str
    low: float
    planned: float
    high: float
    reason: str


def market_ranges(case: GroupCase, candidate: Candidate) -> list[FlipRange]:
    """Return the ranges of the sale price, the slide and today's price."""
    option = candidate.option
    out = []
    noise = TEN_PERCENT_Z * option.start_log_var**0.5
    if not option.is_contract:
        price = option.line.price_cwt(option.sale_lb)
        off = float(np.exp(TEN_PERCENT_Z * option.point.variance(option.line.run_at(option.sale_lb)) ** 0.5))
        out.append(FlipRange("sale_price", "price at sale", "$/cwt", price / off, price, price * off, SPREAD))
    if not option.is_contract and option.gain_lb >= 20.0:
        cwt = option.gain_lb / 100.0
        slide = float(
            np.log(option.line.price_cwt(option.start_lb) / option.line.price_cwt(option.sale_lb)) / cwt
        )
        sd = float(case.outlook.slide_sd(case.group.sex, option.start_lb, option.sale_lb)) / cwt
        low, mid, high = (100.0 * (1.0 - np.exp(-(slide + z * TEN_PERCENT_Z * sd))) for z in (-1, 0, 1))
        out.append(
            FlipRange("slide", "slide", "percent per cwt", float(low), float(mid), float(high), SPREAD)
        )
    share = BID_SHARE if option.has_bid else float(np.expm1(noise))
    why = RULE if option.has_bid else SPREAD
    bid = option.inputs["start_price_cwt"]
    out.append(FlipRange("bid", "price today", "$/cwt", bid * (1.0 - share), bid, bid * (1.0 + share), why))
    return out


def keeping_ranges(candidate: Candidate) -> list[FlipRange]:
    """Return the ranges of gain, feed cost, deaths and forage yield."""
    option, program = candidate.option, candidate.program
    gain, width = planned_gain(option), TEN_PERCENT_Z * option.gain_sd_lb_day
    out = [FlipRange("gain", "daily gain on the program", "lb/day", gain - width, gain, gain + width, SPREAD)]
    feed = option.plain["feed_all"] / option.days
    if feed > 0.0:
        low, high = feed * (1.0 - FEED_SHARE), feed * (1.0 + FEED_SHARE)
        out.append(FlipRange("feed_cost", "feed and pasture", "$/head-day", low, feed, high, RULE))
    death = program.death_loss_pct
    most = max(2.0 * death, DEATH_POINTS)
    out.append(FlipRange("death_loss", "death loss", "percent", 0.0, death, most, "none to twice the plan"))
    grazed = [each.pasture.forage_lb_acre for each in candidate.stretches if each.pasture is not None]
    if grazed:
        off = float(np.exp(TEN_PERCENT_Z * option.forage_log_sd))
        forage = grazed[0]
        out.append(
            FlipRange(
                "forage_yield",
                "forage yield",
                "lb dry matter/acre",
                forage / off,
                forage,
                forage * off,
                SPREAD,
            )
        )
    return out


def ranges_of(case: GroupCase, candidate: Candidate) -> dict[str, FlipRange]:
    """Return the range of every input that has a part in an option."""
    option, program, plan_interest = (
        candidate.option,
        candidate.program,
        candidate.option.inputs["interest_pct"],
    )
    shrink, kept = option.inputs["shrink_pct"], (case.start - case.weaning).days
    least = max(0.0, shrink - SHRINK_POINTS)
    first = max(wait_days(program, case.weaning) + 1 - kept, 1, option.days - DAYS_EITHER_WAY)
    longest = longest_days(program, case.weaning)
    last = option.days + DAYS_EITHER_WAY
    last = last if longest is None else max(option.days, min(last, longest - kept))
    other = [
        FlipRange(
            "interest",
            "interest",
            "percent a year",
            max(0.0, plan_interest - INTEREST_POINTS),
            plan_interest,
            plan_interest + INTEREST_POINTS,
            RULE,
        ),
        FlipRange("shrink", "shrink at sale", "percent", least, shrink, shrink + SHRINK_POINTS, RULE),
        FlipRange(
            "days", "days kept", "days", float(first), float(option.days), float(last), "two weeks either way"
        ),
    ]
    found = [*keeping_ranges(candidate), *market_ranges(case, candidate), *other]
    return {each.name: each for each in sorted(found, key=lambda each: INPUTS.index(each.name))}
