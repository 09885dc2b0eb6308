"""The options of a group, and why others are not; shrink."""

from __future__ import annotations

import calendar
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.growth import FeedingPeriod, longest_days, stretches_of, wait_days, weight_at_sale
from slidefit.decision.money import Number, Option, SaleTerms
from slidefit.decision.pricing import PriceLine, price_line, spread_of, weight_mix_factor, with_forward
from slidefit.decision.results import Unavailable
from slidefit.errors import OutlookError
from slidefit.facts import Field, Text
from slidefit.market.outlook import Outlook
from slidefit.plan.feeding import Program
from slidefit.plan.plan import Group, Plan
from slidefit.plan.selling import DEFAULT_SHRINK_PCT, Contract, Selling

HOURS = (0.0, 1.0, 2.0, 8.0, 16.0, 24.0, 32.0)
SHRINK_PCT = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0)


def pay_weight(weight_lb: float, shrink_pct: float, pencil_shrink_pct: float = 0.0) -> float:
    """Return the pay weight: weight x (1 - shrink) x (1 - pencil shrink) [lb].

    Examples
    --------
    Noble Foundation, 1998: 600 lb less 4 percent at $80.

    >>> round(pay_weight(600, 4) * 0.80, 2)
    460.8
    """
    return weight_lb * (1.0 - shrink_pct / 100.0) * (1.0 - pencil_shrink_pct / 100.0)


def hauling_shrink_pct(hours: float) -> float:
    """Return the shrink of calves hauled for a number of hours on a moving truck [percent].

    Boyles, Ohio State University Extension, 30 May 2012: 1 h 2 percent, 2 to 8 h 4 to 6, 8 to 16 h 6 to 8,
    16 to 24 h 8 to 10, 24 to 32 h 10 to 12; read linearly inside a range.

    >>> hauling_shrink_pct(1), hauling_shrink_pct(5), hauling_shrink_pct(32)
    (2.0, 5.0, 12.0)
    """
    return float(np.interp(hours, HOURS, SHRINK_PCT))


def selling_shrink_pct(selling: Selling) -> float:
    """Return the shrink to the scale by a plan's selling terms [percent]."""
    if selling.shrink_pct is not None:
        return selling.shrink_pct
    if selling.hours_hauled is not None:
        return hauling_shrink_pct(selling.hours_hauled)
    return DEFAULT_SHRINK_PCT


FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class GroupCase:
    """A group with what is the same for all of its options.

    Attributes
    ----------
    group : Group
    weaning : date
    outlook : Outlook
        The outlook, bent to the group's forward prices where it has any.
    start_line : PriceLine
        Prices by weight on the weaning day.
    start_price_cwt : float
        The bid, or the outlook's median.
    spread_lb : array
        See `pricing.spread_of`.
    start_terms : SaleTerms
    """

    group: Group
    weaning: date
    outlook: Outlook
    start_line: PriceLine
    start_price_cwt: float
    start_mix: float
    spread_lb: FloatArray
    start_terms: SaleTerms
    selling: Selling

    @property
    def net_now(self) -> float:
        """Net of selling at weaning, N0 [$ per head]."""
        return float(self.net_at(self.start_price_cwt))

    def net_at(self, price_cwt: Number) -> Number:
        """Return the net of selling at weaning at any price [$ per head]."""
        terms = self.start_terms
        weight = self.group.mean_weight_lb
        return terms.net(weight, terms.check(weight, price_cwt, self.start_mix))


@dataclass(frozen=True)
class Candidate:
    """An option that can be compared, with what its account needs beside the numbers."""

    program: Program
    sale_date: date
    option: Option
    stretches: tuple[FeedingPeriod, ...]
    capacity_head: int


def sale_terms(selling: Selling, own_shrink_pct: float | None = None) -> SaleTerms:
    """Return what selling takes, from a plan's terms; a program may have its own shrink."""
    shrink = selling_shrink_pct(selling) if own_shrink_pct is None else own_shrink_pct
    fixed = (
        (selling.commission_head or 0.0)
        + selling.yardage_head
        + selling.checkoff_head
        + selling.insurance_head
        + selling.freight_head
    )
    return SaleTerms(
        pay_factor=pay_weight(1.0, shrink, selling.pencil_shrink_pct),
        share=selling.commission_share_pct / 100.0,
        fixed_head=fixed,
        freight_lb=selling.freight_loaded_mile * selling.miles / selling.load_lb,
    )


def month_name(when: date) -> str:
    """Return the name of a date's month."""
    return calendar.month_name[when.month]


def group_case(outlook: Outlook, plan: Plan, group: Group) -> GroupCase:
    """Return a group's case: its price at weaning and its selling terms.

    Raises
    ------
    OutlookError
        The outlook knows nothing of its sex, grade, weight or weaning month.
    """
    weaning = plan.weaning_of(group)
    try:
        if not plan.risk.beyond_data:
            for weight_lb in (group.mean_weight_lb, *(each.weight_lb for each in group.forward)):
                outlook.check_weight(group.sex, weight_lb)
        bent = with_forward(outlook, group, weaning, plan.dates.sale_day)
        line = price_line(bent, group, weaning, weaning)
    except OutlookError as fault:
        raise OutlookError(fault.what, where=f"group {group.name!r}", remedy=fault.remedy) from None
    if weaning.month in outlook.unseen_months and not plan.risk.unseen_months:
        raise OutlookError(
            f"the sale records hold no sale in {month_name(weaning)}, the month of weaning",
            where=f"group {group.name!r}",
            remedy=Text(
                "Add sale records of that month, wean in another, or read it off the season's wave: ",
                Field("unseen_months", "true"),
                " under [risk].",
            ),
        )
    spread = spread_of(group)
    return GroupCase(
        group=group,
        weaning=weaning,
        outlook=bent,
        start_line=line,
        start_price_cwt=line.price_cwt(group.mean_weight_lb),
        start_mix=weight_mix_factor(line, group.mean_weight_lb, spread),
        spread_lb=spread,
        start_terms=sale_terms(plan.selling),
        selling=plan.selling,
    )


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


def other_cost_head(program: Program, days: int) -> float:
    """Return the cost of keeping beside feed and interest [$ per head]."""
    return sum(amount for _, _, amount in other_costs(program, days))


def other_costs(program: Program, days: int) -> tuple[tuple[str, str, float], ...]:
    """Return the costs of keeping beside feed and interest: label, arithmetic, $ per head."""
    daily = (
        ("mineral", program.mineral_head_day),
        ("labor", program.labor_head_day),
        ("yardage", program.yardage_head_day),
        ("fuel and equipment", program.fuel_head_day),
        ("other, by the day", program.other_head_day),
    )
    once = (("health", program.health_head), ("other, once", program.other_head))
    out = [(label, "once a head", cost) for label, cost in once if cost]
    out += [(label, f"{days} days x ${cost:.2f}", cost * days) for label, cost in daily if cost]
    return tuple(out)


def build_option(
    plan: Plan, case: GroupCase, program: Program, line: PriceLine, sale_date: date
) -> tuple[Option, tuple[FeedingPeriod, ...]]:
    """Return the numbers of one option, and the stretches of growth behind them."""
    group = case.group
    days = (sale_date - case.weaning).days
    start_lb = group.mean_weight_lb
    stretches = stretches_of(program, case.weaning, start_lb, days)
    sale_lb = weight_at_sale(stretches, start_lb, program.slump_lb)
    costs = [each.pasture.total_cost_acre if each.pasture else 0.0 for each in stretches]
    option = Option(
        head=group.head,
        days=days,
        start_lb=start_lb,
        gain_lb=sale_lb - start_lb,
        slide_from_lb=slide_from_lb(case, sale_date),
        line=line,
        start_price_cwt=case.start_price_cwt,
        net_now=case.net_now,
        has_bid=group.bid_cwt is not None,
        start_mix=case.start_mix,
        sale_mix=weight_mix_factor(line, sale_lb, case.spread_lb),
        start_terms=case.start_terms,
        sale_terms=sale_terms(plan.selling, program.shrink_pct),
        feed_head=sum((each.cost_head_day + each.ration_head_day) * each.days for each in stretches),
        pasture_head=sum(c * each.acres_head for c, each in zip(costs, stretches, strict=True)),
        pasture_slope=sum(c * each.acres_slope for c, each in zip(costs, stretches, strict=True)),
        other_head=other_cost_head(program, days),
        death_share=program.death_loss_pct / 100.0,
        gain_sd_lb_day=program.gain_sd_lb_day,
        forage_log_sd=forage_log_sd(stretches),
        interest_share=plan.money.interest_pct / 100.0,
        contract=contract_for(plan.selling, group, sale_date),
        floor=plan.selling.floor,
    )
    return option, stretches


def slide_from_lb(case: GroupCase, sale_date: date) -> float:
    """Return the weight that a sale's price moves away from when the slide does [lb]: the calves' own at weaning.

    With a forward price it is that price's weight from its day on, and in between in proportion to the time.
    """
    if not case.outlook.forward:
        return case.group.mean_weight_lb
    shares = case.outlook.forward_shares([sale_date])[0]
    at = [case.group.mean_weight_lb, *(knot.weight_lb for knot in case.outlook.forward)]
    return float(shares @ np.array(at))


def room_for(program: Program, stretches: tuple[FeedingPeriod, ...], head: int) -> int:
    """Return how many head of a group the acres and pens hold for the days wanted."""
    room = head if program.pens_head is None else min(head, program.pens_head)
    for each in stretches:
        if each.pasture is not None and each.pasture.acres is not None:
            room = min(room, int(each.pasture.acres / each.acres_head + 1e-9))
    return room


def refusal(outlook: Outlook, plan: Plan, case: GroupCase, program: Program, sale_date: date) -> str:
    """Return why a program can't be compared on a day, before any weight is known; empty when it can."""
    days = (sale_date - case.weaning).days
    if days <= 0:
        return f"the sale on {sale_date} is not after weaning on {case.weaning}"
    longest = longest_days(program, case.weaning)
    if longest is not None and days > longest:
        return f"the program ends {case.weaning + timedelta(days=longest)}"
    if 0 < days <= wait_days(program, case.weaning):
        return f"the program opens {program.earliest_on}"
    unseen = sale_date.month in outlook.unseen_months and not plan.risk.unseen_months
    if unseen and contract_for(plan.selling, case.group, sale_date) is None:
        return f"the sale records hold no sale in {month_name(sale_date)}"
    return ""


def build_candidates(
    outlook: Outlook, plan: Plan, case: GroupCase, lines: Mapping[date, PriceLine]
) -> tuple[tuple[Candidate, ...], tuple[Unavailable, ...]]:
    """Return every option of a group that can be compared, and the others with their reasons."""
    found: list[Candidate] = []
    refused: list[Unavailable] = []
    for program in plan.programs_of(case.group):
        for day in lines:
            reason = refusal(outlook, plan, case, program, day)
            if not reason:
                option, stretches = build_option(plan, case, program, lines[day], day)
                room = room_for(program, stretches, case.group.head)
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
    if option.contract is None and not plan.risk.beyond_data:
        try:
            outlook.check_weight(case.group.sex, option.sale_lb)
        except OutlookError as fault:
            return fault.what
    return ""
