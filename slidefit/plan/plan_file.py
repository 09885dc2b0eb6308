"""A plan read with all its problems, and written."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from slidefit.errors import PlanError, SlidefitError
from slidefit.plan.feeding import Program
from slidefit.plan.plan import Dates, Finance, Group, Plan, PlanFutures, Risk, TypedPrices
from slidefit.plan.selling import Selling
from slidefit.toml_faults import Problem, Where, key_lines, placed, toml_tables_of, toml_text
from slidefit.toml_tables import TomlTable, problem_of, toml_value

SECTIONS: dict[str, type[TomlTable]] = {
    "prices": TypedPrices,
    "futures": PlanFutures,
    "dates": Dates,
    "groups": Group,
    "programs": Program,
    "selling": Selling,
    "money": Finance,
    "risk": Risk,
}
LISTS = ("groups", "programs")
ROWS = (*LISTS, "futures")
ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
BARE_MONTH = re.compile(r"=\s*\[?\s*\d{4}-\d{2}\s*(?:[,\]#]|$)")


def cross_problems(raw: dict[str, Any]) -> Iterator[Problem]:
    """Yield what is wrong between fields and between tables, as far as the tables hold up by themselves."""
    sound: dict[str, list[Any]] = {}
    for name, table in SECTIONS.items():
        given = raw.get(name, [] if name in ROWS else {})
        for position, item in enumerate(given if name in ROWS and isinstance(given, list) else [given]):
            try:
                built = table.model_validate(item)
            except ValidationError:
                continue
            prefix: Where = (name, position) if name in ROWS else (name,)
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
    yield from feed_problems(sound)
    yield from start_problems(raw, sound)


def feed_problems(sound: dict[str, list[Any]]) -> Iterator[Problem]:
    """Yield programs that say nothing of what the calves eat: free feed must be typed on purpose."""
    for prefix, program in sound.get("programs", []):
        if "cost_head_day" in program.model_fields_set:
            continue
        for position, stage in enumerate(program.stages()):
            fed = "cost_head_day" in stage.model_fields_set or stage.pasture is not None or stage.ration
            if not fed:
                where: Where = ("phases", position) if program.phases else ()
                remedy = (
                    "Give cost_head_day, a pasture or a ration; cost_head_day = 0 says that feed is free."
                )
                yield (*prefix, *where, "cost_head_day"), "no cost of feed is given", remedy
                break


def start_problems(raw: dict[str, Any], sound: dict[str, list[Any]]) -> Iterator[Problem]:
    """Yield a day of comparison that is not before the last month of sale."""
    as_of = raw.get("as_of")
    as_of = date.fromisoformat(as_of) if isinstance(as_of, str) and ISO_DAY.fullmatch(as_of) else as_of
    for _, dates in sound.get("dates", []):
        months = dates.sale_months()
        if isinstance(as_of, date) and months and f"{months[-1]}-{dates.sale_day:02d}" <= f"{as_of}":
            yield ("as_of",), f"is {as_of}, not before the last sale", "Give a day before the last sale."


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
                    where = (*prefix, "forward", position, "month")
                    yield where, what, "Give a later month, or type bid_cwt."


def build_plan(raw: dict[str, Any], name: str = "plan", lines: dict[Where, int] | None = None) -> Plan:
    """Check a plan given as nested dictionaries, and build it; PlanError tells every problem in the file's order."""
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


def _month_hint(row: str) -> str:
    return 'Put months in quotes, such as "2026-11".' if BARE_MONTH.search(row) else ""


def parse_plan(text: str, name: str = "plan") -> Plan:
    """Read a plan from TOML text, ``name`` standing in messages; PlanError tells every problem with its line."""
    try:
        raw = toml_tables_of(text, name, _month_hint)
    except SlidefitError as fault:
        raise PlanError([fault]) from None
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


def is_tables(value: Any) -> bool:
    """Return whether a value is a list of tables."""
    return isinstance(value, (list, tuple)) and bool(value) and isinstance(value[0], dict)


def table_lines(table: dict[str, Any], path: str) -> list[str]:
    """Return the lines of a table: its own keys, then the tables inside it."""
    inner = {key: value for key, value in table.items() if isinstance(value, dict) or is_tables(value)}
    lines = [f"{key} = {toml_value(value)}" for key, value in table.items() if key not in inner]
    for key, value in inner.items():
        name = f"{path}.{key}" if path else key
        for item in value if is_tables(value) else [value]:
            header = f"[[{name}]]" if is_tables(value) else f"[{name}]"
            lines += ["", header, *table_lines(item, name)]
    return lines


def write_plan(plan: Plan) -> str:
    """Return a plan as TOML: what was given, without the defaults that were not."""
    given = plan.model_dump(exclude_unset=True, exclude_none=True)
    return "\n".join(table_lines(given, "")).lstrip("\n") + "\n"
