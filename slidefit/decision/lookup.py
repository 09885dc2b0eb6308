"""Finding one answer in a comparison, and the view of it by month of sale."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from operator import attrgetter
from typing import TypeVar

from slidefit.decision.results import Comparison, GroupResult, KeepOption
from slidefit.errors import SlidefitError

T = TypeVar("T")


@dataclass(frozen=True)
class MonthRow:
    """The best way to keep a group until one sale date, beside selling now.

    Attributes
    ----------
    group, program, sale_month : str
    sale_date : date
    days : int
    weight_lb, price_cwt : float
    gain_per_head, gain_herd, p10, p50, p90 : float [$]
    odds : float
    is_best : bool
        The group's best date.
    """

    group: str
    program: str
    sale_month: str
    sale_date: date
    days: int
    weight_lb: float
    price_cwt: float
    gain_per_head: float
    gain_herd: float
    p10: float
    p50: float
    p90: float
    odds: float
    is_best: bool


def nearest_name(asked: str, known: Iterable[str], what: str) -> SlidefitError:
    """Return the fault of a name that is not there, with the nearest one that is."""
    names = list(dict.fromkeys(known))
    near = difflib.get_close_matches(asked, names, n=1)
    remedy = f"Did you mean {near[0]!r}?" if near else f"There are: {', '.join(names)}."
    return SlidefitError(f"there is no {what} {asked!r}", remedy=remedy)


def find_named(things: Sequence[T], name_of: Callable[[T], str], asked: str, what: str) -> T:
    """Return the first of some things with a name.

    Raises
    ------
    SlidefitError
        There is none; the message gives the nearest name.
    """
    for each in things:
        if name_of(each) == asked:
            return each
    raise nearest_name(asked, map(name_of, things), what)


def find_group(comparison: Comparison, name: str) -> GroupResult:
    """Return a group's result by its name (SlidefitError when there is none)."""
    return find_named(comparison.groups, attrgetter("group"), name, "group")


def find_option(
    comparison: Comparison, group: str, program: str | None = None, sale_month: str | None = None
) -> KeepOption:
    """Return one keep option: of a group, on a program (any), in a month (any); the best that fits.

    Raises
    ------
    SlidefitError
        No option fits; the message gives the nearest name, or why the option could not be compared.
    """
    result = find_group(comparison, group)
    for each in result.unavailable:
        if each.program == program and each.sale_month == sale_month:
            raise SlidefitError(f"{program} can't be compared in {sale_month}: {each.reason}", where=group)
    programs = [each.program for each in result.keep] + [each.program for each in result.unavailable]
    if program is not None and program not in programs:
        raise nearest_name(program, programs, "program")
    fitting = [
        option
        for option in result.keep
        if program in (None, option.program) and sale_month in (None, option.sale_month)
    ]
    if not fitting:
        if sale_month is None:
            raise SlidefitError("no month could be compared", where=f"{group}, {program or 'any program'}")
        raise nearest_name(sale_month, (option.sale_month for option in result.keep), "month of sale")
    return max(fitting, key=lambda option: option.gain_herd)


def narrowed(
    comparison: Comparison,
    group: str | None = None,
    program: str | None = None,
    sale_month: str | None = None,
) -> Comparison:
    """Return the comparison with only the groups and keep options asked for; the best choices stay the whole's.

    Raises
    ------
    SlidefitError
        No option fits.
    """
    if group is None and program is None and sale_month is None:
        return comparison
    shown = []
    for result in comparison.groups if group is None else (find_group(comparison, group),):
        find_option(comparison, result.group, program, sale_month)
        keep = (
            option
            for option in result.keep
            if program in (None, option.program) and sale_month in (None, option.sale_month)
        )
        shown.append(replace(result, keep=tuple(keep)))
    return replace(comparison, groups=tuple(shown))


def months_of(comparison: Comparison) -> tuple[MonthRow, ...]:
    """Return, for every group and sale date, the program that brings the herd most, in order of date."""
    rows = []
    for result in comparison.groups:
        by_date: dict[str, KeepOption] = {}
        for option in result.keep:
            key = option.sale_date.isoformat()
            if key not in by_date or option.gain_herd > by_date[key].gain_herd:
                by_date[key] = option
        top = max(by_date.values(), key=lambda option: option.gain_herd, default=None)
        rows += [month_row(result.group, by_date[key], by_date[key] is top) for key in sorted(by_date)]
    return tuple(rows)


def month_row(group: str, option: KeepOption, is_best: bool) -> MonthRow:
    """Return one row of the view by month."""
    return MonthRow(
        group=group,
        program=option.program,
        sale_month=option.sale_month,
        sale_date=option.sale_date,
        days=option.days,
        weight_lb=option.weight_lb,
        price_cwt=option.price_cwt,
        gain_per_head=option.gain_per_head,
        gain_herd=option.gain_herd,
        p10=option.p10,
        p50=option.p50,
        p90=option.p90,
        odds=option.odds,
        is_best=is_best,
    )
