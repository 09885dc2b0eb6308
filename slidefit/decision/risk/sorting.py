"""Sorting a group by weight: which weights to sell now and which to keep, and what sorting is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.budget.even import crossings, nearest_to
from slidefit.decision.money import Moved, expected
from slidefit.decision.options import GroupCase, build_option, group_case, refusal, sale_dates
from slidefit.decision.pricing import lot_head
from slidefit.decision.results import SELL_NOW
from slidefit.decision.risk.answer_changes import group_named
from slidefit.decision.typed_prices import outlook_for
from slidefit.market.outlook import Outlook
from slidefit.plan.feeding import Program
from slidefit.plan.plan import Plan

FloatArray = NDArray[np.float64]
STEP_LB = 10.0
SPLITS = 9
"""Thresholds tried, from a tenth to nine tenths of the calves."""


@dataclass(frozen=True)
class SortRow:
    """The best choice for calves of one weight at weaning: a program's name, or ``sell now``.

    ``gain_per_head`` [$] is of the best way to keep; below zero where selling now is better.
    """

    weight_lb: float
    choice: str
    sale_date: date
    gain_per_head: float


@dataclass(frozen=True)
class Sorting:
    """What sorting a group by weight would do.

    Attributes
    ----------
    threshold_lb : float or None
        Weight nearest the group's mean at which the choice between keeping and selling changes.
    keep_side : str
        ``lighter`` or ``heavier`` than the threshold is kept (``kept_head``); empty without one.
    all_alike : float [$ per head]
        The better of keeping all on one program until one date, and selling all.
    sorted_gain : float [$ per head]
        Keeping one side on one program and selling the other, at the threshold that is expected to bring most, each a
        smaller lot; or all alike, where that is better.
    value_of_sorting : float [$ per head]
        Their difference; zero where two lots cost more than sorting brings.
    """

    group: str
    rows: tuple[SortRow, ...]
    threshold_lb: float | None
    keep_side: str
    kept_head: float
    all_alike: float
    sorted_gain: float
    value_of_sorting: float


@dataclass(frozen=True)
class Split:
    """A group parted by weight: the ``lighter`` or ``heavier`` side kept, the other sold now, each in a lot of its own.

    ``kept_lb`` is the mean weight of those kept. In $ per head of the whole group: ``lot_cost_head``, what the smaller
    lot takes off those sold now (that of those kept is in their price), and the expected ``gain_head``, lots counted.
    """

    side: str
    threshold_lb: float
    kept_lb: float
    kept_head: int
    lot_cost_head: float
    gain_head: float


def case_at(case: GroupCase, weight_lb: float, head: int | None = None) -> GroupCase:
    """Return the case of calves of one weight out of a group, in a lot of some head, along the group's own slide."""
    changes = {"weight_lb": weight_lb, "weight_sd_lb": 0.0, "weights_lb": None}
    group = case.group.model_copy(update={**changes, "head": case.group.head if head is None else head})
    ratio = case.start_line.price_cwt(weight_lb) / case.start_line.price_cwt(case.group.mean_weight_lb)
    prices = case.prices
    if head is not None:
        own = prices.group.model_copy(update={"head": head})
        prices = replace(prices, group=own, _lines={})
    return replace(
        case,
        group=group,
        prices=prices,
        start_price_cwt=case.start_price_cwt * ratio,
        start_mix=1.0,
        spread_lb=np.zeros(1),
    )


def lot_factor(case: GroupCase, head: float) -> float:
    """Return the price of a lot of some head over that of the whole group's lots."""
    whole, part = lot_head(case.group), min(lot_head(case.group), max(head, 1.0))
    return float((part / whole) ** case.outlook.head_slope)


def best_split(plan: Plan, case: GroupCase, program: Program, day: date) -> Split | None:
    """Return the split of a group that is expected to bring most when one side is kept; None where all weigh alike."""
    calves = np.sort(case.group.mean_weight_lb + case.spread_lb)
    if len(calves) == 1:
        return None
    check = case.group.mean_weight_lb * case.start_price_cwt / 100.0 * case.start_mix
    parts: list[tuple[str, float, float, int, float, float]] = []
    for cut in sorted({round(share * len(calves)) for share in np.linspace(0.1, 0.9, SPLITS)}):
        for side, kept in (("lighter", calves[:cut]), ("heavier", calves[cut:])):
            if not 0 < len(kept) < len(calves):
                continue
            share = len(kept) / len(calves)
            head = max(1, round(share * case.group.head))
            lost = (1.0 - share) * check * (1.0 - lot_factor(case, case.group.head - head))
            threshold = 0.5 * float(calves[cut - 1] + calves[cut])
            parts.append((side, threshold, float(kept.mean()), head, lost, share))
    factors = np.log([lot_factor(case, head) for *_, head, _, _ in parts])
    gains = gains_at(
        plan, case, program, day, np.array([each[2] for each in parts]), factors, open_price=True
    )
    found = [
        Split(*each[:5], each[5] * float(gain) - each[4]) for each, gain in zip(parts, gains, strict=True)
    ]
    return max(found, key=lambda each: each.gain_head)


def gains_at(
    plan: Plan,
    case: GroupCase,
    program: Program,
    day: date,
    weights_lb: FloatArray,
    log_factors: FloatArray | float = 0.0,
    *,
    open_price: bool = False,
) -> FloatArray:
    """Return the expected gain from keeping calves of each weight out of a group [$ per head], in their shape.

    ``log_factors`` are what the size of their lots adds to the log price at sale.
    """
    option, _ = build_option(
        plan, case_at(case, case.group.mean_weight_lb), program, day, open_price=open_price
    )
    line, mean = case.start_line, case.group.mean_weight_lb
    prices = case.start_price_cwt * np.exp(line.log_at(weights_lb) - line.log_at(mean))
    return expected(option, Moved({"start_lb": weights_lb, "start_price_cwt": prices}, log_price=log_factors))


def gains_by_weight(
    outlook: Outlook, plan: Plan, case: GroupCase, weights_lb: FloatArray
) -> dict[tuple[str, date], FloatArray]:
    """Return the expected gain from keeping at each weight [$ per head], for every open program and sale date."""
    out: dict[tuple[str, date], FloatArray] = {}
    for day in sale_dates(plan):
        for program in plan.programs_of(case.group):
            if refusal(outlook, plan, case, program, day):
                continue
            out[program.name, day] = gains_at(plan, case, program, day, weights_lb)
    return out


def weights_to_show(outlook: Outlook, case: GroupCase) -> FloatArray:
    """Return the weights to sort over: the group's own and a hundred pounds either side, inside the data [lb]."""
    curve = outlook.curve(case.group.sex)
    mean, spread = case.group.mean_weight_lb, case.spread_lb
    low = max(curve.low_lb, mean + float(spread.min()) - 100.0)
    high = min(curve.high_lb, mean + float(spread.max()) + 100.0)
    first, last = STEP_LB * np.floor(low / STEP_LB), STEP_LB * np.ceil(high / STEP_LB)
    return np.arange(first, max(last, first + STEP_LB) + 1.0, STEP_LB)


def best_to_part(
    keys: list[tuple[str, date]], gains: FloatArray, names: Mapping[str, Program]
) -> tuple[Program, date]:
    """Return the program and day on which keeping some of the calves brings most, lots apart.

    ``gains`` are of each calf, lightest first, shape (keys, calves).
    """
    lighter = np.cumsum(gains, axis=1)
    heavier = lighter[:, -1:] - lighter
    best = np.maximum(lighter, heavier).max(axis=1)
    program, day = keys[int(best.argmax())]
    return names[program], day


def sort_by_weight(outlook: Outlook | None, plan: Plan, group: str) -> Sorting:
    """Return which weights of a group to keep and which to sell now, as a threshold with its value.

    Raises
    ------
    SlidefitError, OutlookError
        There is no such group, or the outlook knows nothing of its calves.

    Notes
    -----
    By the expected gain, without room. Two smaller lots are counted: what each loses for its size. A few dollars either
    way do not pay for sorting and hauling twice.
    """
    outlook = outlook_for(outlook, plan)
    case = group_case(outlook, plan, group_named(plan, group))
    names = {program.name: program for program in plan.programs}
    weights = weights_to_show(outlook, case)
    gains = gains_by_weight(outlook, plan, case, weights)
    if not gains:
        return Sorting(group, (), None, "", 0.0, 0.0, 0.0, 0.0)
    keys = list(gains)
    table = np.array([gains[key] for key in keys])
    best = table.max(axis=0)
    which = table.argmax(axis=0)
    rows = tuple(
        SortRow(float(weight), keys[k][0], keys[k][1], float(gain))
        if gain > 0.0
        else SortRow(float(weight), SELL_NOW, case.start, float(gain))
        for weight, k, gain in zip(weights, which, best, strict=True)
    )
    mean = case.group.mean_weight_lb
    threshold = nearest_to(mean, crossings(weights, best))
    calves = np.sort(mean + case.spread_lb)
    own = np.array([np.interp(calves, weights, row) for row in table])
    alike = max(0.0, float(own.mean(axis=1).max()))
    split = best_split(plan, case, *best_to_part(keys, own, names)) if len(calves) > 1 else None
    lighter = bool(threshold is not None and np.interp(threshold - STEP_LB, weights, best) > 0.0)
    side = "" if threshold is None else "lighter" if lighter else "heavier"
    kept = np.zeros(1) if threshold is None else (calves < threshold) == lighter
    by_split = alike if split is None else max(alike, split.gain_head)
    return Sorting(
        group=group,
        rows=rows,
        threshold_lb=threshold,
        keep_side=side,
        kept_head=float(kept.mean()) * case.group.head,
        all_alike=alike,
        sorted_gain=by_split,
        value_of_sorting=by_split - alike,
    )
