"""The answer to the quick question: in words, and as JSON."""

from __future__ import annotations

from dataclasses import asdict
from textwrap import fill
from typing import Any

import numpy as np

from slidefit.decision.quick import QuickAnswer, QuickGrid
from slidefit.decision.quick import quick_budget as budget_for
from slidefit.plan.quick_fields import BY_NAME
from slidefit.report.formatting import measure, money, money_cents, percent

SOURCE = "Typed prices; not from your records."
CAUTION = "An estimate, no promise: talk to your lender and a market adviser before you act on it."
LABEL_WIDTH = 30


def quick_document(answer: QuickAnswer) -> dict[str, Any]:
    """Return the answer as a document for JSON: dollars per head started; ``grid`` is null where none was asked for."""
    return {**asdict(answer), "source": SOURCE}


def headline(answer: QuickAnswer) -> tuple[str, ...]:
    """Return the answer in sentences: the gain, the same by the acre, the slide and what a pound is worth."""
    better = "keeping gains" if answer.gain_per_head > 0 else "keeping loses"
    head = f"On these numbers {better} {money(abs(answer.gain_per_head))} a head against selling now."
    lines = [f"{SOURCE} {head}"]
    if answer.gain_per_acre is not None and answer.head_per_acre is not None:
        acre = f"{answer.head_per_acre:.2f} head an acre"
        lines.append(f"An acre carries {acre} and gains {money(answer.gain_per_acre, sign=True)}.")
    weights = f"{answer.values['start_lb']:,.0f} to {answer.sale_lb:,.0f} lb"
    slide = f"Slide {percent(answer.slide_pct)} per cwt from {weights}."
    if answer.value_of_gain_per_lb is not None and answer.cost_of_gain_per_lb is not None:
        slide += f" A pound put on is worth {money_cents(answer.value_of_gain_per_lb)} and costs "
        slide += f"{money_cents(answer.cost_of_gain_per_lb)}."
    return (*lines, slide)


def quick_text(answer: QuickAnswer, width: int = 100) -> str:
    """Return the answer for a terminal: the gain, both budgets with their arithmetic, breakevens, what is left out."""
    out = [*(fill(each, width) for each in headline(answer)), ""]
    out += [*budget_rows(answer), "", "Keeping and selling come out even at, one at a time:"]
    for name, value in answer.breakeven.items():
        field = BY_NAME[name]
        planned, even = (typed(each, field.unit) for each in (answer.planned[name], value))
        out.append(f"  {field.label:<{LABEL_WIDTH}}{even}  (typed: {planned})")
    if answer.grid is not None:
        out += ["", *grid_rows(answer.grid)]
    if answer.left_out:
        out += ["", fill(f"Taken as zero, not given: {'; '.join(answer.left_out)}.", width)]
    return "\n".join([*out, "", fill(CAUTION, width), ""])


def typed(value: float | None, unit: str) -> str:
    """Return a number of a hand budget with its unit: prices to the cent."""
    if value is None:
        return "nowhere in reach"
    return f"{money_cents(value)}/cwt" if unit == "$/cwt" else measure(value, unit)


def budget_rows(answer: QuickAnswer) -> list[str]:
    """Return both budgets as rows: what, dollars a head, arithmetic."""
    pasture = {"intake_lb_day": 0.0} if "acres_head" in answer.values else {}
    pasture = {"intake_pct": 0.0} if "intake_pct" in answer.values else pasture
    budget = budget_for(pasture)
    out = []
    for each in budget.lines:
        amount = answer.values[each.key]
        if each.kind == "line" or (abs(amount) < 0.005 and each.kind != "total"):
            continue
        signed = -amount if each.kind == "cost" else amount
        out.append(
            f"  {each.label:<{LABEL_WIDTH}}{signed:>11,.2f}  {budget.arithmetic(each.key, answer.values)}"
        )
    return [each.rstrip() for each in out]


def grid_rows(grid: QuickGrid) -> list[str]:
    """Return the two-way table as rows of dollars a head."""
    x, y = BY_NAME[grid.x], BY_NAME[grid.y]
    out = [f"Gain from keeping, $ a head: {y.label} [{y.unit}] down, {x.label} [{x.unit}] across"]
    out.append(" " * 10 + "".join(f"{value:>9g}" for value in grid.x_values))
    for value, row in zip(grid.y_values, np.asarray(grid.gains), strict=True):
        out.append(f"{value:>10g}" + "".join(f"{gain:>9,.0f}" for gain in row))
    return out
