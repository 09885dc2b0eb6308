"""The budget of one option, line by line with its arithmetic; and the cash that it calls for by month."""

from __future__ import annotations

import calendar
from collections import defaultdict
from datetime import date, timedelta
from functools import lru_cache

from slidefit.decision.growth import FeedingPeriod
from slidefit.decision.money import DAYS_PER_YEAR, Money, Option, SaleTerms
from slidefit.decision.options import Candidate, GroupCase, other_costs
from slidefit.decision.results import BudgetLine, CashNeed, PastureUse
from slidefit.plan.feeding import Program
from slidefit.plan.selling import Selling


def cost(label: str, arithmetic: str, amount: float) -> BudgetLine:
    """Return a line of money out."""
    return BudgetLine(label, arithmetic, -amount, "cost")


def check_lines(
    weight_lb: float, terms: SaleTerms, price_cwt: float, mix: float, label: str, alive: float = 1.0
) -> list[BudgetLine]:
    """Return the check: weight, shrink and price; and what pricing each weight along the slide adds."""
    pay = weight_lb * terms.pay_factor
    check = pay * price_cwt / 100.0 * alive
    shrink = f"{weight_lb:,.1f} lb less {100 * (1 - terms.pay_factor):.2f}% shrink"
    share = f" x {alive:.3f} alive" if alive < 1.0 else ""
    lines = [BudgetLine(label, f"{shrink} = {pay:,.1f} lb x ${price_cwt:,.2f}/cwt{share}", check, "income")]
    if mix != 1.0:
        arithmetic = f"each weight at its own price: {100 * (mix - 1):+.2f}%"
        lines.append(BudgetLine("spread of weights", arithmetic, check * (mix - 1.0), "income"))
    return lines


def selling_lines(
    selling: Selling, terms: SaleTerms, weight_lb: float, check: float, alive: float = 1.0
) -> list[BudgetLine]:
    """Return what selling takes, per head started."""
    sold = f" x {alive:.3f} sold" if alive < 1.0 else ""
    lines = []
    if terms.share:
        arithmetic = f"{100 * terms.share:g}% of ${check:,.2f}{sold}"
        lines.append(cost("commission", arithmetic, terms.share * check * alive))
    fixed = (
        ("commission", selling.commission_head or 0.0),
        ("yardage at the market", selling.yardage_head),
        ("checkoff", selling.checkoff_head),
        ("insurance", selling.insurance_head),
        ("freight", selling.freight_head),
    )
    lines += [cost(label, f"${each:,.2f} a head{sold}", each * alive) for label, each in fixed if each]
    if terms.freight_lb:
        truck = f"{selling.miles:g} miles x ${selling.freight_loaded_mile:,.2f} / {selling.load_lb:,.0f} lb"
        arithmetic = f"{truck} x {weight_lb:,.1f} lb{sold}"
        lines.append(cost("freight", arithmetic, terms.freight_lb * weight_lb * alive))
    return lines


def sell_now_lines(case: GroupCase, selling: Selling) -> tuple[BudgetLine, ...]:
    """Return the budget of selling at weaning."""
    weight, terms = case.group.mean_weight_lb, case.start_terms
    check = weight * terms.pay_factor * case.start_price_cwt * case.start_mix / 100.0
    lines = check_lines(weight, terms, case.start_price_cwt, case.start_mix, "calf sold at weaning")
    lines += selling_lines(selling, terms, weight, check)
    return (*lines, BudgetLine("net of selling now", "", case.net_now, "total"))


def feed_lines(stretches: tuple[FeedingPeriod, ...]) -> list[BudgetLine]:
    """Return the feed of each stretch: by the day, each feed of a ration, and the pasture."""
    lines = []
    for each in stretches:
        if each.cost_head_day:
            arithmetic = f"{each.days} days x ${each.cost_head_day:.2f}"
            lines.append(cost(f"feed, {each.label}", arithmetic, each.days * each.cost_head_day))
        for feed in each.ration:
            waste = f" / {1 - feed.waste_pct / 100:.2f} for waste" if feed.waste_pct else ""
            arithmetic = f"{each.days} days x {feed.lb_day:g} lb{waste} x ${feed.price_ton:,.2f} / 2,000 lb"
            lines.append(cost(f"feed, {feed.name}", arithmetic, each.days * feed.cost_head_day))
        if each.pasture is not None:
            arithmetic = (
                f"{each.days} days x ${each.pasture.total_cost_acre:,.2f} an acre"
                f" / {each.head_days_acre:,.1f} head-days an acre"
            )
            lines.append(cost(f"pasture, {each.label}", arithmetic, each.days * each.pasture_head_day))
    return lines


def floor_line(option: Option) -> list[BudgetLine]:
    """Return the cost of a price floor, if one is bought."""
    if option.floor is None:
        return []
    pay = option.sale_lb * option.sale_terms.pay_factor
    arithmetic = f"{pay:,.1f} lb x ${option.floor.cost_cwt:.2f}/cwt"
    return [cost("price floor", arithmetic, pay / 100.0 * option.floor.cost_cwt)]


def keep_lines(candidate: Candidate, selling: Selling, plain: Money) -> tuple[BudgetLine, ...]:
    """Return the budget of keeping: revenue of those alive, costs of all started, and the gain from keeping."""
    option = candidate.option
    alive = 1.0 - option.death_share
    price, now = float(plain.price_cwt), float(plain.net_now)
    lines = check_lines(option.sale_lb, option.sale_terms, price, option.sale_mix, "calf sold later", alive)
    lines += selling_lines(selling, option.sale_terms, option.sale_lb, float(plain.check), alive)
    lines += feed_lines(candidate.stretches)
    lines += [cost(*each) for each in other_costs(candidate.program, option.days)]
    lines += floor_line(option)
    if option.interest_share:
        base = f"(${now:,.2f} + half of ${float(plain.cash):,.2f})"
        rate = f"{100 * option.interest_share:g}% x {option.days} / {DAYS_PER_YEAR:.0f} days"
        lines.append(cost("interest", f"{rate} x {base}", float(plain.interest)))
    keep, gain = float(plain.net_keep), float(plain.gain)
    lines.append(BudgetLine("net of keeping", "", keep, "total"))
    lines.append(BudgetLine("gain from keeping", f"${keep:,.2f} less ${now:,.2f}", gain, "total"))
    return tuple(lines)


@lru_cache(maxsize=4096)
def days_by_month(first: date, days: int) -> tuple[tuple[str, int], ...]:
    """Return the calendar months that a run of days touches, with the days in each.

    >>> days_by_month(date(2026, 10, 30), 5)
    (('2026-10', 2), ('2026-11', 3))
    """
    out = []
    day = first
    while days > 0:
        inside = min(days, calendar.monthrange(day.year, day.month)[1] - day.day + 1)
        out.append((f"{day:%Y-%m}", inside))
        day += timedelta(days=inside)
        days -= inside
    return tuple(out)


def cash_needs(candidate: Candidate, weaning: date) -> tuple[CashNeed, ...]:
    """Return the cash that keeping calls for, month by month, for the head that there is room for.

    Costs by the day fall on their days, costs once a head and a price floor on the weaning day; selling costs
    come out of the check and interest is not cash here.
    """
    option, program = candidate.option, candidate.program
    spent: dict[str, float] = defaultdict(float)
    floor = -sum(line.amount_per_head for line in floor_line(option))
    spent[f"{weaning:%Y-%m}"] += program.health_head + program.other_head + floor
    every_day = daily_cost(program)
    for each in candidate.stretches:
        cost_day = each.cost_head_day + each.ration_head_day + each.pasture_head_day + every_day
        for month, days in days_by_month(weaning + timedelta(days=each.first_day), each.days):
            spent[month] += cost_day * days
    total = 0.0
    out = []
    for month in sorted(spent):
        amount = spent[month] * candidate.capacity_head
        total += amount
        out.append(CashNeed(month, amount, total))
    return tuple(out)


def daily_cost(program: Program) -> float:
    """Return the costs beside feed that run by the day [$ per head-day]."""
    return (
        program.mineral_head_day
        + program.labor_head_day
        + program.yardage_head_day
        + program.fuel_head_day
        + program.other_head_day
    )


def pasture_use(candidate: Candidate) -> PastureUse | None:
    """Return what an option asks of the pasture; None where it grazes none."""
    grazed = [each for each in candidate.stretches if each.pasture is not None]
    if not grazed:
        return None
    days = sum(each.days for each in grazed)
    acres_head = sum(each.acres_head for each in grazed)
    pastures = [each.pasture for each in grazed if each.pasture is not None]
    at_hand = [pasture.acres for pasture in pastures if pasture.acres is not None]
    others = [pasture.alternative_acre for pasture in pastures if pasture.alternative_acre is not None]
    return PastureUse(
        head_days_per_acre=days / acres_head,
        cost_head_day=candidate.option.pasture_head / days,
        head_per_acre=1.0 / acres_head,
        acres_needed=acres_head * candidate.option.head,
        acres_at_hand=sum(at_hand) if at_hand else None,
        alternative_acre=sum(others) / len(others) if others else None,
    )
