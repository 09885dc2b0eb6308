"""The choices, side by side: sell all, keep all, sell a share, keep one side by weight, a floor, a forward price."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from slidefit.decision.account import pasture_use
from slidefit.decision.money import Option, expected
from slidefit.decision.options import Candidate, build_option, capacity_for, contract_for
from slidefit.decision.results import Alternative, KeepOption
from slidefit.decision.risk.draws import AnyFloat
from slidefit.decision.risk.odds import counted_spread
from slidefit.decision.risk.simulation import GroupSimulation, SimulatedOption
from slidefit.decision.risk.sorting import best_split, case_at
from slidefit.distributions import normal_cdf
from slidefit.plan.plan import Plan
from slidefit.plan.selling import Contract, Floor

SELL_ALL = "sell all"
SHARE_SOLD = 0.5
"""A share sold now where the plan says none: half."""


@dataclass(frozen=True)
class Way:
    """One way to go for a group in every draw; $, acres and gains against selling all now are for all of its head.

    ``option`` is the place of the option that it is, for a ``share`` of the group; None where it is another or room is
    short.
    """

    what: str
    detail: str
    head: int
    expected_head: float
    gains_head: AnyFloat
    acres: float
    cash: float
    fair_cost_cwt: float | None = None
    option: int | None = None
    share: float = 1.0

    def scaled(self, what: str, detail: str, share: float) -> Way:
        """Return the same way for a share of the group."""
        told = replace(self, what=what, detail=detail, expected_head=share * self.expected_head, share=share)
        return replace(
            told, gains_head=share * self.gains_head, acres=share * self.acres, cash=share * self.cash
        )


def expected_price(option: Option) -> float:
    """Return the expected price at the planned weight [$/cwt]."""
    return option.line.price_cwt(option.sale_lb) * math.exp(0.5 * option.price_sd**2)


def fair_floor_cost_cwt(expected_cwt: float, log_sd: float, floor_cwt: float) -> float:
    """Return what a price floor is worth [$/cwt]: Black's formula for a put on a lognormal price, without interest.

    floor x N(-d + sd) - expected x N(-d), d = ln(expected / floor) / sd + sd / 2

    F. Black, The pricing of commodity contracts, Journal of Financial Economics 3 (1976).

    >>> round(fair_floor_cost_cwt(300.0, 0.12, 300.0), 2)
    14.35
    """
    if log_sd <= 0.0:
        return max(0.0, floor_cwt - expected_cwt)
    d = math.log(expected_cwt / floor_cwt) / log_sd + 0.5 * log_sd
    return float(floor_cwt * normal_cdf(log_sd - d) - expected_cwt * normal_cdf(-d))


def way_of(
    simulation: GroupSimulation,
    candidate: Candidate,
    drawn: SimulatedOption,
    gain: float,
    what: str,
    detail: str = "",
    fair: float | None = None,
) -> Way:
    """Return keeping all that there is room for on one program until one day."""
    kept, pasture, day = candidate.capacity_head, pasture_use(candidate), candidate.sale_date
    return Way(
        what=what,
        detail=f"{candidate.program.name} to {day:%b} {day.day}" + (f", {detail}" if detail else ""),
        head=simulation.case.group.head,
        expected_head=gain * kept,
        gains_head=np.asarray(drawn.gains, dtype=np.float32) * np.float32(kept),
        acres=0.0 if pasture is None else kept / pasture.head_per_acre,
        cash=kept * candidate.option.plain["cash_head"],
        fair_cost_cwt=fair,
    )


def under_terms(
    plan: Plan,
    simulation: GroupSimulation,
    candidate: Candidate,
    floor: Floor | None = None,
    contract: Contract | None = None,
) -> Candidate:
    """Return an option under a floor or a contract of its own in place of the plan's; open without either."""
    selling = plan.selling.model_copy(update={"floor": floor, "contract": contract})
    changed = plan.model_copy(update={"selling": selling})
    option, stretches = build_option(changed, simulation.case, candidate.program, candidate.sale_date)
    return replace(candidate, option=option, stretches=stretches)


def ways_of(
    plan: Plan,
    simulation: GroupSimulation,
    candidates: Sequence[Candidate],
    drawn: Sequence[SimulatedOption],
    gains: Sequence[float],
) -> tuple[Way, ...]:
    """Return the choices for one group, selling all first; gains are expected, drawn ones in every draw."""
    head = simulation.case.group.head
    nothing = np.zeros(len(simulation.net_now), dtype=np.float32)
    out = [Way(SELL_ALL, "", head, 0.0, nothing, 0.0, 0.0)]
    if not candidates:
        return tuple(out)
    order = sorted(range(len(candidates)), key=lambda k: -gains[k] * candidates[k].capacity_head)
    open_ways: list[tuple[Candidate, Way]] = []
    seen: set[str] = set()
    for k in order:
        candidate = candidates[k]
        if candidate.program.name in seen:
            continue
        seen.add(candidate.program.name)
        draw, gain = drawn[k], gains[k]
        if candidate.option.is_contract or candidate.option.is_floored:
            candidate = under_terms(plan, simulation, candidate)
            draw, gain = simulation.run(candidate), float(expected(candidate.option))
        way = way_of(simulation, candidate, draw, gain, "keep all")
        whole = candidate is candidates[k] and candidate.capacity_head == head
        open_ways.append((candidate, replace(way, option=k) if whole else way))
    out += [way for _, way in open_ways]
    best, kept = max(open_ways, key=lambda each: each[1].expected_head)
    out.append(
        kept.scaled("sell a share", f"{SHARE_SOLD:.0%} sold now, the rest {kept.detail}", 1.0 - SHARE_SOLD)
    )
    out += split_way(plan, simulation, best)
    return (*out, *protected_ways(plan, simulation, best))


def split_way(plan: Plan, simulation: GroupSimulation, candidate: Candidate) -> list[Way]:
    """Return keeping the lighter or the heavier side at the threshold that is expected to bring most."""
    case = simulation.case
    split = best_split(plan, case, candidate.program, candidate.sale_date)
    if split is None:
        return []
    kept_case = case_at(case, split.kept_lb, split.kept_head)
    option, stretches = build_option(plan, kept_case, candidate.program, candidate.sale_date, open_price=True)
    part = Candidate(
        candidate.program,
        candidate.sale_date,
        option,
        stretches,
        min(capacity_for(candidate.program, stretches, option), split.kept_head),
    )
    ratio = np.float32(kept_case.net_now / case.net_now) if case.net_now else np.float32(1.0)
    net_now = simulation.net_now * ratio
    draw = simulation.run(part, net_now)
    side = f"keep the {split.side}"
    detail = f"{'under' if split.side == 'lighter' else 'over'} {split.threshold_lb:,.0f} lb kept"
    way = way_of(simulation, part, draw, float(expected(option)), side, detail)
    lost = split.lot_cost_head * case.group.head
    return [
        replace(way, expected_head=way.expected_head - lost, gains_head=way.gains_head - np.float32(lost))
    ]


def protected_ways(plan: Plan, simulation: GroupSimulation, candidate: Candidate) -> list[Way]:
    """Return the best way to keep under a floor and at a forward price: the plan's, or ones at the expected price."""
    option, price = candidate.option, expected_price(candidate.option)
    floor = plan.selling.floor
    fair = fair_floor_cost_cwt(price, option.price_sd, price if floor is None else floor.floor_cwt)
    told = "the plan's floor" if floor is not None else f"a floor of ${price:,.0f} at its fair cost"
    terms = floor or Floor.model_construct(floor_cwt=price, cost_cwt=fair)
    held = under_terms(plan, simulation, candidate, floor=terms)
    gain = float(expected(held.option))
    out = [way_of(simulation, held, simulation.run(held), gain, "price floor", told, fair)]
    contract = contract_for(plan.selling, simulation.case.group, candidate.sale_date)
    told = "the plan's contract"
    if contract is None:
        slide = option.line.price_cwt(option.sale_lb - 50.0) - option.line.price_cwt(option.sale_lb + 50.0)
        told = f"${price:,.0f} agreed for {option.plain['pay_lb']:,.0f} lb"
        contract = Contract.model_construct(
            price_cwt=price,
            base_weight_lb=option.plain["pay_lb"],
            slide_cwt=max(0.0, slide),
            window_lb=0.0,
            two_way=True,
            months=None,
            groups=None,
        )
    held = under_terms(plan, simulation, candidate, contract=contract)
    gain = float(expected(held.option))
    return [*out, way_of(simulation, held, simulation.run(held), gain, "forward price", told)]


def alternative_of(way: Way, loss_head: float, option: KeepOption | None = None) -> Alternative:
    """Return a way to go as it is told, per head of all of the group: with the odds of the option that it is."""
    if way.what == SELL_ALL:
        return Alternative(SELL_ALL, "", 0.0, 0.0, None, None, None, 0.0)
    counted = counted_spread(np.asarray(way.gains_head) / way.head, loss_head)
    spread = option or counted
    return Alternative(
        what=way.what,
        detail=way.detail,
        expected=way.expected_head / way.head,
        bad_year=way.share * option.bad_year if option else counted.bad_year,
        odds=spread.odds,
        odds_big_loss=spread.odds_big_loss if way.share == 1.0 else counted.odds_big_loss,
        per_acre=way.expected_head / way.acres if way.acres > 0.0 else None,
        cash_peak=way.cash,
        fair_cost_cwt=way.fair_cost_cwt,
    )


def herd_alternatives(groups: Sequence[Sequence[Way]], loss_head: float) -> tuple[Alternative, ...]:
    """Return the same ways for the whole herd: each group by its own best one of a kind, in the same draws.

    A group that a way is not open to is sold now.
    """
    head = sum(ways[0].head for ways in groups)
    kinds: dict[str, list[Way]] = defaultdict(list)
    for ways in groups:
        best: dict[str, Way] = {}
        for way in ways:
            kind = "keep one side" if way.what.startswith("keep the ") else way.what
            if kind not in best or way.expected_head > best[kind].expected_head:
                best[kind] = way
        for kind, way in best.items():
            kinds[kind].append(way)
    out = []
    for kind, ways in kinds.items():
        whole = Way(
            what=kind,
            detail="each group at its best" if kind != SELL_ALL else "",
            head=head,
            expected_head=sum(way.expected_head for way in ways),
            gains_head=np.sum([way.gains_head for way in ways], axis=0),
            acres=sum(way.acres for way in ways),
            cash=sum(way.cash for way in ways),
        )
        out.append(alternative_of(whole, loss_head))
    return tuple(out)
