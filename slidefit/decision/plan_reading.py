"""From TOML to a checked plan, with every problem told at once; and back to TOML."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from slidefit.decision.fields import PlanTable, Problem, Where
from slidefit.decision.growing import Program
from slidefit.decision.plan import Dates, Group, Money, Plan, Risk
from slidefit.decision.selling_terms import Selling
from slidefit.errors import PlanError, SlidefitError
from slidefit.toml_faults import fault_row, placed, syntax_fault, toml_text
from slidefit.toml_lines import key_lines
from slidefit.toml_tables import problem_of

SECTIONS: dict[str, type[PlanTable]] = {
    "dates": Dates,
    "groups": Group,
    "programs": Program,
    "selling": Selling,
    "money": Money,
    "risk": Risk,
}
LISTS = ("groups", "programs")
BARE_MONTH = re.compile(r"=\s*\[?\s*\d{4}-\d{2}\s*(?:[,\]#]|$)")


def cross_problems(raw: dict[str, Any]) -> Iterator[Problem]:
    """Yield what is wrong between fields and between tables, as far as the tables hold up by themselves."""
    sound: dict[str, list[Any]] = {}
    for name, table in SECTIONS.items():
        given = raw.get(name, [] if name in LISTS else {})
        for position, item in enumerate(given if name in LISTS and isinstance(given, list) else [given]):
            try:
                built = table.model_validate(item)
            except ValidationError:
                continue
            prefix: Where = (name, position) if name in LISTS else (name,)
            sound.setdefault(name, []).append((prefix, built))
            for where, what, remedy in built.problems():
                yield (*prefix, *where), what, remedy
    for name in LISTS:
        if raw.get(name) == []:
            yield (name,), "is empty", f"Add a [[{name}]] table."
        yield from repeated_names(name, sound.get(name, []))
    given_names = {
        kind: [item.get("name") for item in raw.get(kind, []) if isinstance(item, dict)]
        for kind in LISTS
        if isinstance(raw.get(kind), list)
    }
    yield from unknown_names(sound, given_names)
    yield from waiting_problems(sound)
    yield from forward_problems(sound)


def repeated_names(kind: str, tables: list[Any]) -> Iterator[Problem]:
    """Yield every name that is used twice."""
    seen: set[str] = set()
    for prefix, table in tables:
        if table.name in seen:
            yield (*prefix, "name"), f"is {table.name!r}, used twice in {kind}", "Give each its own name."
        seen.add(table.name)


def unknown_names(sound: dict[str, list[Any]], names: dict[str, list[Any]]) -> Iterator[Problem]:
    """Yield every program or group that is named but not described."""
    asked = [(prefix, "programs", table.programs) for prefix, table in sound.get("groups", [])]
    for prefix, selling in sound.get("selling", []):
        if selling.contract is not None:
            asked.append(((*prefix, "contract"), "groups", selling.contract.groups))
    for prefix, kind, wanted in asked:
        known = [str(name) for name in names.get(kind, [])]
        for name in wanted or ():
            if name not in known:
                near = difflib.get_close_matches(name, known, n=1)
                remedy = f"Did you mean {near[0]!r}?" if near else f"Known: {', '.join(known)}."
                yield (*prefix, kind), f"names {name!r}, which the plan does not describe", remedy


def waiting_problems(sound: dict[str, list[Any]]) -> Iterator[Problem]:
    """Yield programs that open after weaning without saying what the calves eat until then."""
    for _, dates in sound.get("dates", []):
        weanings = [dates.weaning] + [g.weaning for _, g in sound.get("groups", []) if g.weaning]
        for prefix, program in sound.get("programs", []):
            waits = program.earliest_on is not None and program.earliest_on > min(weanings)
            if waits and program.wait_cost_head_day is None:
                what = f"is {program.earliest_on}, after weaning on {min(weanings)}"
                remedy = "Give wait_cost_head_day and wait_gain_lb_day for the days between."
                yield (*prefix, "earliest_on"), what, remedy
            if program.latest_off is not None and program.latest_off <= min(weanings):
                what = f"is {program.latest_off}, not after weaning on {min(weanings)}"
                yield (*prefix, "latest_off"), what, "Put the dates in order."


def forward_problems(sound: dict[str, list[Any]]) -> Iterator[Problem]:
    """Yield forward prices of a day that is not after weaning."""
    for _, dates in sound.get("dates", []):
        for prefix, group in sound.get("groups", []):
            weaning = group.weaning or dates.weaning
            for position, price in enumerate(group.forward):
                if f"{price.month}-{dates.sale_day:02d}" <= f"{weaning}":
                    what = f"is {price.month}, and its day of sale is not after weaning on {weaning}"
                    yield (
                        (*prefix, "forward", position, "month"),
                        what,
                        "Give a later month, or type bid_cwt.",
                    )


def build_plan(raw: dict[str, Any], name: str = "plan", lines: dict[Where, int] | None = None) -> Plan:
    """Check a plan given as nested dictionaries, and build it.

    Raises
    ------
    PlanError
        Every problem found, in the order of the file.
    """
    problems: list[Problem] = []
    plan: Plan | None = None
    try:
        plan = Plan.model_validate(raw)
    except ValidationError as fault:
        problems += [problem_of(error, Plan, "plan") for error in fault.errors(include_url=False)]
    problems += cross_problems(raw)
    if problems:
        raise PlanError(placed(problems, name, lines or {}))
    assert plan is not None
    return plan


def parse_plan(text: str, name: str = "plan") -> Plan:
    """Read a plan from TOML text; ``name`` stands in messages.

    Raises
    ------
    PlanError
        The text is not TOML, or the plan is at fault; every problem is told, with its line.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        hint = 'Put months in quotes, such as "2026-11".' if BARE_MONTH.search(fault_row(fault, text)) else ""
        raise PlanError([syntax_fault(fault, text, name, hint)]) from None
    return build_plan(raw, name, key_lines(text))


def read_plan(path: str | Path) -> Plan:
    """Read a plan from a TOML file.

    Raises
    ------
    PlanError
        The file is missing or not text, or the plan is at fault; every problem is told, with its line.
    """
    file = Path(path)
    try:
        text = toml_text(file)
    except SlidefitError as fault:
        raise PlanError([fault]) from None
    return parse_plan(text, file.name)
