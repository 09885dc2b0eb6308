"""The money of each option in each draw; the herd."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from math import exp, sqrt
from typing import Any

import numpy as np

from slidefit.decision.budget.lines import DAYS_PER_YEAR
from slidefit.decision.money import Number, Option
from slidefit.decision.options import Candidate, GroupCase
from slidefit.decision.results import GroupResult, Herd
from slidefit.decision.risk.draws import AnyFloat, GroupDraws, World, death_shares
from slidefit.decision.risk.odds import (
    SMALLEST_SD,
    TEN_PERCENT_Z,
    ContractFloorCurves,
    Curves,
    PriceCurves,
    counted_spread,
)

SMALLEST_CHECK = 1e-9
WANTED = ("gain_per_head", "check_head", "alive", "market_cwt", "price_cwt")
FIXED = ("net_now",)


@dataclass(frozen=True)
class PriceDraws:
    """How far a group's price on one day of sale is off its line [log points], the slide apart.

    ``own`` is the part that nothing else in the draw depends on, ``own_sd`` its exact spread.
    """

    off: AnyFloat
    own: AnyFloat
    own_sd: float


@dataclass(frozen=True)
class SimulatedOption:
    """An option's gain in every draw [$ per head], and the same with the price at sale left open.

    ``curves`` is None where no price is open.
    """

    gains: AnyFloat
    curves: Curves | None


@dataclass(frozen=True)
class GroupSimulation:
    """One group in every draw; ``net_now`` [$ per head] has one number for each."""

    case: GroupCase
    world: World
    own: GroupDraws
    count_deaths: bool
    net_now: AnyFloat
    _prices: dict[date, PriceDraws] = field(default_factory=dict)
    _deaths: dict[tuple[float, float, int], Number] = field(default_factory=dict)
    _forage: dict[float, Number] = field(default_factory=dict)

    @cached_property
    def slide_z(self) -> AnyFloat:
        """The slide of the group's sex in every draw [standard errors off its mean]."""
        prices = self.case.prices
        return np.asarray(
            self.world.rows[prices.state.rows(self.world.after, prices.place, self.case.start)[1]]
        )

    def price(self, day: date) -> PriceDraws:
        """Return the draws of the group's price on a day of sale."""
        if day not in self._prices:
            self._prices[day] = price_draws(self.case, self.world, self.own, day)
        return self._prices[day]

    def deaths(self, option: Option, death_sd_pct: float) -> Number:
        """Return deaths in every draw [percent of the head started]."""
        planned = option.inputs["death_loss_pct"]
        if not self.count_deaths:
            return planned
        key = (planned, death_sd_pct, option.head)
        if key not in self._deaths:
            drawn = death_shares(option.head, planned / 100.0, death_sd_pct / 100.0, self.own.death_u)
            self._deaths[key] = (100.0 * drawn).astype(self.own.gain_z.dtype)
        return self._deaths[key]

    def forage(self, log_sd: float) -> Number:
        """Return forage yield over the plan in every draw: lognormal with its median at the plan."""
        if log_sd == 0.0:
            return 1.0
        if log_sd not in self._forage:
            self._forage[log_sd] = np.exp(log_sd * self.own.forage_z)
        return self._forage[log_sd]

    def run(self, candidate: Candidate, net_now: AnyFloat | None = None) -> SimulatedOption:
        """Return a candidate's gain in every draw; ``net_now`` where it is not the group's own."""
        option, price, slide_z = candidate.option, self.price(candidate.sale_date), self.slide_z
        line = option.line

        def price_at(weight: Any, _: Any) -> Any:
            log_cwt, run = line.read(filled(weight, price.off))
            run *= slide_z
            log_cwt += run
            log_cwt += price.off
            return np.exp(log_cwt, out=log_cwt)

        inputs: dict[str, Any] = {
            **option.full_inputs,
            "gain_miss": option.gain_sd_lb_day * self.own.gain_z,
            "forage_ratio": self.forage(option.forage_log_sd),
            "death_loss_pct": self.deaths(option, candidate.program.death_sd_pct),
            "net_now": self.net_now if net_now is None else net_now,
        }
        gains, check, alive, market, sold = option.budget.function(WANTED, FIXED)(inputs, price_at)
        gains = filled(gains, price.off)
        brought = np.asarray((1.0 - option.inputs["commission_pct"] / 100.0) * alive * check)
        over = np.asarray(market / sold), np.asarray(1.0 / sold)
        return SimulatedOption(gains, self.curves(option, price, gains, brought, *over))

    def curves(
        self,
        option: Option,
        price: PriceDraws,
        gains: AnyFloat,
        brought: AnyFloat,
        market: AnyFloat,
        a_dollar: AnyFloat,
    ) -> Curves | None:
        """Return an option's gain in every draw as a curve of a price that is open; None where none is.

        ``brought`` [$ per head started] is the check after commission and deaths; the gain is that less what it must
        cover; ``market`` and ``a_dollar`` are the market's price, and a dollar a cwt, over the price sold at.
        """
        base = np.asarray(brought - gains)
        if option.is_contract:
            start = self.start_curves(option, base)
            return None if start is None else ContractFloorCurves(None, brought, base, start)
        if price.own_sd < SMALLEST_SD:
            return None
        worth = np.log(np.maximum(brought * market, SMALLEST_CHECK)) - price.own
        curves = PriceCurves(worth, base, price.own_sd)
        if not option.is_floored:
            return curves
        least = np.asarray(brought * a_dollar * brought.dtype.type(option.inputs["floor_cwt"]))
        return ContractFloorCurves(curves, least, base, self.start_curves(option, base))

    def start_curves(self, option: Option, base: AnyFloat) -> PriceCurves | None:
        """Return what the check must cover as a curve of the noise of the day now; None with a bid in hand.

        Selling now nets check (1 - commission share) less fixed costs; keeping must cover that and the interest on it.
        """
        state, plain = self.case.prices.state, option.plain
        day_sd = (state.calves[self.case.prices.place].day_var * state.held.lot) ** 0.5
        if option.has_bid or day_sd < SMALLEST_SD:
            return None
        fixed = (
            plain["start_check"] + plain["start_spread_head"] - plain["start_commission"] - plain["net_now"]
        )
        with_interest = 1.0 + option.inputs["interest_pct"] / 100.0 * option.days / DAYS_PER_YEAR
        kind = base.dtype.type
        brought = kind(with_interest) * (self.net_now + kind(fixed))
        worth = np.log(np.maximum(brought, SMALLEST_CHECK)) - self.own.noise_now
        return PriceCurves(worth, base - brought, day_sd)


def filled(value: Any, like: AnyFloat) -> AnyFloat:
    """Return a number or an array in the shape and precision of another."""
    value = np.asarray(value, dtype=like.dtype)
    return value if value.ndim else np.full_like(like, value)


def simulate_group(case: GroupCase, world: World, own: GroupDraws, count_deaths: bool) -> GroupSimulation:
    """Return a group in every draw, with what selling now nets."""
    level, slide, quality = case.prices.state.rows(world.after, case.prices.place, case.start)
    if case.group.bid_cwt is not None:
        net_now: AnyFloat = np.full_like(own.noise_now, case.net_now)
    else:
        run = case.start_line.run_at(case.group.mean_weight_lb)
        off = world.rows[level] + world.rows[quality] + own.noise_now + run * world.rows[slide]
        net_now = np.asarray(case.net_at(case.start_price_cwt * np.exp(off)))
    return GroupSimulation(case, world, own, count_deaths, net_now)


def price_draws(case: GroupCase, world: World, own: GroupDraws, day: date) -> PriceDraws:
    """Return the draws of a group's price on a day of sale.

    A draw knows the slide, and without a bid the price now; the price at sale is normal around its regression on them.
    """
    state, place, cov = case.prices.state, case.prices.place, world.after.cov
    level, slide, quality = state.rows(world.after, place, day)
    start, _, _ = state.rows(world.after, place, case.start)
    later_var, noise = case.prices.point(day).day_var, state.calves[place].day_var * state.held.lot
    off = (
        world.rows[level]
        + world.rows[quality]
        + own.noise_later[day] * own.noise_now.dtype.type(sqrt(later_var))
    )
    later, now, of_slide = (np.zeros(len(cov)) for _ in range(3))
    later[[level, quality]] += 1.0
    now[[start, quality]] += 1.0
    of_slide[slide] = 1.0
    known, drawn = [of_slide], [world.rows[slide]]
    noises = [0.0]
    if case.group.bid_cwt is None:
        known.append(now)
        drawn.append(world.rows[start] + world.rows[quality] + own.noise_now)
        noises.append(noise)
    given = np.array(known)
    with_later = given @ cov @ later
    slopes = np.linalg.lstsq(given @ cov @ given.T + np.diag(noises), with_later, rcond=1e-12)[0]
    own_var = later @ cov @ later + later_var - slopes @ with_later
    rest = off - sum(off.dtype.type(slope) * each for slope, each in zip(slopes, drawn, strict=True))
    return PriceDraws(off, np.asarray(rest), sqrt(max(0.0, float(own_var))))


def net_now_range(case: GroupCase) -> tuple[float, float]:
    """Return the 10 and 90 percent points of selling now [$ per head]; equal with a bid in hand."""
    off = exp(TEN_PERCENT_Z * sqrt(case.start_log_var))
    return float(case.net_at(case.start_price_cwt / off)), float(case.net_at(case.start_price_cwt * off))


def price_range(option: Option) -> tuple[float, float]:
    """Return the 10 and 90 percent points of the price at the planned weight [$/cwt]; a contract has no range."""
    median = option.plain["market_cwt"]
    if option.is_contract:
        return median, median
    off = exp(TEN_PERCENT_Z * option.price_sd)
    least = option.inputs.get("floor_cwt", 0.0)
    return max(median / off, least), max(median * off, least)


def herd_of(
    results: Sequence[GroupResult], kept: Sequence[AnyFloat], loss: float, alternatives: tuple[Any, ...]
) -> Herd:
    """Return the whole herd: groups that are sold now gain nothing, the others ``kept`` in every draw [$]."""
    spread = counted_spread(np.sum(kept, axis=0) if kept else np.zeros(1), loss)
    return Herd(
        head=sum(result.head for result in results),
        sell_now=sum(result.sell_now.net_herd for result in results),
        gain=sum(result.best.gain_herd for result in results),
        odds=spread.odds,
        p10=spread.p10,
        p50=spread.p50,
        p90=spread.p90,
        alternatives=alternatives,
    )
