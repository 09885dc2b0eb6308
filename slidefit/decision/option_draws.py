"""The money of every option in every draw, and the same with the price at sale left open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.building import Candidate, GroupCase
from slidefit.decision.draws import GroupDraws, World, death_shares, forage_ratios
from slidefit.decision.held_price import HeldCurves
from slidefit.decision.option import Levers, Money, Option, money_of
from slidefit.decision.spread import SMALLEST_SD, TEN_PERCENT_Z, AnyFloat, PriceCurves
from slidefit.decision.value import Number, interest_head

FloatArray = NDArray[np.float64]
SMALLEST_CHECK = 1e-9


@dataclass(frozen=True)
class PriceDraws:
    """How far a group's price on one day of sale is off the outlook [log points].

    Attributes
    ----------
    off : array, shape (draws,)
        With a bid in hand, off what the bid leads to: the index error at weaning drops out.
    own : array, shape (draws,)
        The part of it that nothing else in the draw depends on: index since weaning, and the lot.
    own_sd, sd : float
        Exact spread of that part, and of the whole.
    """

    off: FloatArray
    own: FloatArray
    own_sd: float
    sd: float


@dataclass(frozen=True)
class DrawnOption:
    """An option's money in every draw, the price behind it, and its gain with a price left open.

    ``curves`` is None where no price is open.
    """

    money: Money
    price: PriceDraws
    curves: PriceCurves | HeldCurves | None


def price_draws(case: GroupCase, world: World, own: GroupDraws, day: date) -> PriceDraws:
    """Return the draws of a group's price on a day of sale.

    Without a bid a draw knows the index at weaning, and the index at sale is normal around its regression on that.
    """
    weaning, lot = case.weaning, own.lot_later[day]
    now, both, then = (world.index_cov(*pair) for pair in ((weaning, weaning), (weaning, day), (day, day)))
    has_bid = case.group.bid_cwt is not None
    slope = 1.0 if has_bid else both / now if now > 0.0 else 0.0
    since = world.index[day] - slope * world.index[weaning] + lot
    own_sd = float(np.sqrt(max(0.0, then - 2.0 * slope * both + slope**2 * now) + own.lot_var))
    if has_bid:
        return PriceDraws(since, since, own_sd, own_sd)
    return PriceDraws(world.index[day] + lot, since, own_sd, float(np.sqrt(then + own.lot_var)))


def curves_of(
    option: Option, money: Money, deaths: Number, price: PriceDraws, own: GroupDraws
) -> PriceCurves | HeldCurves | None:
    """Return the gain of an option in every draw as a curve of a price that is open; None where none is.

    gain = (1 - deaths) (1 - commission share) check - base, and the check is in proportion to the price.
    """
    check = np.asarray(((1.0 - option.sale_terms.share) * (1.0 - deaths)) * money.check)
    base = np.asarray(check - money.gain)
    if option.contract is None and price.own_sd >= SMALLEST_SD:
        market = check if option.floor is None else check * (money.market_cwt / money.price_cwt)
        curves = PriceCurves(np.log(np.maximum(market, SMALLEST_CHECK)) - price.own, base, price.own_sd)
        if option.floor is None:
            return curves
        least = check * (option.floor.floor_cwt / money.price_cwt)
        return HeldCurves(curves, np.asarray(least), base, start_curves(option, money, base, own))
    start = start_curves(option, money, base, own)
    return None if option.contract is None or start is None else HeldCurves(None, check, base, start)


def start_curves(option: Option, money: Money, base: AnyFloat, own: GroupDraws) -> PriceCurves | None:
    """Return what the check must cover as a curve of the lot's price at weaning; None with a bid in hand.

    Selling now nets check0 (1 - commission share) less fixed costs; keeping must cover that and the interest on it.
    """
    if option.has_bid or own.lot_var < SMALLEST_SD**2:
        return None
    terms, start_lb = option.start_terms, option.start_lb
    with_interest = 1.0 + interest_head(option.interest_share, option.days, 1.0, 0.0)
    brought = with_interest * (money.net_now + terms.fixed_head + terms.freight_lb * start_lb)
    worth = np.log(np.maximum(brought, SMALLEST_CHECK)) - own.lot_now
    return PriceCurves(worth, base - brought, own.lot_var**0.5)


def net_now_draws(case: GroupCase, world: World, own: GroupDraws) -> FloatArray:
    """Return the net of selling at weaning in every draw, shape (draws,); all the same with a bid in hand."""
    off = np.zeros_like(own.lot_now)
    if case.group.bid_cwt is None:
        off = world.index[case.weaning] + own.lot_now + start_run(case) * world.slide_z[case.group.sex]
    return np.asarray(case.net_at(case.start_price_cwt * np.exp(off)))


def start_run(case: GroupCase) -> float:
    """Return one standard error of the slide at the weaning weight [log points]."""
    return case.start_line.run_at(case.group.mean_weight_lb)


def net_now_range(case: GroupCase, world: World, own: GroupDraws) -> tuple[float, float]:
    """Return the 10 and 90 percent points of selling at weaning [$ per head]; equal with a bid in hand."""
    if case.group.bid_cwt is not None:
        return case.net_now, case.net_now
    variance = (
        world.index_cov(case.weaning, case.weaning) + own.lot_var + world.slide_var * start_run(case) ** 2
    )
    off = float(np.exp(TEN_PERCENT_Z * np.sqrt(variance)))
    return float(case.net_at(case.start_price_cwt / off)), float(case.net_at(case.start_price_cwt * off))


def price_range(option: Option, plain: Money, price_sd: float, slide_var: float) -> tuple[float, float]:
    """Return the 10 and 90 percent points of the price at the planned weight [$/cwt]; a contract has no range."""
    median = float(plain.market_cwt)
    if option.contract is not None:
        return median, median
    run = option.line.run_at(option.sale_lb)
    off = exp(TEN_PERCENT_Z * sqrt(price_sd**2 + slide_var * run**2))
    least = 0.0 if option.floor is None else option.floor.floor_cwt
    return max(median / off, least), max(median * off, least)


def draw_money(
    case: GroupCase,
    candidates: Sequence[Candidate],
    world: World,
    own: GroupDraws,
    net_now: FloatArray,
    count_deaths: bool,
) -> list[DrawnOption]:
    """Return the money of every option in every draw."""
    deaths: dict[str, Number] = {}
    forage: dict[float, Number] = {}
    prices: dict[date, PriceDraws] = {}
    out = []
    for each in candidates:
        option, program = each.option, each.program
        if program.name not in deaths:
            spread = program.death_sd_pct / 100.0
            drawn = death_shares(option.head, option.death_share, spread, own.death_u)
            deaths[program.name] = drawn.astype(own.gain_z.dtype) if count_deaths else option.death_share
        if option.forage_log_sd not in forage:
            forage[option.forage_log_sd] = forage_ratios(option.forage_log_sd, own.forage_z)
        if each.sale_date not in prices:
            prices[each.sale_date] = price_draws(case, world, own, each.sale_date)
        price = prices[each.sale_date]
        levers = Levers(
            gain_shift_lb_day=option.gain_sd_lb_day * own.gain_z,
            log_price=price.off,
            net_now=net_now,
            slide_z=world.slide_z[case.group.sex],
            death_share=deaths[program.name],
            forage_ratio=forage[option.forage_log_sd],
        )
        money = money_of(option, levers)
        curves = curves_of(option, money, deaths[program.name], price, own)
        out.append(DrawnOption(money, price, curves))
    return out
