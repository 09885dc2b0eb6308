"""Cautions, what is left out, what was assumed."""

from __future__ import annotations

import calendar
from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from slidefit.decision.choices import chosen
from slidefit.decision.options import Candidate, GroupCase
from slidefit.decision.price_state import BidReading
from slidefit.decision.pricing import forward_notes
from slidefit.decision.results import DefaultUsed, EnergyCheck, GroupResult, KeepOption, PastureUse
from slidefit.market.outlook import UNSEEN_MONTH_SD, Outlook
from slidefit.plan.feeding import Pasture, Program
from slidefit.plan.plan import Plan
from slidefit.plan.selling import DEFAULT_COMMISSION_PCT, DEFAULT_SHRINK_PCT, Selling
from slidefit.toml_tables import TomlTable, card_of

STALE_DAYS = 60


def candidate_notes(
    candidate: Candidate, pasture: PastureUse | None, energy: EnergyCheck | None, gain_head: float
) -> tuple[str, ...]:
    """Return the notes on one option."""
    option = candidate.option
    out = []
    if candidate.capacity_head < option.head:
        out.append(
            f"There is room for {candidate.capacity_head} of {option.head} head; the rest are sold now."
        )
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
    if option.is_contract:
        out.append("Price by the contract and its slide, not by the market.")
    if option.is_floored:
        out.append(
            "The floor is taken to hold at the weight and place sold; a real one may differ from both."
        )
    return tuple(out)


BID_FAR_SHARE = 0.25
"""A bid this far off the market is told first: a slip of the pen, or a lot that the records don't price."""
MOSTLY = 0.5


def is_far(reading: BidReading) -> bool:
    """Return whether a bid lies so far off the market's price that it wants a second look."""
    return abs(reading.bid_cwt / reading.expected_cwt - 1.0) > BID_FAR_SHARE


def bid_note(reading: BidReading) -> str:
    """Return how a bid was read, in one line.

    >>> bid_note(BidReading(348.0, 360.0, 0.1, 0.3, 0.6, ""))
    "The bid is $12 (3.3%) under the market's price for such calves, $360: most of it taken as this buyer's."
    """
    off = reading.bid_cwt - reading.expected_cwt
    side = "over" if off > 0 else "under"
    shares = {
        "this buyer's": reading.to_buyer,
        "these calves' own": reading.to_calves,
        "the market's": reading.to_market,
    }
    whose, most = max(shares.items(), key=lambda each: each[1])
    if reading.said:
        read = f"taken as {whose}, as you said"
    elif most > MOSTLY:
        read = f"most of it taken as {whose}"
    else:
        parts = ", ".join(f"{share:.0%} {name}" for name, share in shares.items())
        read = f"taken as {parts}"
    pct = 100.0 * abs(off) / reading.expected_cwt
    market = f"the market's price for such calves, ${reading.expected_cwt:,.0f}"
    return f"The bid is ${abs(off):,.0f} ({pct:.1f}%) {side} {market}: {read}."


def group_notes(case: GroupCase, keep: Sequence[KeepOption]) -> tuple[str, ...]:
    """Return the notes on one group."""
    out = []
    reading = case.prices.state.reading(case.prices.place)
    if reading is None:
        source = "the outlook" if case.outlook.basis.lots else "what was typed"
        out.append(f"No bid was given: both prices come from {source}.")
    else:
        out.append(bid_note(reading))
        if is_far(reading):
            out.insert(
                0, f"A bid of ${reading.bid_cwt:,.0f} is far off the market: check it before anything else."
            )
    stand_in = case.outlook.priced_as(case.group.frame, case.group.muscle)
    if stand_in and case.outlook.basis.lots:
        out.append(stand_in)
    out += forward_notes(case.prices)
    if not keep:
        out.append("No program could be compared for this group.")
    return tuple(out)


def plan_notes(
    outlook: Outlook, plan: Plan, results: Sequence[GroupResult], sales: Sequence[date]
) -> tuple[str, ...]:
    """Return the notes on the whole comparison."""
    out = list(outlook.notes)
    former = sorted({name for pasture in pastures_of(plan) for name in pasture.former})
    if former:
        out.append(
            f"Pasture costs were read from names of an earlier version ({', '.join(former)}); write them as "
            "establish_acre, grow_acre, graze_acre and hold_acre: the next version won't read the former ones."
        )
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


def pastures_of(plan: Plan) -> Iterator[Pasture]:
    """Yield every pasture of a plan."""
    for program in plan.programs:
        for stage in program.stages():
            if stage.pasture is not None:
                yield stage.pasture


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


MARKET = (
    "This is an estimate from past sales, not a promise. Markets can move further than any range shown; "
    "talk to your lender and a market adviser before you decide."
)
MEDICINE = (
    "Follow the label, the withdrawal time and your vet for each drug and each vaccine; calves fresh off the cow "
    "fall sick most in the first weeks."
)
BY_FORAGE = {
    "sorghum": (
        "Stressed or frosted sorghum and sudangrass can hold nitrate and prussic acid that kill; have them tested "
        "and ask the local extension office before you graze or feed them."
    ),
    "cereal": (
        "Lush cereal pasture can bring bloat and grass tetany; after drought or much fertilizer it can hold nitrate; "
        "have the forage tested, and ask a vet which mineral to feed."
    ),
    "legume": "Legumes can bloat calves; fill them with hay first and ask a vet.",
    "grass": "Fast spring grass can bring grass tetany; ask a vet if they need magnesium.",
}
FORAGE = "Test forage and feed, and ask the local extension office: yields and feed values vary more than plans do."
HEAT = "Handle and haul in the cool of the day in hot weather, with water and shade."
HOT_MONTHS = (6, 7, 8, 9)


def forage_kinds(program: Program) -> set[str]:
    """Return the kinds of forage that a program grazes or feeds."""
    kinds: set[str] = set()
    for stage in program.stages():
        if stage.pasture is not None:
            kinds.add(stage.pasture.kind or "pasture")
        kinds |= {feed.kind for feed in stage.ration if feed.kind}
    return kinds


def cautions_for(plan: Plan, sales: Sequence[date]) -> tuple[str, ...]:
    """Return the cautions that the plan's programs and months make relevant, the market's first."""
    kinds = {kind for program in plan.programs for kind in forage_kinds(program)}
    out = [MARKET, MEDICINE]
    out += [text for kind, text in BY_FORAGE.items() if kind in kinds]
    if kinds or any(stage.ration for program in plan.programs for stage in program.stages()):
        out.append(FORAGE)
    if any(day.month in HOT_MONTHS for day in sales):
        out.append(HEAT)
    return tuple(out)


def left_out_of(plan: Plan) -> tuple[str, ...]:
    """Return what the answer does not count, in words."""
    out = []
    free = [p.name for p in plan.programs if is_free(p)]
    if free:
        out.append(f"feed, typed as free ({', '.join(free)})")
    spent = [p.name for p in plan.programs if p.spent_head]
    if spent:
        out.append(f"costs already spent ({', '.join(spent)})")
    if plan.as_of is not None:
        out.append(f"everything paid before {plan.as_of}")
    for label, name in (("labor", "labor_head_day"), ("equipment and fuel", "fuel_head_day")):
        free = [p.name for p in plan.programs if not getattr(p, name)]
        if free:
            out.append(f"{label} ({', '.join(free)})" if len(free) < len(plan.programs) else label)
    if any(not pasture.holds_land for pasture in pastures_of(plan)):
        out.append("land (no rent is charged)")
    if plan.money.interest_pct == 0:
        out.append("interest on the calves' value")
    return (*out, "facilities and other capital", "income tax and the tax year of the sale", "management")


def is_free(program: Program) -> bool:
    """Return whether the feed of a program costs nothing at all."""
    fed = any(stage.pasture is not None or stage.ration or stage.cost_head_day for stage in program.stages())
    return not fed and not program.cost_head_day


def named_tables(plan: Plan) -> Iterator[tuple[str, str, TomlTable]]:
    """Yield every table of a plan with the name that a person would look for, and whose it is."""
    for field in ("dates", "selling", "money", "risk"):
        yield field, "", getattr(plan, field)
    for kind, tables in (("groups", plan.groups), ("programs", plan.programs)):
        for table in tables:
            yield f"{kind} {table.name!r}", table.name, table
    for program in plan.programs:
        for number, stage in enumerate(program.stages(), start=1):
            name = f"programs {program.name!r}" + (f" phase {number}" if program.phases else "")
            if stage.pasture is not None:
                yield f"{name} pasture", program.name, stage.pasture


def says_nothing(value: Any) -> bool:
    """Return whether a default stands for 'not used' rather than for a number."""
    return value is None or value is False or value in ("", ()) or isinstance(value, TomlTable)


def idle_fields(plan: Plan) -> set[str]:
    """Return the fields whose value has no part in this plan, so that their defaults need no mention."""
    grazes = any(isinstance(table, Pasture) for *_, table in named_tables(plan))
    freight = set() if plan.selling.freight_loaded_mile else {"load_lb"}
    return freight if grazes else freight | {"gain_forage_corr"}


def defaults_of(plan: Plan) -> tuple[DefaultUsed, ...]:
    """Return every default that the answer rests on; costs taken as zero are told together for each table."""
    out = []
    idle = idle_fields(plan)
    for name, owner, table in named_tables(plan):
        without = table.model_fields_set | idle
        missing = [key for key in type(table).model_fields if key not in without]
        zeros = []
        for key in missing:
            card = card_of(key, type(table).model_fields[key])
            if says_nothing(card.default):
                continue
            if card.default == 0.0:
                zeros.append(key)
                continue
            several = isinstance(card.default, tuple)
            value = ", ".join(card.default) if several else str(card.default)
            out.append(DefaultUsed(name, (key,), value, "" if several else card.unit, card.meaning, owner))
        if zeros:
            out.append(DefaultUsed(name, tuple(zeros), "0", "", "Left blank, counted as zero.", owner))
    return (*selling_defaults(plan.selling), *out)


def selling_defaults(selling: Selling) -> Iterator[DefaultUsed]:
    """Yield the defaults that stand in when none of two fields is given."""
    if selling.commission_pct is None and selling.commission_head is None:
        meaning = "Commission as a share of the check."
        value = str(DEFAULT_COMMISSION_PCT)
        yield DefaultUsed("selling", ("commission_pct",), value, "percent of the check", meaning)
    if selling.shrink_pct is None and selling.hours_hauled is None:
        meaning = "Weight lost on the way to the scale."
        yield DefaultUsed("selling", ("shrink_pct",), str(DEFAULT_SHRINK_PCT), "percent", meaning)
