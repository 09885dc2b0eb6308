"""The best choice; a choice by name; the view by month."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date
from operator import attrgetter
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.results import SELL_NOW, Best, Comparison, GroupResult, KeepOption
from slidefit.decision.verdict import verdict_of
from slidefit.errors import SlidefitError

FloatArray = NDArray[np.float64]
TOO_CLOSE_ODDS = 0.60
"""Odds below this do not settle a choice between two: our choice, told beside the answer."""


def label_of(option: KeepOption) -> str:
    """Return a keep option's name: its program and month."""
    return f"{option.program}, {option.sale_date:%Y-%m-%d}"


def rank_of(keep: Sequence[KeepOption]) -> list[int]:
    """Return the positions of the options by what they bring the herd, best first."""
    return sorted(range(len(keep)), key=lambda k: -keep[k].gain_herd)


def beats(keep: Sequence[KeepOption], gains: Sequence[NDArray[Any]], first: int, second: int) -> float:
    """Return the odds that one option brings the herd more than another, in the same draws."""
    return float(np.mean(gains[first] * keep[first].head_kept > gains[second] * keep[second].head_kept))


def best_of(keep: Sequence[KeepOption], gains: Sequence[NDArray[Any]], weaning: date) -> Best:
    """Return the best choice of a group by the expected gain, and the odds that it is, from its gains in every draw.

    Options are ranked by the expected gain for the head that there is room for, against selling all now. One month
    can't be told from another when the odds of the better one are under 60 percent.
    """
    order = rank_of(keep)
    if not order:
        return Best(SELL_NOW, weaning, 0.0, 0.0, None, None, None, False, False)
    first = order[0]
    second = order[1] if len(order) > 1 else None
    beats_second = None if second is None else beats(keep, gains, first, second)
    top = keep[first]
    odds = top.odds
    verdict = verdict_of(top.gain_per_head, odds)
    second_sells = second is None or keep[second].gain_herd <= 0.0
    best = Best(
        choice=top.program,
        sale_date=top.sale_date,
        gain_per_head=top.gain_per_head,
        gain_herd=top.gain_herd,
        odds_beats_selling=odds,
        runner_up=SELL_NOW if second_sells or second is None else label_of(keep[second]),
        odds_beats_runner_up=odds if second_sells else beats_second,
        too_close=verdict == "Too close to call",
        month_too_close=beats_second is not None and beats_second < TOO_CLOSE_ODDS,
        verdict=verdict,
    )
    if top.gain_herd > 0.0:
        return best
    sells = replace(best, choice=SELL_NOW, sale_date=weaning, gain_per_head=0.0, gain_herd=0.0)
    told = replace(sells, runner_up=label_of(top), odds_beats_runner_up=1.0 - odds)
    return replace(told, odds_beats_selling=None, month_too_close=False)


def chosen(result: GroupResult) -> int | None:
    """Return the position of a group's best option among its keep options; None for selling now."""
    if result.best.choice == SELL_NOW:
        return None
    return rank_of(result.keep)[0]


T = TypeVar("T")


def nearest_name(asked: str, known: Iterable[str], what: str) -> SlidefitError:
    """Return the fault of a name that is not there, with the nearest one that is."""
    names = list(dict.fromkeys(known))
    near = difflib.get_close_matches(asked, names, n=1)
    remedy = f"Did you mean {near[0]!r}?" if near else f"There are: {', '.join(names)}."
    return SlidefitError(f"there is no {what} {asked!r}", remedy=remedy)


def find_named(things: Sequence[T], name_of: Callable[[T], str], asked: str, what: str) -> T:
    """Return the first of some things with a name (SlidefitError when there is none, with the nearest name)."""
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

    SlidefitError when none fits: with the nearest name, or why the option could not be compared.
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
    """Return the comparison with only the groups and keep options asked for (SlidefitError when none fits).

    The best choices stay the whole's.
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


def months_of(result: GroupResult) -> tuple[KeepOption, ...]:
    """Return for every sale date of a group the option that brings the herd most, in order of date."""
    by_date: dict[date, KeepOption] = {}
    for option in result.keep:
        kept = by_date.get(option.sale_date)
        if kept is None or option.gain_herd > kept.gain_herd:
            by_date[option.sale_date] = option
    return tuple(by_date[day] for day in sorted(by_date))
