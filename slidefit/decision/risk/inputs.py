"""One input at a time: its breakeven, its range."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from slidefit.decision.growth import longest_days, wait_days
from slidefit.decision.money import (
    DAYS_PER_YEAR,
    Money,
    Option,
    Shifts,
    breakeven_sale_price,
    breakeven_start_price,
    money_of,
)
from slidefit.decision.options import Candidate, GroupCase, selling_shrink_pct
from slidefit.decision.pricing import lot_head
from slidefit.decision.results import Breakeven
from slidefit.decision.risk.odds import TEN_PERCENT_Z
from slidefit.market.outlook import Outlook

HIGHEST_GAIN_LB_DAY = 6.0
GRID = np.linspace(0.0, 1.0, 301)
SMALLEST_SLIDE_LB = 20.0


def nearest_crossing(at: ArrayLike, values: ArrayLike, planned: float) -> tuple[float, float] | None:
    """Return the two neighbours between which ``values`` change sign, nearest to ``planned``; None if none."""
    where, ahead = np.asarray(at, dtype=float), np.asarray(values) > 0
    (crossings,) = (ahead[1:] != ahead[:-1]).nonzero()
    if len(crossings) == 0:
        return None
    if len(crossings) == 1:
        return float(where[crossings[0]]), float(where[crossings[0] + 1])
    middles = 0.5 * (where[crossings] + where[crossings + 1])
    best = crossings[np.argmin(np.abs(middles - planned))]
    return float(where[best]), float(where[best + 1])


def gain_even(option: Option) -> Breakeven:
    """Return the mean daily gain over the whole stay at which keeping breaks even [lb per day].

    Read linearly between three hundred points, which is good to a ten-thousandth of a pound.
    """
    planned = option.gain_lb / option.days
    shifts = option.lowest_shift + (HIGHEST_GAIN_LB_DAY - planned - option.lowest_shift) * GRID
    values = np.asarray(money_of(option, Shifts(gain_shift_lb_day=shifts)).gain)
    bracket = nearest_crossing(shifts, values, 0.0)
    if bracket is None:
        state = "ahead" if values[0] > 0 else "behind"
        reason = f"keeping is {state} at any daily gain up to {HIGHEST_GAIN_LB_DAY:g} lb"
        return Breakeven("gain_lb_day", None, planned, reason)
    low, high = bracket
    ends = np.interp(bracket, shifts, values)
    return Breakeven(
        "gain_lb_day", planned + low + (high - low) * float(ends[0] / (ends[0] - ends[1])), planned
    )


def price_even(option: Option, plain: Money) -> Breakeven:
    """Return the sale price at which keeping breaks even [$/cwt], at the planned weight."""
    planned = float(plain.price_cwt)
    if option.death_share >= 1.0:
        return Breakeven("sale_price_cwt", None, planned, "no calf is left to sell")
    terms = option.sale_terms
    value = breakeven_sale_price(
        float(plain.net_now + plain.cash + plain.interest),
        option.sale_lb * terms.pay_factor * option.sale_mix,
        alive_share=1.0 - option.death_share,
        share=terms.share,
        costs_head=terms.fixed_head + terms.freight_lb * option.sale_lb,
    )
    return Breakeven("sale_price_cwt", value, planned)


def interest_on_cash(option: Option) -> float:
    """Return what a dollar of cash cost becomes with its interest."""
    return 1.0 + 0.5 * option.interest_share * option.days / DAYS_PER_YEAR


def cost_even(option: Option, plain: Money) -> Breakeven:
    """Return the cash cost per head-day at which keeping breaks even [$], feed and all else together."""
    planned = float(plain.cash) / option.days
    value = planned + float(plain.gain) / (option.days * interest_on_cash(option))
    if value < 0:
        return Breakeven("cost_head_day", None, planned, "keeping is behind even if it cost nothing")
    return Breakeven("cost_head_day", value, planned)


def death_even(option: Option, plain: Money) -> Breakeven:
    """Return the death loss at which keeping breaks even [percent of the head started]."""
    planned = 100.0 * option.death_share
    needed = float(plain.net_now + plain.cash + plain.interest)
    sold = float(plain.sold_net)
    if sold <= 0 or needed > sold:
        return Breakeven("death_loss_pct", None, planned, "keeping is behind even with no deaths")
    return Breakeven("death_loss_pct", 100.0 * (1.0 - needed / sold), planned)


def slide_even(option: Option, plain: Money, price_cwt: float) -> Breakeven:
    """Return the slide from the weaning to the sale weight at which keeping breaks even [percent per cwt].

    The season and the level stay as they are; ``price_cwt`` is the breakeven sale price.
    """
    line = option.line
    cwt = option.gain_lb / 100.0
    start = line.price_cwt(option.start_lb)
    if option.gain_lb < SMALLEST_SLIDE_LB:
        reason = f"under {SMALLEST_SLIDE_LB:g} lb is put on"
        return Breakeven("slide_pct_cwt", None, float("nan"), reason)
    planned = 100.0 * (1.0 - np.exp(np.log(line.price_cwt(option.sale_lb) / start) / cwt))
    if option.contract is not None:
        return Breakeven("slide_pct_cwt", None, float(planned), "the contract sets the price")
    if price_cwt <= 0:
        return Breakeven("slide_pct_cwt", None, float(planned), "keeping is ahead at any slide")
    value = 100.0 * (1.0 - np.exp(np.log(price_cwt / start) / cwt))
    return Breakeven("slide_pct_cwt", float(value), float(planned))


def forage_even(option: Option, plain: Money, forage_lb_acre: float) -> Breakeven:
    """Return the forage yield at which keeping breaks even [lb dry matter per acre]."""
    pasture = option.pasture_head * interest_on_cash(option)
    without = float(plain.gain) + pasture
    if without <= 0:
        reason = "keeping is behind even if the pasture cost nothing"
        return Breakeven("forage_lb_acre", None, forage_lb_acre, reason)
    return Breakeven("forage_lb_acre", forage_lb_acre * pasture / without, forage_lb_acre)


def bid_even(option: Option, plain: Money) -> Breakeven:
    """Return the price today that makes selling now as good as keeping [$/cwt], the later price unmoved."""
    rate = option.interest_share * option.days / DAYS_PER_YEAR
    worth = (float(plain.gain) + (1.0 + rate) * float(plain.net_now)) / (1.0 + rate)
    terms = option.start_terms
    value = breakeven_start_price(
        worth,
        option.start_lb * terms.pay_factor * option.start_mix,
        share=terms.share,
        costs_head=terms.fixed_head + terms.freight_lb * option.start_lb,
    )
    return Breakeven("bid_cwt", value, option.start_price_cwt)


@dataclass(frozen=True)
class DayPoint:
    """The gain from keeping for a number of days [$ per head]."""

    days: int
    gain: float


def days_even(points: Sequence[DayPoint], days: int, gain_after: Callable[[int], float]) -> Breakeven:
    """Return the first day of a change of sign of the gain from keeping, nearest to the days planned.

    Parameters
    ----------
    points : sequence of DayPoint
        The gain at the days already worked out, in order.
    days : int
        Days planned.
    gain_after : callable
        Gain after a number of days, for narrowing the bracket down to one day.
    """
    at = [point.days for point in points]
    bracket = nearest_crossing(at, [point.gain for point in points], days)
    if bracket is None:
        state = "ahead" if points[0].gain > 0 else "behind"
        return Breakeven("days", None, days, f"keeping is {state} from day {at[0]} to day {at[-1]}")
    early, late = int(bracket[0]), int(bracket[1])
    before, after = gain_after(early), gain_after(late)
    ahead = before > 0
    while late - early > 1:
        guess = early + round((late - early) * before / (before - after))
        day = min(late - 1, max(early + 1, guess))
        gain = gain_after(day)
        if (gain > 0) == ahead:
            early, before = day, gain
        else:
            late, after = day, gain
    return Breakeven("days", float(late), days)


def closed_breakevens(option: Option, plain: Money, forage_lb_acre: float | None) -> tuple[Breakeven, ...]:
    """Return every breakeven but the one in days, which needs other sale dates."""
    price = price_even(option, plain)
    out = [gain_even(option), price, cost_even(option, plain)]
    out.append(slide_even(option, plain, 0.0 if price.value is None else price.value))
    if forage_lb_acre is not None and option.pasture_head > 0.0:
        out.append(forage_even(option, plain, forage_lb_acre))
    return (*out, death_even(option, plain), bid_even(option, plain))


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


def price_sd(outlook: Outlook, case: GroupCase, candidate: Candidate) -> float:
    """Return the spread of the sale price around its median [log points]; since weaning with a bid in hand."""
    cov = outlook.index_cov([case.weaning, candidate.sale_date])
    of_index = cov[1, 1]
    if case.group.bid_cwt is not None:
        of_index = cov[0, 0] + cov[1, 1] - 2.0 * cov[0, 1]
    return float(np.sqrt(of_index + outlook.noise_sd(lot_head(case.group)) ** 2))


def market_ranges(outlook: Outlook, case: GroupCase, candidate: Candidate) -> list[FlipRange]:
    """Return the ranges of the sale price, the slide and today's price."""
    option = candidate.option
    out = []
    noise = TEN_PERCENT_Z * outlook.noise_sd(lot_head(case.group))
    if option.contract is None:
        price = option.line.price_cwt(option.sale_lb)
        off = float(np.exp(TEN_PERCENT_Z * price_sd(outlook, case, candidate)))
        out.append(FlipRange("sale_price", "price at sale", "$/cwt", price / off, price, price * off, SPREAD))
    if option.contract is None and option.gain_lb >= 20.0:
        cwt = option.gain_lb / 100.0
        slide = float(
            np.log(option.line.price_cwt(option.start_lb) / option.line.price_cwt(option.sale_lb)) / cwt
        )
        sd = float(outlook.slide_sd(case.group.sex, option.start_lb, option.sale_lb)) / cwt
        low, mid, high = (100.0 * (1.0 - np.exp(-(slide + z * TEN_PERCENT_Z * sd))) for z in (-1, 0, 1))
        out.append(
            FlipRange("slide", "slide", "percent per cwt", float(low), float(mid), float(high), SPREAD)
        )
    share = BID_SHARE if option.has_bid else float(np.expm1(noise))
    why = RULE if option.has_bid else SPREAD
    bid = option.start_price_cwt
    out.append(FlipRange("bid", "price today", "$/cwt", bid * (1.0 - share), bid, bid * (1.0 + share), why))
    return out


def keeping_ranges(candidate: Candidate) -> list[FlipRange]:
    """Return the ranges of gain, feed cost, deaths and forage yield."""
    option, program = candidate.option, candidate.program
    gain, width = option.gain_lb / option.days, TEN_PERCENT_Z * option.gain_sd_lb_day
    out = [
        FlipRange("gain", "daily gain, mean of the stay", "lb/day", gain - width, gain, gain + width, SPREAD)
    ]
    feed = float(money_of(option, Shifts()).feed) / option.days
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


def ranges_of(outlook: Outlook, case: GroupCase, candidate: Candidate) -> dict[str, FlipRange]:
    """Return the range of every input that has a part in an option."""
    option, program, plan_interest = (
        candidate.option,
        candidate.program,
        100.0 * candidate.option.interest_share,
    )
    shrink = selling_shrink_pct(case.selling) if program.shrink_pct is None else program.shrink_pct
    least = max(0.0, shrink - SHRINK_POINTS)
    first = max(wait_days(program, case.weaning) + 1, option.days - DAYS_EITHER_WAY)
    longest = longest_days(program, case.weaning)
    last = option.days + DAYS_EITHER_WAY
    last = last if longest is None else max(option.days, min(last, longest))
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
    found = [*keeping_ranges(candidate), *market_ranges(outlook, case, candidate), *other]
    return {each.name: each for each in sorted(found, key=lambda each: INPUTS.index(each.name))}
