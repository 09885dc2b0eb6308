"""The options of a group, and why others are not."""

from __future__ import annotations

import calendar
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.budget.lines import budget_of, selling_budget, suffix
from slidefit.decision.budget.plan_inputs import feeding_inputs, selling_inputs, shape_of
from slidefit.decision.growth import FeedingPeriod, longest_days, stretches_of, wait_days
from slidefit.decision.money import Number, Option
from slidefit.decision.price_state import Held, PriceState, StateGroup, slide_run
from slidefit.decision.pricing import (
    GroupPrices,
    PriceLine,
    forward_of,
    lot_head,
    spread_of,
    weight_mix_factor,
)
from slidefit.decision.results import Unavailable
from slidefit.errors import OutlookError
from slidefit.facts import Field, Text
from slidefit.market.outlook import Outlook
from slidefit.plan.costs import KEEPING_COSTS
from slidefit.plan.feeding import Program
from slidefit.plan.plan import Group, Plan
from slidefit.plan.selling import Contract, Selling

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class GroupCase:
    """A group with what is the same for all of its options.

    ``start`` is the day of selling now: that of weaning unless the calves are kept already. ``bid_prices`` are with a
    bid in hand at what the outlook expects, where there is none. ``start_price_cwt`` is the bid or the outlook's
    median, and ``start_log_var`` the variance of its log, zero with a bid; ``spread_lb`` is of `pricing.spread_of`;
    ``selling`` is what selling costs, as inputs of the budget.
    """

    group: Group
    weaning: date
    start: date
    prices: GroupPrices
    bid_prices: GroupPrices
    start_line: PriceLine
    start_price_cwt: float
    start_log_var: float
    start_mix: float
    spread_lb: FloatArray
    selling: Mapping[str, float]

    @property
    def outlook(self) -> Outlook:
        """The outlook behind the prices."""
        return self.prices.outlook

    @property
    def start_inputs(self) -> dict[str, float]:
        """The budget's inputs of selling now."""
        return {
            **self.selling,
            "start_lb": self.group.mean_weight_lb,
            "start_price_cwt": self.start_price_cwt,
            "start_mix": self.start_mix,
        }

    @cached_property
    def net_now(self) -> float:
        """Net of selling now, N0 [$ per head]."""
        return float(self.net_at(self.start_price_cwt))

    def net_at(self, price_cwt: Number) -> Number:
        """Return the net of selling now at any price [$ per head]."""
        budget = selling_budget()
        inputs = budget.with_defaults({**self.start_inputs, "start_price_cwt": price_cwt})
        return budget.function(("net_now",))(inputs, None)[0]  # type: ignore[no-any-return]


@dataclass(frozen=True)
class Candidate:
    """An option that can be compared, with what its account needs beside the numbers."""

    program: Program
    sale_date: date
    option: Option
    stretches: tuple[FeedingPeriod, ...]
    capacity_head: int


def month_name(when: date) -> str:
    """Return the name of a date's month."""
    return calendar.month_name[when.month]


def price_state_of(outlook: Outlook, plan: Plan, sales: Sequence[date] | None = None) -> PriceState:
    """Return the state of price of all groups of a plan, after their bids, over its days of sale or those given."""
    vary = set(plan.risk.vary)
    held = Held("price" in vary, "slide" in vary, "lot" in vary)
    calves = tuple(calves_of(outlook, plan, group) for group in plan.groups)
    days = sorted({*(sale_dates(plan) if sales is None else sales), *(each.weaning for each in calves)})
    return PriceState(outlook, calves, held, tuple(days))


def calves_of(outlook: Outlook, plan: Plan, group: Group) -> StateGroup:
    """Return a group as the state of price sees it."""
    start, weight, head = plan.start_of(group), group.mean_weight_lb, lot_head(group)
    try:
        expected = outlook.price_cwt(
            group.sex, weight, start, frame=group.frame, muscle=group.muscle, head=head
        )
    except OutlookError as fault:
        raise OutlookError(fault.what, where=f"group {group.name!r}", remedy=fault.remedy) from None
    return StateGroup(
        sex=group.sex,
        weaning=start,
        run=float(slide_run(outlook, group.sex, weight)),
        log_expected=float(np.log(expected)),
        log_bid=None if group.bid_cwt is None else math.log(group.bid_cwt),
        bid_is=group.bid_is,
        lot_var=outlook.lot_sd**2 + outlook.calf_sd**2 / max(head, 1.0),
        sale_var=outlook.sale_sd**2,
    )


def group_case(outlook: Outlook, plan: Plan, group: Group, state: PriceState | None = None) -> GroupCase:
    """Return a group's case: its price now and its selling terms; ``state`` is of all groups of the plan.

    OutlookError when the outlook knows nothing of its sex, grade, weight or weaning month.
    """
    state = state or price_state_of(outlook, plan)
    place = [each.name for each in plan.groups].index(group.name)
    weaning, start, where = plan.weaning_of(group), plan.start_of(group), f"group {group.name!r}"
    try:
        if not plan.risk.beyond_data:
            for weight_lb in (group.mean_weight_lb, *(each.weight_lb for each in group.forward)):
                outlook.check_weight(group.sex, weight_lb)
        forward = forward_of(outlook, group, start, plan.dates.sale_day)
    except OutlookError as fault:
        raise OutlookError(fault.what, where=fault.where or where, remedy=fault.remedy) from None
    if start.month in outlook.unseen_months and not plan.risk.unseen_months:
        raise OutlookError(
            f"the sale records hold no sale in {month_name(start)}, the month of weaning",
            where=where,
            remedy=Text(
                "Add sale records of that month, wean in another, or read it off the season's wave: ",
                Field("unseen_months", "true"),
                " under [risk].",
            ),
        )
    prices = GroupPrices(outlook, state, place, group, start, forward)
    line, spread, weight = prices.line(start), spread_of(group), group.mean_weight_lb
    has_bid = group.bid_cwt is not None
    return GroupCase(
        group=group,
        weaning=weaning,
        start=start,
        prices=prices,
        bid_prices=prices if has_bid else with_bid(prices),
        start_line=line,
        start_price_cwt=line.price_cwt(weight) if group.bid_cwt is None else group.bid_cwt,
        start_log_var=0.0 if has_bid else float(prices.point(start).variance(line.run_at(weight))),
        start_mix=float(weight_mix_factor(line, weight, spread)),
        spread_lb=spread,
        selling=selling_inputs(plan.selling),
    )


def with_bid(prices: GroupPrices) -> GroupPrices:
    """Return a group's prices with a bid in hand at what the outlook expects: how later prices would move with one."""
    calves = list(prices.state.calves)
    own = calves[prices.place]
    calves[prices.place] = replace(own, log_bid=own.log_expected)
    bid = prices.group.model_copy(update={"bid_cwt": math.exp(own.log_expected)})
    state = replace(prices.state, calves=tuple(calves))
    return GroupPrices(prices.outlook, state, prices.place, bid, prices.start, prices.forward)


def sale_dates(plan: Plan) -> tuple[date, ...]:
    """Return every date of sale that the plan asks for, in order."""
    months = plan.dates.sale_months()
    first_days = [date.fromisoformat(f"{month}-01") for month in months]
    if not plan.dates.every_week:
        return tuple(day.replace(day=plan.dates.sale_day) for day in first_days)
    start = plan.dates.weaning
    end = max(first_days) + timedelta(days=31)
    weekly = (start + timedelta(days=7 * step) for step in range(1, (end - start).days // 7 + 1))
    return tuple(day for day in weekly if f"{day:%Y-%m}" in months)


def contract_for(selling: Selling, group: Group, when: date) -> Contract | None:
    """Return the contract that a group sold on a day falls under, if any."""
    terms = selling.contract
    if terms is None or (terms.groups is not None and group.name not in terms.groups):
        return None
    return None if terms.months is not None and f"{when:%Y-%m}" not in terms.months else terms


def forage_log_sd(stretches: tuple[FeedingPeriod, ...]) -> float:
    """Return the spread of the forage yield in log points, for one year's draw over all pastures."""
    spreads = [each.pasture.forage_sd_pct / 100.0 for each in stretches if each.pasture is not None]
    return math.sqrt(math.log1p(max(spreads) ** 2)) if spreads else 0.0


def build_option(
    plan: Plan, case: GroupCase, program: Program, sale_date: date, *, open_price: bool = False
) -> tuple[Option, tuple[FeedingPeriod, ...]]:
    """Return the numbers of one option, and the stretches of growth behind them.

    ``open_price`` leaves the plan's contract and floor away.
    """
    group, days, kept = case.group, (sale_date - case.start).days, (case.start - case.weaning).days
    stretches = stretches_of(program, case.weaning, group.mean_weight_lb, days, kept)
    contract = None if open_price else contract_for(plan.selling, group, sale_date)
    floor = None if open_price else plan.selling.floor
    line = case.prices.line(sale_date)
    vary = plan.risk.vary
    inputs = {
        **case.start_inputs,
        **feeding_inputs(stretches),
        **{each.key: float(getattr(program, each.key)) for each in KEEPING_COSTS},
        "slump_lb": 0.0 if kept else program.slump_lb,
        "spent_head": program.spent_head,
        "interest_pct": plan.money.interest_pct,
        "death_loss_pct": program.death_loss_pct,
    }
    if kept:
        inputs |= {each.key: 0.0 for each in KEEPING_COSTS if each.per == "head"}
    if program.shrink_pct is not None:
        inputs["shrink_pct"] = program.shrink_pct
    if contract is not None:
        inputs |= {
            "contract_price_cwt": contract.price_cwt,
            "contract_weight_lb": contract.base_weight_lb,
            "contract_slide_cwt": contract.slide_cwt,
            "contract_window_lb": contract.window_lb,
        }
    if floor is not None:
        inputs |= {"floor_cwt": floor.floor_cwt, "floor_cost_cwt": floor.cost_cwt}
    option = Option(
        budget=budget_of(shape_of(stretches, contract, floor is not None)),
        inputs=inputs,
        line=line,
        point=case.prices.point(sale_date),
        bid_prices=case.bid_prices,
        sale_date=sale_date,
        start_log_var=case.start_log_var,
        spread_lb=case.spread_lb,
        head=group.head,
        days=days,
        gain_sd_lb_day=program.gain_sd_lb_day * ("gain" in vary),
        forage_log_sd=forage_log_sd(stretches) * ("forage" in vary),
        gain_forage_corr=plan.risk.gain_forage_corr,
        slide_from_lb=slide_from_lb(case, sale_date),
        has_bid=group.bid_cwt is not None,
        typed_slide_pct=None if plan.prices is None else plan.prices.slide_pct,
    )
    return option, stretches


def slide_from_lb(case: GroupCase, sale_date: date) -> float:
    """Return the weight that a sale's price moves away from when the slide does [lb]: the calves' own at the start.

    With a forward price it is that price's weight from its day on, and in between in proportion to the time.
    """
    start = case.group.mean_weight_lb
    if not case.prices.forward:
        return start
    at = np.array([price.weight_lb for _, price in case.prices.forward])
    return float(start + case.prices.shares(sale_date) @ (at - start))


def capacity_for(program: Program, stretches: tuple[FeedingPeriod, ...], option: Option) -> int:
    """Return how many head of a group the acres and pens hold for the days wanted."""
    room = option.head if program.pens_head is None else min(option.head, program.pens_head)
    for number, each in enumerate(stretches):
        if each.pasture is not None and each.pasture.acres is not None:
            room = min(room, int(each.pasture.acres / option.plain[f"acres_head{suffix(number)}"] + 1e-9))
    return room


def refusal(outlook: Outlook, plan: Plan, case: GroupCase, program: Program, sale_date: date) -> str:
    """Return why a program can't be compared on a day, before any weight is known; empty when it can."""
    days = (sale_date - case.start).days
    kept = (case.start - case.weaning).days
    if days <= 0:
        return (
            f"the sale on {sale_date} is not after {'this comparison' if kept else 'weaning'} on {case.start}"
        )
    longest = longest_days(program, case.weaning)
    if longest is not None and days + kept > longest:
        return f"the program ends {case.weaning + timedelta(days=longest)}"
    if 0 < days + kept <= wait_days(program, case.weaning):
        return f"the program opens {program.earliest_on}"
    unseen = sale_date.month in outlook.unseen_months and not plan.risk.unseen_months
    if unseen and contract_for(plan.selling, case.group, sale_date) is None:
        return f"the sale records hold no sale in {month_name(sale_date)}"
    return ""


def build_candidates(
    outlook: Outlook, plan: Plan, case: GroupCase, sales: Sequence[date]
) -> tuple[tuple[Candidate, ...], tuple[Unavailable, ...]]:
    """Return every option of a group that can be compared, and the others with their reasons."""
    found: list[Candidate] = []
    refused: list[Unavailable] = []
    for program in plan.programs_of(case.group):
        for day in sales:
            reason = refusal(outlook, plan, case, program, day)
            if not reason:
                option, stretches = build_option(plan, case, program, day)
                room = capacity_for(program, stretches, option)
                reason = room_reason(outlook, plan, case, option, room)
            if reason:
                refused.append(Unavailable(program.name, f"{day:%Y-%m}", reason))
            else:
                found.append(Candidate(program, day, option, stretches, room))
    return tuple(found), tuple(refused)


def room_reason(outlook: Outlook, plan: Plan, case: GroupCase, option: Option, room: int) -> str:
    """Return why a built option can't be compared after all; empty when it can."""
    if room < 1:
        return "the acres or pens at hand don't hold one calf that long"
    if not option.is_contract and not plan.risk.beyond_data:
        try:
            outlook.check_weight(case.group.sex, option.sale_lb)
        except OutlookError as fault:
            return fault.what
    return ""
