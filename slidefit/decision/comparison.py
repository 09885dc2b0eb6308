"""Compare(): the one entry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.account import cash_needs, keep_lines, pasture_use, sell_now_lines
from slidefit.decision.choices import best_of, chosen
from slidefit.decision.growth import energy_check, wait_days
from slidefit.decision.money import Money, Shifts, cost_of_gain, money_of, value_of_gain
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
    sale_dates,
)
from slidefit.decision.pricing import price_line
from slidefit.decision.results import Breakeven, Comparison, GroupResult, KeepOption, SellNow, Unavailable
from slidefit.decision.risk.draws import GroupDraws, World, draw_all
from slidefit.decision.risk.inputs import DayPoint, closed_breakevens, days_even
from slidefit.decision.risk.odds import spread_of_gain
from slidefit.decision.risk.simulation import (
    ChosenGroup,
    SimulatedOption,
    draw_money,
    herd_of,
    net_now_draws,
    net_now_range,
    price_range,
)
from slidefit.errors import OutlookError
from slidefit.market.outlook import Outlook
from slidefit.plan.feeding import Program
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import read_plan
from slidefit.plan.selling import Selling
from slidefit.regions.region import Region

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class GroupAnswer:
    """A group's result, and the group in every draw if it is kept."""

    result: GroupResult
    kept: ChosenGroup | None


def as_draws(value: float | FloatArray, draws: int) -> FloatArray:
    """Return a number or an array as an array of draws."""
    return value if isinstance(value, np.ndarray) else np.full(draws, value)


def sell_now_of(case: GroupCase, plan: Plan, low: float, high: float) -> SellNow:
    """Return the account of selling at weaning."""
    weight, terms = case.group.mean_weight_lb, case.start_terms
    check = weight * terms.pay_factor * case.start_price_cwt / 100.0
    return SellNow(
        sale_date=case.weaning,
        weight_lb=weight,
        pay_weight_lb=weight * terms.pay_factor,
        price_cwt=case.start_price_cwt,
        has_bid=case.group.bid_cwt is not None,
        mix_per_head=check * (case.start_mix - 1.0),
        net_per_head=case.net_now,
        net_herd=case.net_now * case.group.head,
        p10=low,
        p90=high,
        lines=sell_now_lines(case, plan.selling),
    )


def keep_option(
    candidate: Candidate, plan: Plan, case: GroupCase, plain: Money, drawn: SimulatedOption, days: Breakeven
) -> KeepOption:
    """Return the account of one option: its budget, breakevens and spread."""
    option = candidate.option
    pasture = pasture_use(candidate)
    energy = energy_check(candidate.stretches, case.group.sex, case.group.frame)
    forage = [each.pasture.forage_lb_acre for each in candidate.stretches if each.pasture is not None]
    gains = as_draws(drawn.money.gain, plan.risk.draws)
    spread = spread_of_gain(gains, drawn.curves, plan.risk.loss_head)
    low, high = price_range(option, plain, drawn.price.sd, float("slide" in plan.risk.vary))
    gain, price = float(plain.gain), float(plain.price_cwt)
    start_pay = option.start_lb * option.start_terms.pay_factor * option.start_mix
    sale_pay = option.sale_lb * option.sale_terms.pay_factor * option.sale_mix
    return KeepOption(
        program=candidate.program.name,
        sale_date=candidate.sale_date,
        sale_month=f"{candidate.sale_date:%Y-%m}",
        days=option.days,
        weight_lb=option.sale_lb,
        pay_weight_lb=option.sale_lb * option.sale_terms.pay_factor,
        price_cwt=price,
        price_low_cwt=low,
        price_high_cwt=high,
        net_per_head=float(plain.net_keep),
        gain_per_head=gain,
        gain_herd=gain * candidate.capacity_head,
        gain_per_acre=None if pasture is None else gain * pasture.head_per_acre,
        head_kept=candidate.capacity_head,
        value_of_gain_per_lb=value_of_gain(
            start_pay, option.start_price_cwt, sale_pay, price, option.gain_lb
        ),
        cost_of_gain_per_lb=cost_of_gain(float(plain.cash + plain.interest), option.gain_lb),
        odds=spread.odds,
        odds_big_loss=spread.odds_big_loss,
        p10=spread.p10,
        p50=spread.p50,
        p90=spread.p90,
        mean=spread.mean,
        worst5_mean=spread.worst5_mean,
        draw_error=spread.draw_error,
        breakevens=(*closed_breakevens(option, plain, forage[0] if forage else None), days),
        lines=keep_lines(candidate, plan.selling, plain),
        cash=cash_needs(candidate, case.weaning),
        pasture=pasture,
        energy=energy,
        notes=candidate_notes(candidate, pasture, energy, gain),
    )


def day_breakevens(
    plan: Plan, case: GroupCase, candidates: Sequence[Candidate], plain: Sequence[Money]
) -> list[Breakeven]:
    """Return the breakeven in days of every option; the sale dates of its program bracket it."""
    known: dict[tuple[str, int], float] = {}
    for each, money in zip(candidates, plain, strict=True):
        known[each.program.name, each.option.days] = float(money.gain)

    def gain_after(program: Program, days: int) -> float:
        if (program.name, days) not in known:
            day = case.weaning + timedelta(days=days)
            line = price_line(case.outlook, case.group, day, case.weaning)
            option, _ = build_option(plan, case, program, line, day)
            known[program.name, days] = float(money_of(option, Shifts()).gain)
        return known[program.name, days]

    for program in {each.program.name: each.program for each in candidates}.values():
        gain_after(program, wait_days(program, case.weaning) + 1)
    points: dict[str, list[DayPoint]] = {}
    for (name, days), gain in sorted(known.items()):
        points.setdefault(name, []).append(DayPoint(days, gain))
    return [
        days_even(points[each.program.name], each.option.days, partial(gain_after, each.program))
        for each in candidates
    ]


def answer_group(
    outlook: Outlook,
    plan: Plan,
    case: GroupCase,
    candidates: Sequence[Candidate],
    refused: tuple[Unavailable, ...],
    world: World,
    own: GroupDraws,
) -> GroupAnswer:
    """Return everything about one group: budget and draws for each of its options, and the best."""
    group, draws = case.group, plan.risk.draws
    plain = [money_of(each.option, Shifts()) for each in candidates]
    now = net_now_draws(case, world, own)
    drawn = draw_money(case, candidates, world, own, now, "deaths" in plan.risk.vary)
    gains = [as_draws(each.money.gain, draws) for each in drawn]
    days = day_breakevens(plan, case, candidates, plain)
    keep = tuple(
        keep_option(each, plan, case, budget, draw, even)
        for each, budget, draw, even in zip(candidates, plain, drawn, days, strict=True)
    )
    result = GroupResult(
        group=group.name,
        sex=group.sex,
        head=group.head,
        sell_now=sell_now_of(case, plan, *net_now_range(case, world, own)),
        keep=keep,
        best=best_of(keep, gains, case.weaning),
        unavailable=refused,
        notes=group_notes(outlook, case, keep),
    )
    return GroupAnswer(result, kept_group(case, own, candidates, drawn, gains, result))


def kept_group(
    case: GroupCase,
    own: GroupDraws,
    candidates: Sequence[Candidate],
    drawn: Sequence[SimulatedOption],
    gains: Sequence[FloatArray],
    result: GroupResult,
) -> ChosenGroup | None:
    """Return a group at its best choice in every draw; None when selling now is the choice."""
    best = chosen(result)
    if best is None:
        return None
    one = drawn[best]
    return ChosenGroup(
        case=case,
        own=own,
        sale_date=candidates[best].sale_date,
        head=candidates[best].capacity_head,
        gains=gains[best],
        price_off=one.price.own,
        curves=one.curves,
    )


def refuse_empty(plan: Plan, refused: Sequence[Unavailable]) -> None:
    """Raise when nothing at all can be compared.

    Raises
    ------
    OutlookError
        Every option of every group is refused; the reasons are told.
    """
    reasons = list(dict.fromkeys(f"{each.program} in {each.sale_month}: {each.reason}" for each in refused))
    shown = "; ".join(reasons[:4]) + (f"; and {len(reasons) - 4} more" if len(reasons) > 4 else "")
    raise OutlookError(
        f"no program can be compared in any month ({shown})",
        where=plan.title or "plan",
        remedy="Change the months of sale, the programs' dates or the weights, or add sale records.",
    )


def compare(outlook: Outlook, plan: Plan | str | Path) -> Comparison:
    """Compare selling at weaning with every program and sale date, group by group.

    Parameters
    ----------
    outlook : Outlook
    plan : Plan, or the path of a TOML plan

    Raises
    ------
    PlanError
        A plan file is at fault.
    OutlookError
        The outlook knows nothing of a group's calves, or no option at all can be compared.

    Notes
    -----
    The budget uses the median price, planned gain, planned yield and planned deaths. Its gain from keeping is
    close to the median of the draws, but not equal to it: deaths come in whole calves, and a product of medians
    is not the median of the product.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    sales = sale_dates(plan)
    sexes = sorted({group.sex for group in plan.groups})
    cases = [group_case(outlook, plan, group) for group in plan.groups]
    world, draws = draw_all(outlook, plan, sales, sexes)
    answers = []
    for case, own in zip(cases, draws, strict=True):
        lines = {day: price_line(case.outlook, case.group, day, case.weaning) for day in sales}
        candidates, refused = build_candidates(outlook, plan, case, lines)
        answers.append(answer_group(outlook, plan, case, candidates, refused, world, own))
    results = tuple(answer.result for answer in answers)
    if not any(result.keep for result in results):
        refuse_empty(plan, [each for result in results for each in result.unavailable])
    return Comparison(
        groups=results,
        herd=herd_of(results, [answer.kept for answer in answers if answer.kept is not None], world),
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
        futures=outlook.futures,
        record=outlook.record,
    )


def with_region_terms(plan: Plan, region: Region) -> Plan:
    """Return the plan, with the region's typical costs of selling where it has no [selling] of its own."""
    terms = region.selling.model_dump(exclude_none=True)
    if not terms or "selling" in plan.model_fields_set:
        return plan
    return plan.model_copy(update={"selling": Selling.model_validate(terms)})
