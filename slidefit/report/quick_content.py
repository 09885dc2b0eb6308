"""The answer to the quick question, as a document."""

from __future__ import annotations

from slidefit.decision.quick import QuickAnswer, QuickGrid
from slidefit.decision.quick import quick_budget as budget_for
from slidefit.plan.quick_fields import BY_NAME
from slidefit.report.document import Column, Document, RowKind, TypedTable, document, table
from slidefit.report.formatting import measure, money, money_cents, percent

SOURCE = "Typed prices; not from your records."
CAUTION = "An estimate, not a promise: talk to your lender and a market adviser before you act on it."
SMALLEST = 0.005
"""Lines that come to no cent are left out."""


def headline(answer: QuickAnswer) -> tuple[str, ...]:
    """Return the answer in sentences: the gain, the same by the acre, the slide and what a pound is worth."""
    better = "keeping gains" if answer.gain_per_head > 0 else "keeping loses"
    head = f"On these numbers {better} {money(abs(answer.gain_per_head))} a head over selling now."
    lines = [f"{SOURCE} {head}"]
    if answer.gain_per_acre is not None and answer.head_per_acre is not None:
        side = "gains" if answer.gain_per_acre > 0 else "loses"
        acre = f"{side} {money(abs(answer.gain_per_acre))}"
        lines.append(f"An acre carries {answer.head_per_acre:.2f} head and {acre}.")
    weights = f"{answer.values['start_lb']:,.0f} to {answer.sale_lb:,.0f} lb"
    slide = f"Slide {percent(answer.slide_pct)} per cwt from {weights}."
    if answer.value_of_gain_per_lb is not None and answer.cost_of_gain_per_lb is not None:
        slide += f" A pound put on is worth {money_cents(answer.value_of_gain_per_lb)} and costs "
        slide += f"{money_cents(answer.cost_of_gain_per_lb)}."
    return (*lines, slide)


def quick_content(answer: QuickAnswer) -> Document:
    """Return the answer: gain, budgets with their arithmetic, breakevens, a two-way table, what is left out."""
    rows = [
        (BY_NAME[name].label, *(typed(v, BY_NAME[name].unit) for v in (answer.planned[name], value)))
        for name, value in answer.breakeven.items()
    ]
    left_out = "; ".join(answer.left_out)
    return document(
        *headline(answer),
        budget_table(answer),
        table("Breakevens, one number at a time", ["What", "Typed", "Breakeven"], rows),
        *([grid_table(answer.grid)] if answer.grid is not None else []),
        f"Left blank, counted as zero: {left_out}." if left_out else "",
        CAUTION,
    )


def typed(value: float | None, unit: str) -> str:
    """Return a number of a hand budget with its unit: prices to the cent."""
    if value is None:
        return "none within reach"
    return f"{money_cents(value)}/cwt" if unit == "$/cwt" else measure(value, unit)


def budget_table(answer: QuickAnswer) -> TypedTable:
    """Return both budgets: what, how it comes about, dollars a head."""
    pasture = {"intake_lb_day": 0.0} if "acres_head" in answer.values else {}
    budget = budget_for({"intake_pct": 0.0} if "intake_pct" in answer.values else pasture)
    shown = [
        each
        for each in budget.lines
        if each.kind == "total" or (each.kind != "line" and abs(answer.values[each.key]) >= SMALLEST)
    ]
    rows = [
        (
            each.label,
            budget.arithmetic(each.key, answer.values),
            answer.values[each.key] * (-1.0 if each.kind == "cost" else 1.0),
        )
        for each in shown
    ]
    totals: dict[int, RowKind] = {k: "total" for k, each in enumerate(shown) if each.kind == "total"}
    columns = [Column("Line"), Column("How it is figured"), Column("$ a head", "bare_cents")]
    return table("", columns, rows, kinds=totals)


def grid_table(grid: QuickGrid) -> TypedTable:
    """Return the two-way table, dollars a head."""
    x, y = BY_NAME[grid.x], BY_NAME[grid.y]
    columns = [Column(y.label, unit=y.unit), *(Column(f"{value:g}", "gain") for value in grid.x_values)]
    rows: list[tuple[str | float, ...]] = [
        (f"{value:g}", *row) for value, row in zip(grid.y_values, grid.gains, strict=True)
    ]
    return table(f"Gain from keeping, $ a head. Across: {x.label}, {x.unit}", columns, rows)
