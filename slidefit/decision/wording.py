"""Notes that go with the numbers of a comparison: what was assumed and what to look at."""

from __future__ import annotations

import calendar
from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from slidefit.decision.building import Candidate, GroupCase
from slidefit.decision.choice import chosen
from slidefit.decision.plan import Plan
from slidefit.decision.pricing import lot_head
from slidefit.decision.results import EnergyCheck, GroupResult, KeepOption, PastureUse
from slidefit.market.outlook import UNSEEN_MONTH_SD, Outlook

STALE_DAYS = 60


def candidate_notes(
    candidate: Candidate, pasture: PastureUse | None, energy: EnergyCheck | None, gain_head: float
) -> tuple[str, ...]:
    """Return the notes on one option."""
    option = candidate.option
    out = []
    if candidate.room_head < option.head:
        out.append(f"There is room for {candidate.room_head} of {option.head} head; the rest are sold now.")
    if pasture is not None and pasture.acres_at_hand is not None:
        short = pasture.acres_needed - pasture.acres_at_hand
        if short > 0.05:
            needed = f"{pasture.acres_needed:,.0f} acres"
            out.append(f"All {option.head} head need {needed}; {short:,.0f} more than are at hand.")
    if pasture is not None and pasture.alternative_acre is not None:
        acre = gain_head * pasture.head_per_acre
        word = "more" if acre >= pasture.alternative_acre else "less"
        other = f"${pasture.alternative_acre:,.0f}"
        out.append(f"An acre gains ${acre:,.0f} this way, {word} than the {other} of its other use.")
    if energy is not None and energy.too_hopeful:
        out.append(
            f"The ration's energy supports about {energy.predicted_gain_lb_day:.1f} lb a day; "
            f"the plan hopes for {energy.planned_gain_lb_day:.1f}."
        )
    if option.contract is not None:
        out.append("Price by the contract and its slide, not by the market.")
    if option.floor is not None:
        out.append(
            "The floor is taken to hold at the weight and place sold; a real one may differ from both."
        )
    return tuple(out)


def group_notes(outlook: Outlook, case: GroupCase, keep: Sequence[KeepOption]) -> tuple[str, ...]:
    """Return the notes on one group."""
    out = []
    if case.group.bid_cwt is None:
        out.append("No bid was given: both prices come from the outlook.")
    else:
        median = case.group.model_copy(update={"bid_cwt": None})
        expected = outlook.price_cwt(
            median.sex,
            median.mean_weight_lb,
            case.weaning,
            frame=median.frame,
            muscle=median.muscle,
            head=lot_head(median),
        )
        off = 100.0 * (case.start_price_cwt / float(expected) - 1.0)
        out.append(f"The bid is {off:+.1f}% against the outlook's price for such calves.")
    stand_in = outlook.priced_as(case.group.frame, case.group.muscle)
    if stand_in:
        out.append(stand_in)
    out += [note for note in case.outlook.notes if note not in outlook.notes]
    if not keep:
        out.append("No program could be compared for this group.")
    return tuple(out)


def plan_notes(
    outlook: Outlook, plan: Plan, results: Sequence[GroupResult], sales: Sequence[date]
) -> tuple[str, ...]:
    """Return the notes on the whole comparison."""
    out = list(outlook.notes)
    if any(day < outlook.as_of for day in (*sales, plan.dates.weaning)):
        out.append(f"Dates before {outlook.as_of} use the price level of that day.")
    stale = (plan.dates.weaning - outlook.as_of).days
    if stale > STALE_DAYS:
        out.append(f"The price level is {stale} days older than the weaning date; add newer sales.")
    days = (*sales, *(plan.weaning_of(group) for group in plan.groups))
    unseen = sorted({day.month for day in days} & set(outlook.unseen_months))
    if unseen and plan.risk.unseen_months:
        out.append(
            f"No sale was ever seen in {', '.join(calendar.month_name[m] for m in unseen)}: prices there are read off "
            f"the season's wave, and their range allows for {UNSEEN_MONTH_SD:.0%} more either way."
        )
    return (*out, *crowding_notes(plan, results))


def crowding_notes(plan: Plan, results: Sequence[GroupResult]) -> tuple[str, ...]:
    """Return notes on programs that the groups' best choices would fill beyond their room together."""
    head: dict[str, int] = defaultdict(int)
    acres: dict[str, float] = defaultdict(float)
    at_hand: dict[str, float] = {}
    for result in results:
        position = chosen(result)
        if position is None:
            continue
        best = result.keep[position]
        head[best.program] += best.head_kept
        if best.pasture is not None and best.pasture.acres_at_hand is not None:
            acres[best.program] += best.head_kept / best.pasture.head_per_acre
            at_hand[best.program] = best.pasture.acres_at_hand
    out = []
    for program in plan.programs:
        pens = program.pens_head
        if pens is not None and head[program.name] > pens:
            out.append(
                f"The best choices put {head[program.name]} head on {program.name}, which holds {pens}; "
                "each group was compared as if it were there alone."
            )
        if program.name in at_hand and acres[program.name] > at_hand[program.name] + 0.05:
            out.append(
                f"The best choices need {acres[program.name]:,.0f} acres of {program.name}, of which "
                f"{at_hand[program.name]:,.0f} are at hand; each group was compared as if it were there alone."
            )
    return tuple(out)
