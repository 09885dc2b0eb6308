"""Where keeping and selling now come out even, one input at a time, the others as planned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from slidefit.decision.option import Levers, Money, Option, money_of
from slidefit.decision.results import Breakeven
from slidefit.decision.value import DAYS_PER_YEAR, breakeven_sale_price, breakeven_start_price

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
    values = np.asarray(money_of(option, Levers(gain_shift_lb_day=shifts)).gain)
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
