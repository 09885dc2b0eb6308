"""Cautions that fit the programs of a plan, what the numbers leave out, and the defaults they rest on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from slidefit.decision.fields import PlanTable, card_of
from slidefit.decision.growing import Pasture, Program
from slidefit.decision.plan import Plan
from slidefit.decision.results import DefaultUsed
from slidefit.decision.selling_terms import DEFAULT_COMMISSION_PCT, DEFAULT_SHRINK_PCT, Selling

MARKET = (
    "This is an estimate from past sales, not a promise. Markets can move further than any range shown; "
    "talk to your lender and a market adviser before you decide."
)
MEDICINE = (
    "Follow labels, withdrawal times and your veterinarian for every medicine and vaccine; calves fresh off the "
    "cow fall sick most in the first weeks."
)
BY_FORAGE = {
    "sorghum": (
        "Stressed or frosted sorghums and sudangrass can hold nitrate and prussic acid that kill; have them tested "
        "and ask the local extension office before grazing or feeding."
    ),
    "cereal": (
        "Lush cereal pasture can bring bloat and grass tetany, and nitrate after drought or heavy fertilizing; "
        "have forage tested and ask a veterinarian about mineral."
    ),
    "legume": "Legumes can bloat calves; fill them with hay first and ask a veterinarian.",
    "grass": "Fast spring grass can bring grass tetany; ask a veterinarian about magnesium.",
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
    for label, name in (("labor", "labor_head_day"), ("equipment and fuel", "fuel_head_day")):
        free = [p.name for p in plan.programs if not getattr(p, name)]
        if free:
            out.append(f"{label} ({', '.join(free)})" if len(free) < len(plan.programs) else label)
    grazed = [stage.pasture for p in plan.programs for stage in p.stages() if stage.pasture is not None]
    if any(pasture.cost_acre is None and not pasture.rent_acre for pasture in grazed):
        out.append("land (no rent is charged)")
    if plan.money.interest_pct == 0:
        out.append("interest on the calves' value")
    return (*out, "facilities and other capital", "income tax and the tax year of the sale", "management")


def named_tables(plan: Plan) -> Iterator[tuple[str, PlanTable]]:
    """Yield every table of a plan with the name that a person would look for."""
    for field in ("dates", "selling", "money", "risk"):
        yield field, getattr(plan, field)
    for kind, tables in (("groups", plan.groups), ("programs", plan.programs)):
        for table in tables:
            yield f"{kind} {table.name!r}", table
    for program in plan.programs:
        for number, stage in enumerate(program.stages(), start=1):
            name = f"programs {program.name!r}" + (f" phase {number}" if program.phases else "")
            if stage.pasture is not None:
                yield f"{name} pasture", stage.pasture


def says_nothing(value: Any) -> bool:
    """Return whether a default stands for 'not used' rather than for a number."""
    return value is None or value is False or value in ("", ()) or isinstance(value, PlanTable)


def idle_fields(plan: Plan) -> set[str]:
    """Return the fields whose value has no part in this plan, so that their defaults need no mention."""
    grazes = any(isinstance(table, Pasture) for _, table in named_tables(plan))
    freight = set() if plan.selling.freight_loaded_mile else {"load_lb"}
    return freight if grazes else freight | {"gain_forage_corr"}


def defaults_of(plan: Plan) -> tuple[DefaultUsed, ...]:
    """Return every default that the answer rests on; costs taken as zero are told together for each table."""
    out = []
    idle = idle_fields(plan)
    for name, table in named_tables(plan):
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
            out.append(DefaultUsed(f"{name}: {key}", value, "" if several else card.unit, card.meaning))
        if zeros:
            out.append(DefaultUsed(f"{name}: {', '.join(zeros)}", "0", "", "Not given, taken as zero."))
    return (*selling_defaults(plan.selling), *out)


def selling_defaults(selling: Selling) -> Iterator[DefaultUsed]:
    """Yield the defaults that stand in when none of two fields is given."""
    if selling.commission_pct is None and selling.commission_head is None:
        meaning = "Commission as a share of the check."
        yield DefaultUsed(
            "selling: commission_pct", str(DEFAULT_COMMISSION_PCT), "percent of the check", meaning
        )
    if selling.shrink_pct is None and selling.hours_hauled is None:
        yield DefaultUsed(
            "selling: shrink_pct", str(DEFAULT_SHRINK_PCT), "percent", "Weight lost on the way to the scale."
        )
