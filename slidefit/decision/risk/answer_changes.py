"""What would flip the answer: one input at a time over its own range, and two at once on a grid."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.budget.even import crossings, nearest_to
from slidefit.decision.choices import find_named, nearest_name
from slidefit.decision.money import Moved, Number, Option, expected
from slidefit.decision.options import (
    Candidate,
    GroupCase,
    build_candidates,
    build_option,
    group_case,
    sale_dates,
)
from slidefit.decision.risk.breakevens import INPUTS, FlipRange, ranges_of
from slidefit.decision.typed_prices import outlook_for
from slidefit.errors import SlidefitError
from slidefit.facts import Setting, Text
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Group, Plan

FloatArray = NDArray[np.float64]
GRID_STEPS = 21
FLIP_POINTS = 201
TYPED = {"death_loss": "death_loss_pct", "interest": "interest_pct", "shrink": "shrink_pct"}
RATIOS = {"forage_yield": "forage_ratio", "feed_cost": "feed_ratio", "sale_price": ""}
"""Inputs that stand in the budget as they are, and those that come in over their planned value."""


@dataclass(frozen=True)
class AnswerRange(FlipRange):
    """How far one input moves the gain from keeping over its range.

    ``gain_low`` and ``gain_high`` [$ per head] are with the input at either end, the others as planned, ``swing`` their
    distance; ``flip_at`` is where the answer changes inside the range, nearest to the plan.
    """

    gain_low: float
    gain_high: float
    swing: float
    flips: bool
    flip_at: float | None


@dataclass(frozen=True)
class FlipResult:
    """The swings of one option, the widest first."""

    group: str
    program: str
    sale_date: date
    gain_per_head: float
    swings: tuple[AnswerRange, ...]


@dataclass(frozen=True)
class FlipGrid:
    """The gain from keeping over two inputs, and where it is even.

    ``gains`` [$ per head] has a row for each y value; ``flip_line`` has (x, y) at which keeping and selling come out
    even, along the grid's columns.
    """

    group: str
    program: str
    sale_date: date
    x: FlipRange
    y: FlipRange
    x_values: tuple[float, ...]
    y_values: tuple[float, ...]
    gains: tuple[tuple[float, ...], ...]
    flip_line: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class FlipCase:
    """One option to be flipped, with what is needed to build it on another day."""

    plan: Plan
    case: GroupCase
    candidate: Candidate
    ranges: Mapping[str, FlipRange]

    def option_after(self, days: int) -> Option:
        """Return the option with its sale moved to a number of days after the start."""
        if days == self.candidate.option.days:
            return self.candidate.option
        day = self.case.start + timedelta(days=days)
        return build_option(self.plan, self.case, self.candidate.program, day)[0]

    def gain(self, values: Mapping[str, Number]) -> FloatArray:
        """Return the expected gain from keeping [$ per head] with inputs at given values, the others as planned."""
        option = self.option_after(round(float(np.min(values.get("days", self.candidate.option.days)))))
        return expected(option, moved_to(self, option, values))


def moved_to(flip: FlipCase, option: Option, values: Mapping[str, Number]) -> Moved:
    """Return what puts inputs at given values (``days`` apart, which needs another option)."""
    planned = {name: each.planned for name, each in flip.ranges.items()}
    ratios = {name: values[name] / planned[name] for name in RATIOS if name in values}
    inputs = {key: values[name] for name, key in TYPED.items() if name in values}
    inputs |= {key: ratios[name] for name, key in RATIOS.items() if name in ratios and key}
    if "gain" in values:
        inputs["gain_change"] = values["gain"] - planned["gain"]
    steeper: Number = 0.0
    if "slide" in values:
        steeper = np.log1p(-planned["slide"] / 100.0) - np.log1p(-np.asarray(values["slide"]) / 100.0)
    return Moved(
        inputs=inputs,
        log_price=np.log(ratios.get("sale_price", 1.0)),
        slide_add_cwt=steeper,
        bid_log=np.log(values["bid"]) if "bid" in values else None,
    )


def gains_along(flip: FlipCase, name: str, values: FloatArray) -> FloatArray:
    """Return the gain from keeping at each value of one input [$ per head], in the shape of ``values``."""
    if name != "days":
        return np.broadcast_to(flip.gain({name: values}), values.shape)
    return np.array([float(flip.gain({"days": float(day)})) for day in values])


def swing_of(flip: FlipCase, name: str) -> AnswerRange:
    """Return the swing of one input over its own range."""
    span = flip.ranges[name]
    count = round(span.high - span.low) + 1 if name == "days" else FLIP_POINTS
    at = np.linspace(span.low, span.high, count)
    gains = gains_along(flip, name, at)
    flip_at = nearest_to(span.planned, crossings(at, gains))
    return AnswerRange(
        **vars(span),
        gain_low=float(gains[0]),
        gain_high=float(gains[-1]),
        swing=float(abs(gains[-1] - gains[0])),
        flips=flip_at is not None,
        flip_at=flip_at,
    )


def pick(found: Sequence[Candidate], program: str | None, sale_month: str | None) -> Candidate:
    """Return the option asked for; without a program or month, the one that brings the herd most."""
    if program is not None and program not in {each.program.name for each in found}:
        raise nearest_name(program, (each.program.name for each in found), "program to compare")
    months = [f"{each.sale_date:%Y-%m}" for each in found]
    if sale_month is not None and sale_month not in months:
        raise nearest_name(sale_month, months, "month to compare")
    fitting = [
        each
        for each in found
        if program in (None, each.program.name) and sale_month in (None, f"{each.sale_date:%Y-%m}")
    ]
    if not fitting:
        raise SlidefitError(f"{program} can't be compared in {sale_month}", remedy="Ask for another month.")
    return max(fitting, key=lambda each: float(expected(each.option)) * each.capacity_head)


def flip_case(
    outlook: Outlook | None,
    plan: Plan,
    group: Group,
    program: str | None = None,
    sale_month: str | None = None,
) -> FlipCase:
    """Return one option of a group to be flipped (SlidefitError when there is none such to compare)."""
    outlook = outlook_for(outlook, plan)
    case = group_case(outlook, plan, group)
    found, refused = build_candidates(outlook, plan, case, sale_dates(plan))
    if not found:
        reason = refused[0].reason if refused else "no program is open to it"
        raise SlidefitError(f"nothing can be compared: {reason}", where=f"group {group.name!r}")
    candidate = pick(found, program, sale_month)
    return FlipCase(plan, case, candidate, ranges_of(case, candidate))


def group_named(plan: Plan, name: str) -> Group:
    """Return a group of the plan (SlidefitError when there is none)."""
    return find_named(plan.groups, attrgetter("name"), name, "group")


def flip(
    outlook: Outlook | None,
    plan: Plan,
    group: str | None = None,
    program: str | None = None,
    sale_month: str | None = None,
) -> tuple[FlipResult, ...]:
    """Return what would flip the answer for each group: every input's swing over its own range, widest first.

    Parameters
    ----------
    group, program, sale_month : str, optional
        All groups, and for each the option that brings it most, when left out.

    Raises
    ------
    OutlookError, SlidefitError
        The outlook knows nothing of the calves, or there is no such group, program or month to compare.

    Notes
    -----
    One input at a time: two that move together can flip what neither flips alone.
    """
    groups = plan.groups if group is None else (group_named(plan, group),)
    out = []
    for each in groups:
        found = flip_case(outlook, plan, each, program, sale_month)
        swings = [swing_of(found, name) for name in found.ranges]
        out.append(
            FlipResult(
                group=each.name,
                program=found.candidate.program.name,
                sale_date=found.candidate.sale_date,
                gain_per_head=float(found.gain({})),
                swings=tuple(sorted(swings, key=lambda swing: -swing.swing)),
            )
        )
    return tuple(out)


def grid_values(span: FlipRange, steps: int) -> FloatArray:
    """Return the values of one side of a grid; whole days where the input is days."""
    values = np.linspace(span.low, span.high, steps)
    return np.unique(np.round(values)) if span.name == "days" else values


def grid_gains(flip: FlipCase, x: str, y: str, x_values: FloatArray, y_values: FloatArray) -> FloatArray:
    """Return the gain from keeping over two inputs, shape (y, x) [$ per head]."""
    if x == "days":
        return grid_gains(flip, y, x, y_values, x_values).T
    if y == "days":
        rows = [
            np.broadcast_to(flip.gain({x: x_values, "days": float(day)}), x_values.shape) for day in y_values
        ]
        return np.array(rows)
    wide, tall = np.meshgrid(x_values, y_values)
    return np.broadcast_to(flip.gain({x: wide, y: tall}), wide.shape)


def grid_inputs(text: str) -> tuple[str, str]:
    """Return the two inputs of a grid from words such as ``gain,feed_cost`` (SlidefitError for others)."""
    names = [name.strip() for name in text.split(",")]
    if len(names) != 2 or names[0] == names[1]:
        raise SlidefitError(
            f"{text!r} is not two inputs",
            where=Text(Setting("grid")),
            remedy=f"Name two of: {', '.join(INPUTS)}.",
        )
    for name in names:
        if name not in INPUTS:
            raise nearest_name(name, INPUTS, "input")
    return names[0], names[1]


def flip_grid(
    outlook: Outlook | None,
    plan: Plan,
    x: str,
    y: str,
    group: str | None = None,
    program: str | None = None,
    sale_month: str | None = None,
    steps: int = GRID_STEPS,
) -> FlipGrid:
    """Return the gain from keeping over two inputs, and the line on which the answer flips.

    Parameters
    ----------
    x, y : str
        Two of gain, sale_price, feed_cost, death_loss, slide, forage_yield, bid, interest, shrink, days.
    group, program, sale_month : str, optional
        The first group, and the option that brings it most, when left out.
    steps : int
        Values on each side.

    Raises
    ------
    OutlookError, SlidefitError
        As `flip`; or an input is unknown, the same twice, or has no part in this option.
    """
    found = flip_case(
        outlook, plan, plan.groups[0] if group is None else group_named(plan, group), program, sale_month
    )
    for name in (x, y):
        if name not in INPUTS:
            raise nearest_name(name, INPUTS, "input")
        if name not in found.ranges:
            raise SlidefitError(
                f"{name} has no part in this option", remedy=f"Use: {', '.join(found.ranges)}."
            )
    if x == y:
        raise SlidefitError(f"{x} is given twice", remedy="Give two different inputs.")
    x_values, y_values = (grid_values(found.ranges[name], steps) for name in (x, y))
    gains = grid_gains(found, x, y, x_values, y_values)
    line = [
        (float(at), even)
        for at, down in zip(x_values, gains.T, strict=True)
        for even in crossings(y_values, down)
    ]
    return FlipGrid(
        group=found.case.group.name,
        program=found.candidate.program.name,
        sale_date=found.candidate.sale_date,
        x=found.ranges[x],
        y=found.ranges[y],
        x_values=tuple(x_values.tolist()),
        y_values=tuple(y_values.tolist()),
        gains=tuple(tuple(row) for row in gains.tolist()),
        flip_line=tuple(line),
    )
