"""Where keeping and selling now come out even, one input at a time, the others as planned.

By the expected gain: each number, typed into the plan in place of the planned one, brings it to zero. And the range
that each input may plausibly take, from the plan's own spreads or from a plain rule.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from slidefit.decision.budget.even import even_at, nearest_crossing
from slidefit.decision.growth import longest_days, wait_days
from slidefit.decision.money import FloatArray, Moved, Option, expected, expected_lines
from slidefit.decision.results import Breakeven
from slidefit.decision.risk.odds import TEN_PERCENT_Z

if TYPE_CHECKING:
    from slidefit.decision.options import Candidate, GroupCase

HIGHEST_GAIN_LB_DAY = 6.0
LOWEST_GAIN_LB_DAY = -0.5
SMALLEST_SLIDE_LB = 20.0
SMALLEST_SLOPE = 1e-9
LOG_REACH = 1.2
"""Prices are looked for from under a third to over three times the planned one."""
NO_CALF = "no calf is left to sell"


@dataclass(frozen=True)
class Slopes:
    """The expected gain from keeping as planned, and its slopes in what it is linear in [$ per head].

    For a dollar a head-day, a point of deaths, and a tenth more of one over the forage; ``check`` is what the check
    brings of the gain, and ``a_dollar`` what a dollar a cwt does.
    """

    now: float
    cost: float
    deaths: float
    forage: float
    check: float
    a_dollar: float


def slopes_of(option: Option) -> Slopes:
    """Return the expected gain and its slopes, worked out together."""
    deaths = option.inputs["death_loss_pct"]
    moved = {
        "cost_add_head_day": np.array([0.0, 1.0, 0.0, 0.0]),
        "death_loss_pct": np.array([deaths, deaths, deaths + 1.0, deaths]),
        "forage_ratio": np.array([1.0, 1.0, 1.0, 1.0 / 1.1]),
    }
    gains, check, pay_lb = expected_lines(option, Moved(moved), ("gain_per_head", "check_head", "pay_lb"))
    now, cost, dead, forage = gains.tolist()
    sold = (1.0 - option.inputs["commission_pct"] / 100.0) * option.plain["alive"]
    brought, a_dollar = sold * float(check.flat[0]), sold * float(pay_lb.flat[0]) * option.sale_mix / 100.0
    return Slopes(now, cost - now, dead - now, forage - now, brought, a_dollar)


def needed(slopes: Slopes, slope: float) -> float | None:
    """Return how far an input must move for the expected gain to be zero; None where it has no part."""
    return None if abs(slope) < SMALLEST_SLOPE else -slopes.now / slope


def searched(
    name: str,
    planned: float,
    moved: Callable[[FloatArray], Moved],
    option: Option,
    read: Callable[[float], float],
    *,
    reach: tuple[float, float] = (-LOG_REACH, LOG_REACH),
    near: float = 0.0,
    anywhere: str,
) -> Breakeven:
    """Return a breakeven looked for within reach of what is moved, and read off it; the reason where there is none."""

    def gain_at(values: Sequence[float]) -> FloatArray:
        return np.broadcast_to(expected(option, moved(np.array(values))), len(values))

    value = even_at(gain_at, *reach, near)
    if value is not None:
        return Breakeven(name, read(value), planned)
    state = "ahead" if gain_at([near])[0] > 0 else "behind"
    return Breakeven(name, None, planned, f"keeping is {state} at any {anywhere}")


def planned_gain(option: Option) -> float:
    """Return the planned daily gain on the program, waiting apart [lb per day]."""
    plain = option.plain
    waited = plain["gain_lb_day"] * plain["days"] if plain["days_all"] > plain["days_on"] else 0.0
    return (option.gain_lb + plain["slump_lb"] - waited) / plain["days_on"]


def gain_even(option: Option) -> Breakeven:
    """Return the mean daily gain on the program, waiting apart, at which keeping breaks even [lb per day]."""
    planned = planned_gain(option)
    return searched(
        "gain_lb_day",
        planned,
        lambda change: Moved({"gain_change": change}),
        option,
        lambda change: planned + change,
        reach=(LOWEST_GAIN_LB_DAY - planned, HIGHEST_GAIN_LB_DAY - planned),
        anywhere=f"daily gain up to {HIGHEST_GAIN_LB_DAY:g} lb",
    )


def price_even(option: Option, slopes: Slopes) -> Breakeven:
    """Return the forward price for the planned weight and day at which keeping breaks even [$/cwt].

    Typed into the plan it is the median price of that day: the slide is sure there, and runs from that weight.
    """
    name, planned = "sale_price_cwt", option.plain["market_cwt"]
    if option.inputs["death_loss_pct"] >= 100.0:
        return Breakeven(name, None, planned, NO_CALF)
    if option.is_contract:
        return later_bid_even(option, slopes, name)
    line = option.line
    pinned = replace(line, slide_run=line.slide_run - line.run_at(option.sale_lb))
    return searched(
        name,
        planned,
        lambda shift: Moved(log_price=shift, line=pinned),
        option,
        lambda shift: planned * math.exp(shift),
        anywhere="price within reach",
    )


def later_bid_even(option: Option, slopes: Slopes, name: str = "later_bid_cwt") -> Breakeven:
    """Return the bid in hand on the day of sale that equals selling now [$/cwt], whatever the calves then weigh."""
    planned = option.plain["market_cwt"]
    if slopes.a_dollar < SMALLEST_SLOPE:
        return Breakeven(name, None, planned, NO_CALF)
    return Breakeven(name, (slopes.check - slopes.now) / slopes.a_dollar, planned)


def cost_even(option: Option, slopes: Slopes) -> Breakeven:
    """Return the cash cost per head-day at which keeping breaks even [$], feed and all else together."""
    planned = option.plain["cash_head"] / option.days
    more = needed(slopes, slopes.cost)
    if more is None or planned + more < 0:
        return Breakeven("cost_head_day", None, planned, "keeping is behind even if it cost nothing")
    return Breakeven("cost_head_day", planned + more, planned)


def death_even(option: Option, slopes: Slopes) -> Breakeven:
    """Return the death loss at which keeping breaks even [percent of the head started]."""
    planned = option.inputs["death_loss_pct"]
    more = needed(slopes, slopes.deaths)
    if more is None or planned + more < 0:
        return Breakeven("death_loss_pct", None, planned, "keeping is behind even with no deaths")
    if planned + more > 100.0:
        return Breakeven("death_loss_pct", None, planned, "keeping is ahead at any death loss")
    return Breakeven("death_loss_pct", planned + more, planned)


def slide_even(option: Option) -> Breakeven:
    """Return the slide from the weight now to the sale weight at which keeping breaks even [percent per cwt].

    The season and the level stay as they are.
    """
    name, cwt, line = "slide_pct_cwt", option.gain_lb / 100.0, option.line
    if option.gain_lb < SMALLEST_SLIDE_LB:
        return Breakeven(name, None, float("nan"), f"under {SMALLEST_SLIDE_LB:g} lb is put on")
    fall = float(line.log_at(option.start_lb) - line.log_at(option.sale_lb)) / cwt
    if option.typed_slide_pct is not None:
        fall = -math.log1p(-option.typed_slide_pct / 100.0)
    planned = 100.0 * (1.0 - math.exp(-fall))
    if option.is_contract:
        return Breakeven(name, None, planned, "the contract sets the price")
    if abs(option.slide_from_lb - option.sale_lb) < SMALLEST_SLIDE_LB:
        return Breakeven(name, None, planned, "a price is typed for the weight at sale")
    return searched(
        name,
        planned,
        lambda more: Moved(slide_add_cwt=more),
        option,
        lambda more: 100.0 * (1.0 - math.exp(-(fall + more))),
        reach=(-LOG_REACH / cwt, LOG_REACH / cwt),
        anywhere="slide within reach",
    )


def forage_even(slopes: Slopes, forage_lb_acre: float) -> Breakeven:
    """Return the forage yield at which keeping breaks even [lb dry matter/acre]; its cost goes with one over it."""
    more = needed(slopes, 10.0 * slopes.forage)
    if more is None or 1.0 + more <= 0:
        reason = "keeping is behind even if the pasture cost nothing"
        return Breakeven("forage_lb_acre", None, forage_lb_acre, reason)
    return Breakeven("forage_lb_acre", forage_lb_acre / (1.0 + more), forage_lb_acre)


def bid_even(option: Option) -> Breakeven:
    """Return the bid now that makes selling as good as keeping [$/cwt], with what such a bid says of later prices."""
    planned, base = option.inputs["start_price_cwt"], option.bid_reference_log
    return searched(
        "bid_cwt",
        planned,
        lambda log_bid: Moved(bid_log=log_bid),
        option,
        math.exp,
        reach=(base - LOG_REACH, base + LOG_REACH),
        near=math.log(planned),
        anywhere="bid within reach: later prices move with it",
    )


def days_even(known: dict[int, float], days: int, gain_after: Callable[[int], float]) -> Breakeven:
    """Return the first day of a change of sign of the gain from keeping, nearest to the days planned.

    ``known`` are gains by days already worked out; ``gain_after`` narrows the bracket down to one day.
    """
    at = sorted(known)
    bracket = nearest_crossing(at, [known[each] for each in at], days)
    if bracket is None:
        state = "ahead" if known[at[0]] > 0 else "behind"
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


def breakevens_of(option: Option, slopes: Slopes, forage_lb_acre: Sequence[float]) -> tuple[Breakeven, ...]:
    """Return every breakeven but the one in days, which needs other sale dates."""
    out = [gain_even(option), price_even(option, slopes), cost_even(option, slopes), slide_even(option)]
    if forage_lb_acre and abs(slopes.forage) > 0.0:
        out.append(forage_even(slopes, forage_lb_acre[0]))
    return (*out, death_even(option, slopes), bid_even(option), later_bid_even(option, slopes))


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
