"""Compare(): the one entry."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from slidefit.decision.account import cash_needs, keep_lines, pasture_use, sell_now_lines
from slidefit.decision.budget.lines import selling_budget
from slidefit.decision.choices import best_of, chosen
from slidefit.decision.growth import energy_check, wait_days
from slidefit.decision.money import cost_of_gain, expected, value_of_gain
from slidefit.decision.notes import (
    candidate_notes,
    cautions_for,
    defaults_of,
    group_notes,
    left_out_of,
    plan_notes,
)
from slidefit.decision.options import (
    Candidate,
    GroupCase,
    build_candidates,
    build_option,
    group_case,
    price_state_of,
    sale_dates,
)
from slidefit.decision.results import (
    Breakeven,
    Comparison,
    Deferred,
    GroupResult,
    KeepOption,
    SellNow,
    Unavailable,
)
from slidefit.decision.risk.alternatives import Way, alternative_of, herd_alternatives, ways_of
from slidefit.decision.risk.breakevens import Slopes, breakevens_of, days_even, later_bid_even, slopes_of
from slidefit.decision.risk.draws import AnyFloat, GroupDraws, World, draw_all
from slidefit.decision.risk.odds import spread_of_gain
from slidefit.decision.risk.simulation import (
    SimulatedOption,
    herd_of,
    net_now_range,
    price_range,
    simulate_group,
)
from slidefit.decision.typed_prices import outlook_for
from slidefit.errors import OutlookError
from slidefit.market.outlook import Outlook
from slidefit.plan.feeding import Program
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import read_plan
from slidefit.plan.selling import Selling

if TYPE_CHECKING:
    from slidefit.regions.region import Region

MOST_DAYS_BEFORE = 45
"""A price level this old says nothing of the day: our choice."""
MOST_DAYS_AFTER = 548
"""Eighteen months: what may come by then is wider than any decision can use (our choice)."""


@dataclass(frozen=True)
class GroupAnswer:
    """A group's result, what its best choice gains in every draw if it is kept [$], and its alternatives."""

    result: GroupResult
    kept: AnyFloat | None
    ways: tuple[Way, ...]


def sell_now_of(case: GroupCase) -> SellNow:
    """Return the account of selling now."""
    weight, budget = case.group.mean_weight_lb, selling_budget()
    values = budget.values(case.start_inputs)
    low, high = net_now_range(case)
    return SellNow(
        sale_date=case.start,
        weight_lb=weight,
        pay_weight_lb=float(values["start_pay_lb"]),
        price_cwt=case.start_price_cwt,
        has_bid=case.group.bid_cwt is not None,
        mix_per_head=float(values["start_spread_head"]),
        net_per_head=case.net_now,
        net_herd=case.net_now * case.group.head,
        p10=low,
        p90=high,
        lines=sell_now_lines(case, budget),
        days_ahead=max(0, (case.start - case.outlook.as_of).days),
    )


def keep_option(
    candidate: Candidate, plan: Plan, case: GroupCase, slopes: Slopes, drawn: SimulatedOption, days: DayEven
) -> KeepOption:
    """Return the account of one option: its budget, breakevens and spread."""
    option, plain, gain = candidate.option, candidate.option.plain, slopes.now
    pasture = pasture_use(candidate)
    energy = energy_check(candidate.stretches, case.group.sex, case.group.frame)
    forage = [each.pasture.forage_lb_acre for each in candidate.stretches if each.pasture is not None]
    low, high = price_range(option)
    return KeepOption(
        program=candidate.program.name,
        sale_date=candidate.sale_date,
        sale_month=f"{candidate.sale_date:%Y-%m}",
        days=option.days,
        weight_lb=option.sale_lb,
        pay_weight_lb=plain["pay_lb"],
        price_cwt=plain["price_cwt"],
        price_low_cwt=low,
        price_high_cwt=high,
        net_per_head=plain["net_later"],
        gain_per_head=gain,
        gain_herd=gain * candidate.capacity_head,
        budget_gain_per_head=plain["gain_per_head"],
        gain_per_acre=None if pasture is None else gain * pasture.head_per_acre,
        head_kept=candidate.capacity_head,
        value_of_gain_per_lb=value_of_gain(
            plain["start_pay_lb"] * option.inputs["start_mix"],
            option.inputs["start_price_cwt"],
            plain["pay_lb"] * option.sale_mix,
            plain["price_cwt"],
            option.gain_lb,
        ),
        cost_of_gain_per_lb=cost_of_gain(plain["cash_head"] + plain["interest_head"], option.gain_lb),
        mean=gain,
        **vars(spread_of_gain(drawn.gains, drawn.curves, plan.risk.loss_head)),
        later_bid_cwt=later_bid_even(option, slopes).value,
        breakevens=Deferred(lambda: (*breakevens_of(option, slopes, forage), days(candidate))),
        lines=Deferred(lambda: keep_lines(candidate, gain)),
        cash=Deferred(lambda: cash_needs(candidate, case.start)),
        pasture=pasture,
        energy=energy,
        notes=candidate_notes(candidate, pasture, energy, gain),
    )


DayEven = Callable[[Candidate], Breakeven]


def day_breakevens(
    plan: Plan, case: GroupCase, candidates: Sequence[Candidate], gains: Sequence[float]
) -> DayEven:
    """Return what finds an option's breakeven in days; the sale dates of its program bracket it."""
    known: dict[tuple[str, int], float] = {}
    planned: dict[str, set[int]] = {}
    kept = (case.start - case.weaning).days
    for each, gain in zip(candidates, gains, strict=True):
        known[each.program.name, each.option.days] = gain
        first = max(1, wait_days(each.program, case.weaning) + 1 - kept)
        planned.setdefault(each.program.name, {first}).add(each.option.days)

    def gain_after(program: Program, days: int) -> float:
        if (program.name, days) not in known:
            option, _ = build_option(plan, case, program, case.start + timedelta(days=days))
            known[program.name, days] = float(expected(option))
        return known[program.name, days]

    def even(candidate: Candidate) -> Breakeven:
        after = partial(gain_after, candidate.program)
        points = {days: after(days) for days in planned[candidate.program.name]}
        return days_even(points, candidate.option.days, after)

    return even


def answer_group(
    plan: Plan,
    case: GroupCase,
    candidates: Sequence[Candidate],
    refused: tuple[Unavailable, ...],
    world: World,
    own: GroupDraws,
) -> GroupAnswer:
    """Return everything about one group: budget and draws for each of its options, the best, the alternatives."""
    group = case.group
    simulation = simulate_group(case, world, own, "deaths" in plan.risk.vary)
    drawn = [simulation.run(each) for each in candidates]
    slopes = [slopes_of(each.option) for each in candidates]
    gains = [each.now for each in slopes]
    days = day_breakevens(plan, case, candidates, gains)
    keep = tuple(
        keep_option(each, plan, case, slope, draw, days)
        for each, slope, draw in zip(candidates, slopes, drawn, strict=True)
    )
    ways = ways_of(plan, simulation, candidates, drawn, gains)
    result = GroupResult(
        group=group.name,
        sex=group.sex,
        head=group.head,
        sell_now=sell_now_of(case),
        keep=keep,
        best=best_of(keep, [each.gains for each in drawn], case.start),
        unavailable=refused,
        notes=group_notes(case, keep),
        alternatives=tuple(
            alternative_of(way, plan.risk.loss_head, None if way.option is None else keep[way.option])
            for way in ways
        ),
        bid=case.prices.state.reading(case.prices.place),
    )
    best = chosen(result)
    kept = None if best is None else candidates[best].capacity_head * drawn[best].gains.astype(float)
    return GroupAnswer(result, kept, ways)


def refuse_empty(plan: Plan, refused: Sequence[Unavailable]) -> None:
    """Raise when nothing at all can be compared, with the reasons."""
    reasons = list(dict.fromkeys(f"{each.program} in {each.sale_month}: {each.reason}" for each in refused))
    shown = "; ".join(reasons[:4]) + (f"; and {len(reasons) - 4} more" if len(reasons) > 4 else "")
    raise OutlookError(
        f"no program can be compared in any month ({shown})",
        where=plan.title or "plan",
        remedy="Change the months of sale, the programs' dates or the weights, or add sale records.",
    )


Known = Callable[[Hashable, Callable[[], GroupAnswer]], GroupAnswer]
"""Gives back what stands under a key, or makes it and keeps it."""


def rests_on(plan: Plan, place: int) -> Hashable:
    """Return all of a plan that one group's answer rests on.

    Of another group that is its day, sex and head, which share the draws out; and all of it where it has a bid, which
    tells of everybody's price level.
    """
    others = tuple(
        each if each.bid_cwt is not None else (each.sex, each.head, plan.start_of(each))
        for k, each in enumerate(plan.groups)
        if k != place
    )
    return plan.model_copy(update={"groups": (), "title": ""}), place, plan.groups[place], others


def compare(
    outlook: Outlook | None, plan: Plan | str | Path, *, known: Known = lambda _, make: make()
) -> Comparison:
    """Compare selling at weaning with every program and sale date, group by group.

    Parameters
    ----------
    outlook : Outlook or None
        None where the plan types its own prices.
    plan : Plan, or the path of a TOML plan
    known : callable, optional
        A store of one outlook's answers by group: what one group says again is not worked out again.

    Raises
    ------
    PlanError, OutlookError
        A plan file is at fault; the outlook knows nothing of a group's calves, or no option at all can be compared.

    Notes
    -----
    The plan's own budget uses median prices, planned gain, yield and planned deaths. What ranks is the expected gain:
    the mean over a year whose price, gain, forage and deaths are not known.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    outlook = outlook_for(outlook, plan)
    sales = sale_dates(plan)
    refuse_far_dates(outlook, plan)
    state = price_state_of(outlook, plan)
    cases = [group_case(outlook, plan, group, state) for group in plan.groups]
    world, draws = draw_all(state, plan, sales)

    def answered(case: GroupCase, own: GroupDraws) -> GroupAnswer:
        candidates, refused = build_candidates(outlook, plan, case, sales)
        return answer_group(plan, case, candidates, refused, world, own)

    answers = [
        known(rests_on(plan, place), partial(answered, case, own))
        for place, (case, own) in enumerate(zip(cases, draws, strict=True))
    ]
    results = tuple(answer.result for answer in answers)
    if not any(result.keep for result in results):
        refuse_empty(plan, [each for result in results for each in result.unavailable])
    kept = [answer.kept for answer in answers if answer.kept is not None]
    herd_ways = herd_alternatives([answer.ways for answer in answers], plan.risk.loss_head)
    return Comparison(
        groups=results,
        herd=herd_of(results, kept, plan.risk.loss_head, herd_ways),
        currency=outlook.currency,
        as_of=outlook.as_of,
        source=outlook.basis.source,
        draws=plan.risk.draws,
        seed=plan.risk.seed,
        defaults_used=defaults_of(plan),
        left_out=left_out_of(plan),
        cautions=cautions_for(plan, sales),
        notes=plan_notes(outlook, plan, results, sales),
        verdict=outlook.basis.verdict,
        typed_prices=plan.prices is not None,
        futures=outlook.futures,
        record=outlook.record,
    )


def refuse_far_dates(outlook: Outlook, plan: Plan) -> None:
    """Refuse starts over 45 days before the last sale, whose own price level is gone by, or 18 months after it."""
    for group in plan.groups:
        start = plan.start_of(group)
        days = (start - outlook.as_of).days
        if -MOST_DAYS_BEFORE <= days <= MOST_DAYS_AFTER:
            continue
        side = f"{-days} days before" if days < 0 else f"{days} days after"
        far = "wrong by then" if days > 0 else "of another time"
        raise OutlookError(
            f"weaning on {start} is {side} the last sale on {outlook.as_of}: its price level would be {far}",
            where=f"group {group.name!r}",
            remedy="Check the year of weaning, or add sale records nearer to it.",
        )


def with_region_terms(plan: Plan, region: Region) -> Plan:
    """Return the plan, with the region's typical costs of selling where it has no [selling] of its own."""
    terms = region.selling.model_dump(exclude_none=True)
    if not terms or "selling" in plan.model_fields_set:
        return plan
    return plan.model_copy(update={"selling": Selling.model_validate(terms)})
