"""One page for the lender: what the calves are worth, what keeping them takes and when it comes back."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from slidefit.report import answers, sentences
from slidefit.report import formatting as f
from slidefit.report.document import (
    Block,
    Column,
    Document,
    Heading,
    Sentence,
    TypedTable,
    Value,
    document,
    notes,
    table,
)

if TYPE_CHECKING:
    from slidefit.decision.results import Comparison, GroupResult, KeepOption

TITLE = "For the lender"
WORTH = "What the calves are worth, and what keeping brings"
CASH = "Cash needed for keeping, month by month"
WHEN_SOLD = "What must come in"


def banker_content(comparison: Comparison, *, title: str = "") -> Document:
    """Return the banker's sheet of a comparison: one printed page.

    Each group stands at its own best choice: kept until a day, or sold now and asking for no cash.

    Parameters
    ----------
    title : str
        The plan's name.
    """
    kept = [
        (group, option) for group in comparison.groups if (option := answers.best_option(group)) is not None
    ]
    peak, _ = peak_of(kept)
    worth = sum(group.sell_now.net_herd for group in comparison.groups)
    back = sum(option.net_per_head * option.head_kept for _, option in kept)
    lines = [
        f"Sold today, all {f.count(comparison.herd.head)} head net {f.money(worth)}.",
        (
            f"The plan keeps {f.count(sum(option.head_kept for _, option in kept))} head. The most cash out at one "
            f"time is {f.money(peak)}. After all costs the kept calves should net {f.money(back)}."
            if kept
            else "The plan sells every group now and needs no cash."
        ),
        answers.herd_answer(comparison),
    ]
    return document(
        *lines,
        Heading(WORTH),
        worth_table(comparison),
        *((Heading(CASH), cash_table(kept), Heading(WHEN_SOLD), needs_table(kept)) if kept else ()),
        cautions_block(comparison, 2),
        title=f"{TITLE}: {title or sentences.REPORT_TITLE}",
        subtitle=sentences.report_date(f.day(comparison.as_of)),
        as_of=f.day(comparison.as_of),
    )


def cautions_block(comparison: Comparison, most: int | None = None) -> Block:
    """Return what is not in the numbers, and the cautions, or as many of them as there is room for."""
    left_out = sentences.left_out_line(comparison.left_out)
    told = notes(comparison.cautions[:most], "caution")
    beside = [Sentence(left_out)] if left_out else []
    return Block("caution", (Heading(sentences.CAUTIONS_HEADING), *beside, *told))


def worth_table(comparison: Comparison) -> TypedTable:
    """Return each group today and at its best choice, in dollars for the group."""
    rows: list[tuple[Value, ...]] = []
    for group in comparison.groups:
        option, now = answers.best_option(group), group.sell_now
        start = (group.group, group.head, now.weight_lb, now.price_cwt, now.net_herd)
        if option is None:
            rows.append((*start, "sell now", None, None, None))
            continue
        spread = (option.p10 * option.head_kept, option.p90 * option.head_kept)
        rows.append((*start, answers.choice_words(option), option.gain_herd, spread, option.odds))
    columns = [
        Column("Calves", share=1.5), Column("Head", "count", share=0.7), Column("Weight", "weight", share=0.9),
        Column("$/cwt", "price", share=0.9), Column("Net today", "dollars"), Column("Plan", share=2.4),
        Column("Gain, group", "gain", share=1.1), Column("8 in 10 between", "dollars", share=2.0),
        Column("Odds", "chance", share=0.7),
    ]  # fmt: skip
    return table("", columns, rows)


def months_out(kept: list[tuple[GroupResult, KeepOption]]) -> dict[str, tuple[float, float]]:
    """Return cash paid out and money that comes in from sales by month, all kept groups together [$]."""
    out: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for _, option in kept:
        paid = 0.0
        for need in option.cash:
            out[need.month][0] += need.amount_herd
            paid += need.amount_herd
        out[option.sale_month][1] += option.net_per_head * option.head_kept + paid
    return {month: (spent, back) for month, (spent, back) in sorted(out.items())}


def peak_of(kept: list[tuple[GroupResult, KeepOption]]) -> tuple[float, str]:
    """Return the most cash that is out at one time, before the sales of that month come in [$], and the month."""
    owed, peak, when = 0.0, 0.0, ""
    for month, (spent, back) in months_out(kept).items():
        owed += spent
        if owed > peak:
            peak, when = owed, month
        owed -= min(back, owed)
    return peak, when


def most_out(kept: list[tuple[GroupResult, KeepOption]]) -> str:
    """Return when a loan for all that keeping these calls for would be highest, in a sentence."""
    peak, when = peak_of(kept)
    return f"A loan for all of it would peak at {f.money(peak)} in {f.sale_month(when)}, before that month's sales."


def cash_table(kept: list[tuple[GroupResult, KeepOption]]) -> TypedTable:
    """Return cash out, sales in, and what a loan for all of it would stand at, month by month."""
    rows, owed, (peak, _) = [], 0.0, peak_of(kept)
    for month, (spent, back) in months_out(kept).items():
        owed += spent
        mark = " *" if owed == peak else ""
        rows.append((f"{f.sale_month(month)}{mark}", spent, back or None, owed))
        owed -= min(back, owed)
    columns = [
        Column("Month"),
        Column("Cash out", "dollars"),
        Column("Sales, net", "dollars"),
        Column("Out before sales", "dollars"),
    ]
    return table("", columns, rows, caption="* the most out at one time, without the calves' own worth.")


def needs_table(kept: list[tuple[GroupResult, KeepOption]]) -> TypedTable:
    """Return what each kept group must bring at its sale for keeping to come out even, and a bad year."""
    rows = []
    for group, option in kept:
        even = {each.name: each.value for each in option.breakevens}
        bad = option.bad_year * option.head_kept
        rows.append(
            (
                group.group,
                f.day(option.sale_date),
                option.weight_lb,
                option.price_cwt,
                even.get("sale_price_cwt"),
                bad,
            )
        )
    columns = [
        Column("Calves"), Column("Sold"), Column("Weight", "expected_weight"),
        Column("Expected $/cwt", "expected_price"),
        Column("Breakeven $/cwt", "price"), Column("Bad year, group", "gain"),
    ]  # fmt: skip
    return table("", columns, rows, caption="Bad year: the worst 1 in 10, averaged, against selling now.")
