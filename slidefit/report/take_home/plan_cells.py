"""A plan as cells: which of its numbers the budget of each choice takes, and how; found by moving each a little."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.budget.plan_inputs import selling_inputs
from slidefit.decision.options import build_candidates, group_case, price_state_of, sale_dates
from slidefit.errors import SlidefitError
from slidefit.toml_tables import TomlTable, card_of

if TYPE_CHECKING:
    from slidefit.decision.money import Option
    from slidefit.decision.options import Candidate, GroupCase
    from slidefit.market.outlook import Outlook
    from slidefit.plan.plan import Plan

FloatArray = NDArray[np.float64]
Path = tuple[str | int, ...]
Found = dict[tuple[int, int], tuple["Candidate", ...]]
Inputs = dict[tuple[int, int], dict[str, float]]
LARGEST_LOT_HEAD = 100
MADE = frozenset({"start_price_cwt", "start_mix", "sale_mix"})
"""Inputs that the cells work out themselves from prices."""
APART = frozenset({"risk", "dates", "prices", "futures", "hours_hauled", "as_of"})
"""Parts of a plan that stay as they were planned: dates and odds, and hours hauled, which is read from a table."""
STEPS = (0.01, 0.02)
CLOSE = 1e-9


@dataclass(frozen=True)
class PlanNumber:
    """A number of the plan that can be typed over.

    Attributes
    ----------
    path : tuple
        Where it stands, places counted from 0.
    name : str
        Its path as a name of a cell, places counted from 1: ``groups_1_weight_lb``.
    is_open : bool
        It may be typed over: not the head of calves with a bid in hand or with a list of weights.
    """

    path: Path
    name: str
    value: float
    unit: str
    meaning: str
    low: float | None
    high: float | None
    is_open: bool = True


@dataclass(frozen=True)
class Link:
    """An input of a budget as a sum: base + each number of the plan times how much it counts."""

    base: float
    parts: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Choice:
    """A way to keep a group until a day: its places in the plan, its option, and where its inputs come from."""

    group: int
    program: int
    sale_date: date
    option: Option
    candidate: Candidate
    links: Mapping[str, Link]


@dataclass(frozen=True)
class LogMove:
    """How a line of prices moves: log price by weight for each unit of the log of one number of the plan."""

    name: str
    per: FloatArray


@dataclass(frozen=True)
class PlanCells:
    """A plan taken apart.

    Attributes
    ----------
    numbers : tuple of PlanNumber
        Those that move an answer, in the order of the plan.
    cases : tuple of GroupCase
    choices : tuple of Choice
    start_links : mapping of group to links of its inputs of selling now
    moves : mapping of (group, day) to tuple of LogMove
        Of the prices by weight on that day; the day of selling now among them.
    """

    plan: Plan
    numbers: tuple[PlanNumber, ...]
    cases: tuple[GroupCase, ...]
    choices: tuple[Choice, ...]
    moves: Mapping[tuple[int, date], tuple[LogMove, ...]]


def plan_cells(outlook: Outlook, plan: Plan) -> PlanCells:
    """Return a plan taken apart: every choice's budget with the numbers of the plan that it rests on.

    A number that moves an input in another way than in proportion is left as planned, and so is the weight of calves
    with a bid in hand: the bid is for that weight.
    """
    cases, days = _cases(outlook, plan), sale_dates(plan)
    found = _found(outlook, plan, cases, days)
    few = tuple(dict.fromkeys((days[0], days[len(days) // 2], days[-1])))
    ends = _inputs(_found(outlook, plan, cases, few))
    numbers = {each.name: each for each in _numbers(plan)}
    slopes: dict[tuple[int, int], dict[str, dict[str, float]]] = {}
    kept: list[str] = []
    for name, number in numbers.items():
        moved = _slopes(outlook, plan, number, ends, cases, few)
        if moved is None:
            continue
        kept.append(name)
        for place, of_key in moved.items():
            for key, slope in of_key.items():
                slopes.setdefault(place, {}).setdefault(key, {})[name] = slope
    logs = {
        name: moves
        for name, number in numbers.items()
        if _is_log(number) and (moves := _log_moves(outlook, plan, number, cases, found))
    }
    used = [
        replace(number, is_open=not _is_fixed(plan, number))
        for name, number in numbers.items()
        if name in kept or name in logs or _is_apart(number)
    ]
    choices = tuple(
        Choice(g, p, each.sale_date, each.option, each, _links(each.option, slopes.get((g, p), {}), numbers))
        for (g, p), candidates in found.items()
        for each in candidates
    )
    places = {(c.group, c.sale_date) for c in choices} | {(g, case.start) for g, case in enumerate(cases)}
    of_lines = {
        place: tuple(
            LogMove(name, of_day[place])
            for name, of_day in logs.items()
            if np.abs(of_day[place]).max() > CLOSE
        )
        for place in sorted(places)
    }
    return PlanCells(plan, tuple(used), cases, choices, of_lines)


def part_name(plan: Plan, path: Path) -> str:
    """Return the part of a plan that a number stands in, as a heading."""
    if path[0] == "groups":
        return f"Calves {int(path[1]) + 1}: {plan.groups[int(path[1])].name}"
    if path[0] == "programs":
        return f"Program {int(path[1]) + 1}: {plan.programs[int(path[1])].name}"
    return str(path[0]).capitalize()


def _cases(outlook: Outlook, plan: Plan) -> tuple[GroupCase, ...]:
    state = price_state_of(outlook, plan)
    return tuple(group_case(outlook, plan, group, state) for group in plan.groups)


def _found(outlook: Outlook, plan: Plan, cases: Sequence[GroupCase], days: Sequence[date]) -> Found:
    """Return the choices of each group and program."""
    place = {program.name: p for p, program in enumerate(plan.programs)}
    out: Found = {}
    for g, case in enumerate(cases):
        for each in build_candidates(outlook, plan, case, days)[0]:
            key = (g, place[each.program.name])
            out[key] = (*out.get(key, ()), each)
    return out


def _moved_cases(outlook: Outlook, plan: Plan, path: Path, cases: Sequence[GroupCase]) -> Sequence[GroupCase]:
    """Return the groups' cases with a number moved; prices are read anew only where the calves are others."""
    if path[0] == "groups":
        return _cases(outlook, plan)
    terms = selling_inputs(plan.selling)
    return [replace(case, selling=terms) for case in cases] if path[0] == "selling" else cases


def _numbers(table: TomlTable, path: Path = ()) -> Iterator[PlanNumber]:
    for name, info in type(table).model_fields.items():
        value = getattr(table, name)
        if name not in APART:
            yield from _of_value(value, (*path, name), info)


def _of_value(value: Any, path: Path, info: Any) -> Iterator[PlanNumber]:
    if isinstance(value, TomlTable):
        yield from _numbers(value, path)
    elif isinstance(value, tuple):
        for place, each in enumerate(value):
            yield from _of_value(each, (*path, place), info)
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        card = card_of(str(path[-1]), info)
        name = "_".join(str(part + 1) if isinstance(part, int) else part for part in path)
        yield PlanNumber(path, name, float(value), card.unit, card.meaning, card.low, card.high)


def with_number(table: Any, path: Path, value: float) -> Any:
    """Return a plan with one number in place of another, not checked."""
    head, *rest = path
    inner = table[head] if isinstance(head, int) else getattr(table, head)
    new = value if not rest else with_number(inner, tuple(rest), value)
    if isinstance(head, int):
        return (*table[:head], new, *table[head + 1 :])
    return table.model_copy(update={head: new})


def _slopes(
    outlook: Outlook,
    plan: Plan,
    number: PlanNumber,
    ends: Inputs,
    cases: Sequence[GroupCase],
    days: Sequence[date],
) -> dict[tuple[int, int], dict[str, float]] | None:
    """Return how each choice's inputs move with a number; None where it moves none, or not in proportion."""
    if number.path[-1] == "head" or _has_bid(plan, number.path):
        return None
    size = max(abs(number.value), 1.0)
    moved: list[Inputs] = []
    for step in STEPS:
        try:
            other = with_number(plan, number.path, number.value + size * step)
            cases_moved = _moved_cases(outlook, other, number.path, cases)
            moved.append(_inputs(_found(outlook, other, cases_moved, days)))
        except (SlidefitError, ValueError, ArithmeticError, TypeError):
            return None
        if all(moved[0].get(place) == before for place, before in ends.items()):
            return None
    out: dict[tuple[int, int], dict[str, float]] = {}
    for place, inputs in ends.items():
        for key, before in inputs.items():
            changes = [each.get(place, {}).get(key, math.nan) - before for each in moved]
            if key in MADE or all(abs(change) <= CLOSE * size for change in changes):
                continue
            per = changes[0] / (size * STEPS[0])
            if not abs(changes[1] / (size * STEPS[1]) - per) <= 1e-6 * max(abs(per), 1.0):
                return None
            out.setdefault(place, {})[key] = per
    return out or None


def _has_bid(plan: Plan, path: Path) -> bool:
    return path[0] == "groups" and plan.groups[int(path[1])].bid_cwt is not None


def _inputs(found: Found) -> Inputs:
    return {
        place: {key: float(value) for each in choices for key, value in each.option.inputs.items()}
        for place, choices in found.items()
    }


def _links(
    option: Option, slopes: Mapping[str, Mapping[str, float]], numbers: Mapping[str, PlanNumber]
) -> dict[str, Link]:
    out = {}
    for key, value in option.inputs.items():
        parts = tuple((name, _neat(per)) for name, per in slopes.get(key, {}).items())
        base = float(value) - sum(per * numbers[name].value for name, per in parts)
        out[key] = Link(0.0 if abs(base) < 1e-7 else base, parts)
    return out


def _neat(per: float) -> float:
    """Return a whole number where the probe found one but for rounding."""
    return float(round(per)) if abs(per - round(per)) < 1e-6 else per


def _is_apart(number: PlanNumber) -> bool:
    """Whether a number counts beside the budget's inputs: room, and the spread of weights."""
    return number.path[-1] in ("acres", "pens_head", "head") or (
        number.path[-1] == "weight_sd_lb" and number.value > 0.0
    )


def _is_fixed(plan: Plan, number: PlanNumber) -> bool:
    """Whether a number stays as planned: the head that a bid is for, or that a list of weights counts."""
    if number.path[-1] != "head" or number.path[0] != "groups":
        return False
    group = plan.groups[int(number.path[1])]
    return group.bid_cwt is not None or group.weights_lb is not None


def _is_log(number: PlanNumber) -> bool:
    return number.path[0] == "groups" and (number.path[-1] in ("bid_cwt", "head") or "forward" in number.path)


def _log_moves(
    outlook: Outlook, plan: Plan, number: PlanNumber, cases: Sequence[GroupCase], found: Found
) -> dict[tuple[int, date], FloatArray] | None:
    """Return how each line of prices moves with the log of a bid, a forward price or the head of a lot."""
    head = number.path[-1] == "head"
    if number.path[-1] not in ("bid_cwt", "head", "price_cwt") or (head and _has_bid(plan, number.path)):
        return None
    value = number.value * (0.8 if head and number.value * 1.25 > LARGEST_LOT_HEAD else 1.25)
    there, here = (math.log(min(each, LARGEST_LOT_HEAD) if head else each) for each in (value, number.value))
    if abs(there - here) < CLOSE:
        return None
    changed = with_number(plan, number.path, value)
    state = price_state_of(outlook, changed)
    out: dict[tuple[int, date], FloatArray] = {}
    for g, case in enumerate(cases):
        days = {each.sale_date for (group, _), every in found.items() if group == g for each in every}
        moved = group_case(outlook, changed, changed.groups[g], state)
        for day in (case.start, *sorted(days)):
            off = moved.prices.line(day).log_cwt - case.prices.line(day).log_cwt
            out[g, day] = np.asarray(off / (there - here))
    return out
