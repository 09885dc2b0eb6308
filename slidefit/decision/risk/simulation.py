"""The money of each option in each draw; the herd.

As for one option (see `spread`), a normal number that moves the price at sale is integrated exactly in every draw: here
the part that the kept groups' prices share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from math import exp, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from slidefit.decision.money import Money, Number, Option, Shifts, interest_head, money_of
from slidefit.decision.options import Candidate, GroupCase
from slidefit.decision.results import GroupResult, Herd
from slidefit.decision.risk.draws import GroupDraws, World, death_shares, forage_ratios
from slidefit.decision.risk.odds import (
    ENOUGH_DRAWS,
    SMALLEST_SD,
    TEN_PERCENT_Z,
    AnyFloat,
    ContractFloorCurves,
    PriceCurves,
    percentile,
    smooth_percentiles,
    whole_power,
)

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
class SimulatedOption:
    """An option's money in every draw, the price behind it, and its gain with a price left open.

    ``curves`` is None where no price is open.
    """

    money: Money
    price: PriceDraws
    curves: PriceCurves | ContractFloorCurves | None


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
) -> PriceCurves | ContractFloorCurves | None:
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
        return ContractFloorCurves(curves, np.asarray(least), base, start_curves(option, money, base, own))
    start = start_curves(option, money, base, own)
    return None if option.contract is None or start is None else ContractFloorCurves(None, check, base, start)


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
) -> list[SimulatedOption]:
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
        levers = Shifts(
            gain_shift_lb_day=option.gain_sd_lb_day * own.gain_z,
            log_price=price.off,
            net_now=net_now,
            slide_z=world.slide_z[case.group.sex],
            death_share=deaths[program.name],
            forage_ratio=forage[option.forage_log_sd],
        )
        money = money_of(option, levers)
        curves = curves_of(option, money, deaths[program.name], price, own)
        out.append(SimulatedOption(money, price, curves))
    return out


SHARES = (0.1, 0.5, 0.9)
NEWTON_STEPS = 4
FLOOR_STEPS = 8
"""A price floor gives the curves corners, which take more steps."""
FARTHEST_Z = 8.0


@dataclass(frozen=True)
class ChosenGroup:
    """A group that is kept, in every draw.

    Attributes
    ----------
    case : GroupCase
    own : GroupDraws
    sale_date : date
    head : int
        Head kept.
    gains : array, shape (draws,) [$ per head]
    price_off : array, shape (draws,) [log points]
        How far the price at sale is off what the draw knew of it.
    curves : PriceCurves or ContractFloorCurves or None
    """

    case: GroupCase
    own: GroupDraws
    sale_date: date
    head: int
    gains: AnyFloat
    price_off: AnyFloat
    curves: PriceCurves | ContractFloorCurves | None

    @property
    def market(self) -> PriceCurves | None:
        """The check as a curve of the price at sale, a floor apart; None where that price is certain."""
        return self.curves.market if isinstance(self.curves, ContractFloorCurves) else self.curves

    @property
    def least(self) -> AnyFloat | float:
        """What a price floor brings in each draw [$ per head started]; zero without one."""
        return self.curves.least if isinstance(self.curves, ContractFloorCurves) else 0.0

    @property
    def check(self) -> AnyFloat | None:
        """What the check brings in each draw, a floor apart [$ per head started]; None where the price is certain."""
        return None if self.market is None else np.exp(self.market.worth + self.price_off)

    def index_weights(self, world: World) -> FloatArray:
        """Return how the group's price at sale rests on the index over the world's dates, shape (dates,)."""
        weights = np.zeros(len(world.dates))
        if self.market is not None:
            weights[world.dates.index(self.sale_date)] += 1.0
            weights[world.dates.index(self.case.weaning)] -= self.case.group.bid_cwt is not None
        return weights


@dataclass(frozen=True)
class CommonPrice:
    """One normal number that the kept groups' prices share, independent of all else in a draw.

    Attributes
    ----------
    z : array, shape (draws,)
    loads : array, shape (groups,) [log points]
        How far it moves each group's price.
    """

    z: AnyFloat
    loads: FloatArray


def common_price(kept: Sequence[ChosenGroup], world: World) -> CommonPrice | None:
    """Return what the kept groups' prices share; None where there is nothing, or where it moves some of them apart.

    Their sum, weighted by what each brings, less its regression on the index at every weaning, which a draw knows.
    """
    weights = np.array([each.index_weights(world) for each in kept])
    lots = np.array([0.0 if each.market is None else each.own.lot_var for each in kept])
    checks = [each.check for each in kept]
    brought = np.array(
        [0.0 if c is None else each.head * float(c.mean()) for c, each in zip(checks, kept, strict=True)]
    )
    known = sorted({world.dates.index(each.case.weaning) for each in kept})
    total = brought @ weights
    of_known = np.linalg.pinv(world.cov[np.ix_(known, known)], hermitian=True) @ world.cov[known] @ total
    total[known] -= of_known
    sd = float(total @ world.cov @ total + lots @ brought**2) ** 0.5
    if sd <= SMALLEST_SD * (1.0 + brought.sum()):
        return None
    loads = (weights @ world.cov @ total + lots * brought) / sd
    index = total @ np.array([world.index[day] for day in world.dates])
    lot = sum(share * each.own.lot_later[each.sale_date] for share, each in zip(brought, kept, strict=True))
    return (
        CommonPrice(((index + lot) / sd).astype(kept[0].gains.dtype), loads) if np.all(loads >= 0.0) else None
    )


def herd_share_below(
    kept: Sequence[ChosenGroup], common: CommonPrice, draws: int, values: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the probability of a herd's gain at or below each value, and its density there [per $].

    In each draw the gain rises with the common number and bends upward, so Newton's steps find where it passes a value.
    """
    start = common.z[:draws]
    fixed = -values.astype(start.dtype)[:, None] - sum(each.head * base_of(each)[:draws] for each in kept)
    z = np.repeat(start[None, :], len(values), axis=0)
    slope = np.ones_like(z)
    moved = [
        (
            each.head * each.check[:draws],
            each.head * np.broadcast_to(each.least, each.gains.shape)[:draws],
            float(load),
        )
        for each, load in zip(kept, common.loads, strict=True)
        if each.check is not None
    ]
    steps = FLOOR_STEPS if is_bent(kept) else NEWTON_STEPS
    for step in range(steps + 1):
        off, slope = fixed.copy(), np.full_like(z, 1e-12)
        for at_draw, least, load in moved:
            check = at_draw * np.exp(load * (z - start))
            off += np.maximum(check, least)
            slope += np.where(check > least, load * check, 0.0)
        if step < steps:
            z = np.clip(z - off / slope, -FARTHEST_Z, FARTHEST_Z)
    density = np.exp(-0.5 * z**2) / (sqrt(2.0 * pi) * slope)
    certain = np.abs(z) >= FARTHEST_Z
    return ndtr(z).mean(axis=1, dtype=float), np.where(certain, 0.0, density).mean(axis=1, dtype=float)


def is_bent(kept: Sequence[ChosenGroup]) -> bool:
    """Return whether a floor holds the price of any group."""
    return any(each.curves is not None and each.curves.bent for each in kept)


def base_of(kept: ChosenGroup) -> AnyFloat:
    """Return what a group's check must cover in each draw; minus its gain where the price is certain."""
    return -kept.gains if kept.curves is None or kept.market is None else kept.curves.base


def herd_of(results: Sequence[GroupResult], kept: Sequence[ChosenGroup], world: World) -> Herd:
    """Return the whole herd: groups that are sold now gain nothing, the others what they gain for the head kept."""
    budget = sum(result.best.gain_herd for result in results)
    odds, points = 0.0, [0.0, 0.0, 0.0]
    if kept:
        total = sum(each.head * np.asarray(each.gains, dtype=float) for each in kept)
        ordered = np.sort(np.asarray(total))
        points = [percentile(ordered, share) for share in SHARES]
        odds = float(np.mean(ordered > 0.0))
        common = common_price(kept, world)
        if common is not None:
            bent = is_bent(kept)
            full = whole_power(len(ordered))
            draws = full if bent else min(full, ENOUGH_DRAWS)
            share_below = partial(herd_share_below, kept, common, draws)
            points, below = smooth_percentiles(share_below, ordered, SHARES, (0.0,), bent=bent)
            odds = 1.0 - below[0]
    return Herd(
        head=sum(result.head for result in results),
        sell_now=sum(result.sell_now.net_herd for result in results),
        gain=budget,
        odds=odds,
        p10=points[0],
        p50=points[1],
        p90=points[2],
    )
