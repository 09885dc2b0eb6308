"""Old against new of a region: tables, verdicts in words, what they rest on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from slidefit.regions.region import SEASON_AT_LB, Region
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.document import Cell, Column, Document, TypedTable, document, table

if TYPE_CHECKING:
    from slidefit.market.checks import MarketSpan
    from slidefit.regions.hand_edits import HandEdit
    from slidefit.regions.moved.change import BlockTest, Influence, NumberChange
    from slidefit.regions.moved.renewal import Renewal


NAMELESS = "(no name)"
CHANGE_CAPTION = (
    "Expected: the old file at today's price level. Dollars per head of a typical calf, at today's price, for the "
    "change from expected to new. Of the numbers called moved, about one in twenty did so by chance."
)
CHANGE_CHART_SOURCE = (
    "Dollars per head of a typical calf at today's price; bars: 95% interval.\n"
    "Filled: moved. Hollow: steady or can't tell."
)
SHOWN = ("slide", "discount", "season", "grade", "head", "noise", "spread", "price")
BLOCKS_TITLE = "All numbers, by kind"
BLOCKS_CAPTION = "Joint p: how often numbers that did not change would look this far off together."
CHANGE_AXIS = "New numbers against old, dollars per head"


def changes_table(old: Region, new: Region, changes: Sequence[NumberChange]) -> TypedTable:
    """Return old against new, number by number, in dollars per head of a typical calf."""
    columns = [
        Column("What"), Column("Old", "figure", spare=1), Column("Expected", "figure"), Column("New", "figure"),
        Column("$ a head", "gain"), Column("95% interval", "dollars", spare=2), Column("Verdict"),
    ]  # fmt: skip
    rows = [
        (
            Cell(change_name(c)), *(Cell(value, change_value(c, value)) for value in (c.old, c.old_now, c.new)),
            Cell(c.head), Cell((c.head_low, c.head_high)), Cell(moved_word(c)),
        )
        for c in shown(changes)
    ]  # fmt: skip
    return table(change_title(old, new), columns, rows, caption=CHANGE_CAPTION)


def shown(changes: Sequence[NumberChange]) -> list[NumberChange]:
    """Return the changes worth a row of their own: the usual kinds, and of the others those that moved."""
    return [c for c in changes if c.kind in SHOWN or c.moved]


def blocks_table(blocks: Sequence[BlockTest]) -> TypedTable:
    """Return each kind of number: how many moved, are steady, can't be told, and the p of no change at all."""
    columns = [
        Column("Numbers"), Column("Judged", "count", spare=1), Column("Moved", "count"), Column("Steady", "count"),
        Column("Can't tell", "count"), Column("Joint p", "figure"),
    ]  # fmt: skip
    rows = [
        (
            block_name(b), b.numbers, b.moved, b.steady, b.numbers - b.moved - b.steady,
            Cell(b.p, f"{b.p:.2f}" if b.p >= 0.01 else "under .01"),
        )
        for b in blocks
    ]  # fmt: skip
    return table(BLOCKS_TITLE, columns, rows, caption=BLOCKS_CAPTION)


def changes_content(renewal: Renewal) -> Document:
    """Return old against new: what moved and why, what is steady, what can't be told."""
    found = renewal.judged
    return document(
        moved_line(found.moved, len(found.rows) - 1),
        *(f"{sentences.capital(change_name(c))} moved {because(c)}." for c in found.moved),
        verdicts_line(found.rows),
        changes_table(renewal.old, renewal.new, found.rows),
        blocks_table(found.blocks),
        errors_line(found.rows),
        fed_line(renewal.fed_by, renewal.kin),
    )


def change_title(old: Region, new: Region) -> str:
    """Return the title of old against new."""
    return f"{new.name}: records to {f.day(old.source.last_sale)} against records to {f.day(new.source.last_sale)}"


def change_name(change: NumberChange) -> str:
    """Return what a change is of."""
    weight, month = f"{change.at:,.0f} lb", f.month_name(change.month, short=True) if change.month else ""
    names = {
        "slide": f"{change.sex} slide, {change.at - 50:,.0f}-{change.at + 50:,.0f} lb",
        "discount": f"{change.sex} discount, {weight}",
        "slide season": f"season of the slide, {month} at {weight}",
        "slide level": f"{change.sex} slide at higher prices, {weight}",
        "discount level": f"{change.sex} discount at higher prices",
        "grade": f"discount of grade {change.sex}",
        "grade slide": f"slide added by grade {change.sex}",
        "season": f"season, {f.month_name(int(change.at))}" if change.kind == "season" else "",
        "head": "price of twice the head",
        "noise": f"{change.sex} to {change.sex} spread" if change.sex != "slide" else "slide, sale to sale",
        "spread": f"spread, {change.at:.0f} months ahead",
    }
    return names.get(change.kind, "price, standard calf")


def block_name(block: BlockTest) -> str:
    """Return what a block of numbers is of."""
    names = {
        "slide": f"slide and discount of {block.sex}s", "slide season": "season of the slide",
        "level": "what higher prices do to slide and discount", "season": "season", "grade": "grades",
        "noise": "spread of lots, calves, sales", "head": "price of more head", "spread": "spread ahead",
    }  # fmt: skip
    return names[block.kind]


def change_value(change: NumberChange, value: float) -> str:
    """Return a value of a change in its unit."""
    if change.kind == "price":
        return f.price_cwt(value)
    return f"{value:.1f}" if change.kind == "season" else f.percent(value)


def moved_word(change: NumberChange) -> str:
    """Return the verdict on a change; a price moves with the market."""
    return "the market" if change.verdict is None else change.verdict


def because(change: NumberChange) -> str:
    """Return why a change has its verdict, in words with its figures."""
    low, high = f.money(change.head_low, sign=True), f.money(change.head_high, sign=True)
    if change.verdict is None:
        return "prices move with the market"
    if change.verdict == "steady":
        return f"within {f.money(change.margin)} a head: {low} to {high}"
    if change.verdict == "can't tell":
        return f"anything from {low} to {high} a head fits the records"
    years = " and ".join(f"{_years(one)} ({f.money(one.head, sign=True)})" for one in change.because)
    return f"by about {f.money(change.head, sign=True)} a head" + (
        f", most of it from {years}" if years else ""
    )


def _years(one: Influence) -> str:
    year = f"crop year {one.crop_year}-{(one.crop_year + 1) % 100:02d}"
    return f"new sales of {year}" if one.late else year


def moved_line(moved: Sequence[NumberChange], judged: int) -> str:
    """Return how many moved, and the largest."""
    if not moved:
        return f"None of {judged} numbers moved more than chance would explain."
    largest = max(moved, key=lambda change: abs(change.head))
    return f"{len(moved)} of {judged} numbers moved; the largest: {change_name(largest)}, {because(largest)}."


def verdicts_line(changes: Sequence[NumberChange]) -> str:
    """Return how many numbers got which verdict, and what steady means."""
    told = [change.verdict for change in changes if change.verdict is not None]
    margin = f.money(changes[0].margin) if changes else "$0"
    unsure = sum(verdict == "can't tell" for verdict in told)
    steady = f"Steady (within {margin} a head): {told.count('steady')}"
    return f"Moved: {told.count('moved')}. {steady}. Can't tell: {unsure}."


def errors_line(changes: Sequence[NumberChange]) -> str:
    """Return what the verdicts rest on."""
    by_file = sum(1 for change in changes if change.by == "file" and change.verdict is not None)
    if not by_file:
        return "Judged by refitting old and new records; crop years in both cancel."
    if by_file == sum(1 for change in changes if change.verdict is not None):
        return "Judged by the files' own standard errors: fewer than four old crop years are here to refit."
    return f"Judged by refitting old and new records; {by_file} numbers by the files' own standard errors."


def fed_line(fed_by: Sequence[MarketSpan], kin: Sequence[MarketSpan]) -> str:
    """Return which markets feed an update, and which newer ones may be the same barn."""
    fed = f.listed(
        [f"{span.market or NAMELESS} ({f.count(span.records)} to {f.day(span.last_sale)})" for span in fed_by]
    )
    line = f"Markets used: {fed}." if fed_by else ""
    if kin:
        others = f.listed([f"{span.market or NAMELESS} ({f.count(span.records)})" for span in kin])
        line += (
            f" Not used: {others}, newer and perhaps the same barn; if so, give both one name in the book."
        )
    return line


def number_name(where: tuple[str | int, ...]) -> str:
    """Return what a number of a region's file is, by its place there.

    >>> number_name(("price", "seen_cwt", 1)), number_name(("season", "jan", 1)), number_name(("noise", "lot_pct"))
    ('price seen_cwt, the highest', 'season jan, its standard error', 'noise lot_pct')
    """
    name, last = " ".join(str(step) for step in where if isinstance(step, str)), where[-1]
    if isinstance(last, str):
        return name
    if "slide_season" in where or "slide_more" in where:
        return f"{name} at {SEASON_AT_LB[last]:g} lb"
    if str(where[-2]).startswith("seen_"):
        return f"{name}, the {('lowest', 'highest')[last]}"
    if where[0] in ("basis", "forecast"):
        return f"{name} {last + 1}"
    return f"{name}, its standard error" if last == 1 else name


def edit_line(edit: HandEdit) -> str:
    """Return a number set by hand against the fitted one; its range is the adviser's."""
    return (
        f"{sentences.capital(number_name(edit.where))}: {edit.value:g}, set by hand on {f.day(edit.on)} "
        f"(fitted {edit.fitted:g}); its range is up to whoever set it."
    )
