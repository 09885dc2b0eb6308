"""Sorting a group by weight: which weights to sell now and which to keep, and what sorting is worth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.money import Shifts, money_of
from slidefit.decision.options import GroupCase, build_option, group_case, refusal, sale_dates
from slidefit.decision.pricing import price_line
from slidefit.decision.results import SELL_NOW
from slidefit.decision.risk.answer_changes import crossings, group_named
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Plan

FloatArray = NDArray[np.float64]
STEP_LB = 10.0


@dataclass(frozen=True)
class SortRow:
    """The best choice for calves of one weight at weaning.

    Attributes
    ----------
    weight_lb : float
    choice : str
        A program's name, or ``sell now``.
    sale_date : date
    gain_per_head : float [$]
        Of the best way to keep; below zero where selling now is better.
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
    group : str
    rows : tuple of SortRow
    threshold_lb : float or None
        Weight nearest the group's mean at which the choice between keeping and selling changes.
    keep_side : str
        ``lighter`` or ``heavier`` than the threshold is kept; empty without one.
    kept_head : float
        Head of the group on that side.
    all_alike : float [$ per head]
        The better of keeping all on one program until one date, and selling all.
    sorted_gain : float [$ per head]
        Each calf by the better of keeping (its own best way) and selling.
    value_of_sorting : float [$ per head]
        Their difference.
    """

    group: str
    rows: tuple[SortRow, ...]
    threshold_lb: float | None
    keep_side: str
    kept_head: float
    all_alike: float
    sorted_gain: float
    value_of_sorting: float


def case_at(case: GroupCase, weight_lb: float) -> GroupCase:
    """Return the case of calves of one weight out of a group, priced along the group's own slide."""
    group = case.group.model_copy(update={"weight_lb": weight_lb, "weight_sd_lb": 0.0, "weights_lb": None})
    price = case.start_line.price_cwt(weight_lb)
    return replace(case, group=group, start_price_cwt=price, start_mix=1.0, spread_lb=np.zeros(1))


def gains_by_weight(
    outlook: Outlook, plan: Plan, case: GroupCase, weights_lb: FloatArray
) -> dict[tuple[str, date], FloatArray]:
    """Return the gain from keeping at each weight [$ per head], for every program and sale date that is open."""
    out: dict[tuple[str, date], FloatArray] = {}
    cases = [case_at(case, float(weight)) for weight in weights_lb]
    for day in sale_dates(plan):
        line = price_line(case.outlook, case.group, day, case.weaning)
        for program in plan.programs_of(case.group):
            if refusal(outlook, plan, case, program, day):
                continue
            options = [build_option(plan, each, program, line, day)[0] for each in cases]
            out[program.name, day] = np.array([float(money_of(each, Shifts()).gain) for each in options])
    return out


def weights_to_show(outlook: Outlook, case: GroupCase) -> FloatArray:
    """Return the weights to sort over: the group's own and a hundred pounds either side, inside the data [lb]."""
    curve = outlook.curve(case.group.sex)
    mean, spread = case.group.mean_weight_lb, case.spread_lb
    low = max(curve.low_lb, mean + float(spread.min()) - 100.0)
    high = min(curve.high_lb, mean + float(spread.max()) + 100.0)
    first, last = STEP_LB * np.floor(low / STEP_LB), STEP_LB * np.ceil(high / STEP_LB)
    return np.arange(first, max(last, first + STEP_LB) + 1.0, STEP_LB)


def sort_by_weight(outlook: Outlook, plan: Plan, group: str) -> Sorting:
    """Return which weights of a group to keep and which to sell now, as a threshold with its value.

    Raises
    ------
    SlidefitError
        There is no such group.
    OutlookError
        The outlook knows nothing of its calves.

    Notes
    -----
    By the budget, without risk or room; a few dollars either way do not pay for sorting and hauling twice.
    """
    case = group_case(outlook, plan, group_named(plan, group))
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
        else SortRow(float(weight), SELL_NOW, case.weaning, float(gain))
        for weight, k, gain in zip(weights, which, best, strict=True)
    )
    even = crossings(weights, best)
    mean = case.group.mean_weight_lb
    threshold = float(even[np.argmin(np.abs(even - mean))]) if len(even) else None
    calves = mean + case.spread_lb
    own = np.array([np.interp(calves, weights, row) for row in table])
    alike = max(0.0, float(own.mean(axis=1).max()))
    by_calf = float(np.maximum(own.max(axis=0), 0.0).mean())
    lighter = bool(threshold is not None and np.interp(threshold - STEP_LB, weights, best) > 0.0)
    side = "" if threshold is None else "lighter" if lighter else "heavier"
    kept = np.zeros(1) if threshold is None else (calves < threshold) == lighter
    return Sorting(
        group=group,
        rows=rows,
        threshold_lb=threshold,
        keep_side=side,
        kept_head=float(kept.mean()) * case.group.head,
        all_alike=alike,
        sorted_gain=by_calf,
        value_of_sorting=by_calf - alike,
    )
