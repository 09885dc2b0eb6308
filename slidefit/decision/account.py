"""The account of one option: its budget line by line, its cash by month, what it asks of pasture."""

from __future__ import annotations

import calendar
from collections import defaultdict
from collections.abc import Mapping
from datetime import date, timedelta
from functools import lru_cache

from slidefit.decision.budget.lines import suffix
from slidefit.decision.budget.table import Budget
from slidefit.decision.options import Candidate, GroupCase
from slidefit.decision.results import BudgetLine, CashNeed, PastureUse

LEAST_SHOWN = 1e-9


def lines_of(budget: Budget, values: Mapping[str, float], group: str) -> list[BudgetLine]:
    """Return the lines of a group of a budget that are not zero, money out as negative, and its totals."""
    out = []
    for each in budget.lines:
        if each.group != group or each.kind not in ("income", "cost", "total"):
            continue
        amount = -values[each.key] if each.kind == "cost" else values[each.key]
        if abs(amount) < LEAST_SHOWN and each.kind != "total":
            continue
        arithmetic = "" if each.words == TOTALS else budget.arithmetic(each.key, values)
        out.append(BudgetLine(each.label, arithmetic, amount, each.kind))
    return out


TOTALS = "money in less money out"
UNCERTAINTY = "what uncertainty adds or costs"


def sell_now_lines(case: GroupCase, budget: Budget) -> tuple[BudgetLine, ...]:
    """Return the budget of selling now."""
    values = {key: float(value) for key, value in budget.values(case.start_inputs).items()}
    return tuple(lines_of(budget, values, "now"))


def keep_lines(candidate: Candidate, expected: float) -> tuple[BudgetLine, ...]:
    """Return the budget of keeping, what uncertainty adds or costs, and the expected gain from keeping."""
    option = candidate.option
    lines = lines_of(option.budget, option.plain, "keep")
    planned = option.plain["gain_per_head"]
    return (
        *lines,
        BudgetLine(UNCERTAINTY, "mean of all outcomes less the plan's", expected - planned, "total"),
        BudgetLine("expected gain from keeping", f"{planned:,.2f} and that", expected, "total"),
    )


@lru_cache(maxsize=4096)
def days_by_month(first: date, days: int) -> tuple[tuple[str, int], ...]:
    """Return the calendar months that a run of days touches, with the days in each.

    >>> days_by_month(date(2026, 10, 30), 5)
    (('2026-10', 2), ('2026-11', 3))
    """
    out = []
    day = first
    while days > 0:
        inside = min(days, calendar.monthrange(day.year, day.month)[1] - day.day + 1)
        out.append((f"{day:%Y-%m}", inside))
        day += timedelta(days=inside)
        days -= inside
    return tuple(out)


def cash_needs(candidate: Candidate, start: date) -> tuple[CashNeed, ...]:
    """Return the cash that keeping calls for, month by month, for the head that there is room for.

    Each declared cost falls when its line says: on the days of its stretch, on every day, or at the start; selling
    costs come out of the check and interest is not cash here. What is already spent is not called for again.
    """
    option, spent = candidate.option, defaultdict[str, float](float)
    spent[f"{start:%Y-%m}"] += 0.0
    spans = {"daily": (start, option.days)}
    for number, each in enumerate(candidate.stretches, start=1):
        spans[f"stretch {number}"] = (start + timedelta(days=each.first_day), each.days)
    for line in option.budget.lines:
        amount = option.plain[line.key]
        if line.kind != "cost" or line.group != "keep" or line.falls == "sale":
            continue
        if line.falls == "start":
            spent[f"{start:%Y-%m}"] += amount
            continue
        first, length = spans[line.falls]
        for month, days in days_by_month(first, length):
            spent[month] += amount * days / length
    total = 0.0
    out = []
    for month in sorted(spent):
        amount = spent[month] * candidate.capacity_head
        total += amount
        out.append(CashNeed(month, amount, total))
    return tuple(out)


def pasture_use(candidate: Candidate) -> PastureUse | None:
    """Return what an option asks of the pasture; None where it grazes none."""
    option, values = candidate.option, candidate.option.plain
    grazed = [(suffix(k), each) for k, each in enumerate(candidate.stretches) if each.pasture is not None]
    if not grazed:
        return None
    days = sum(each.days for _, each in grazed)
    acres_head = sum(values[f"acres_head{end}"] for end, _ in grazed)
    pastures = [each.pasture for _, each in grazed if each.pasture is not None]
    at_hand = [pasture.acres for pasture in pastures if pasture.acres is not None]
    others = [pasture.alternative_acre for pasture in pastures if pasture.alternative_acre is not None]
    return PastureUse(
        head_days_per_acre=days / acres_head,
        cost_head_day=sum(values[f"pasture_head{end}"] for end, _ in grazed) / days,
        head_per_acre=1.0 / acres_head,
        acres_needed=acres_head * option.head,
        acres_at_hand=sum(at_hand) if at_hand else None,
        alternative_acre=sum(others) / len(others) if others else None,
    )
