"""What is said of futures, and of odds that were said and came: sentences and documents."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from slidefit.report import formatting as f
from slidefit.report.document import Column, Document, TypedTable, document, notes, table

if TYPE_CHECKING:
    from slidefit.futures_contracts import FuturesQuote
    from slidefit.market.futures import FuturesView
    from slidefit.market.past_record import PastRecord
    from slidefit.records.futures_book import QuotesAdded
    from slidefit.records.futures_quotes import QuoteFile

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
SHOWN_REJECTED = 5
SET_ASIDE = {
    "too_old": "The futures of {day} were not used: they are more than 60 days older than the last sale.",
    "short_basis": "The futures of {day} were not used: how local prices lie against futures is not known yet. It "
    "takes a year of past settlements beside your sales, or a region's file with its basis.",
    "expired": "The futures of {day} were not used: every contract among them has ended.",
}
SHARE_WORDS = (
    (0.45, 0.55, "Half"),
    (0.2, 0.3, "A quarter"),
    (0.7, 0.8, "Three quarters"),
    (0.98, 1.0, "All"),
)
REJECTED = {
    "contract": "not a contract month",
    "date": "not a day",
    "price": "not a settlement",
    "expired": "the day lies after the contract's month, or years before it",
}


def contract_name(contract: str) -> str:
    """Return a contract's month as people say it.

    >>> contract_name("2027-01")
    'Jan 2027'
    """
    return f"{MONTHS[int(contract[5:]) - 1]} {contract[:4]}"


def share_words(share: float) -> str:
    """Return a share in words where it has some, else in percent.

    >>> share_words(0.5), share_words(0.62)
    ('Half', '62 percent')
    """
    return next(
        (words for low, high, words in SHARE_WORDS if low <= share <= high), f"{share:.0%}"[:-1] + " percent"
    )


def futures_line(view: FuturesView) -> str:
    """Return what futures do to the expected prices, in a sentence or two.

    >>> from datetime import date
    >>> from slidefit.market.futures import FuturesView
    >>> view = FuturesView(date(2026, 11, 4), (("2027-01", 332.1), ("2027-03", 331.4)), 0.5, np.full(12, 0.031))
    >>> futures_line(view)[:82]
    'Half of the expected price is from futures of Nov 4, 2026: Jan 332.10, Mar 331.40;'
    >>> futures_line(view)[82:]
    ' basis +3.1% in January, +3.1% in March at 750 lb.'
    """
    if view.set_aside:
        return SET_ASIDE[view.set_aside].format(day=f.day(view.as_of))
    quoted = ", ".join(f"{MONTHS[int(name[5:]) - 1]} {price:.2f}" for name, price in view.contracts)
    months = sorted({name[5:]: name for name, _ in view.contracts[:2]}.values())
    basis = ", ".join(
        f"{100.0 * np.expm1(view.basis_log[int(name[5:]) - 1]):+.1f}% in {f.month_name(int(name[5:]))}"
        for name in months
    )
    return (
        f"{share_words(view.share)} of the expected price is from futures of {f.day(view.as_of)}: {quoted}; "
        f"basis {basis} at {view.weight_lb:,.0f} lb."
    )


def _came_near(record: PastRecord) -> list[tuple[float, float, float, int]]:
    """Return each band of odds said at one to three months [percent], how often keeping gained, and of how many."""
    near = [row for row in record.said_came if row.months <= 3]
    bands = sorted({(row.said_low, row.said_high) for row in near})
    rows = [(low, high, [row for row in near if row.said_low == low]) for low, high in bands]
    return [
        (low, high, sum(r.decisions * r.came_pct for r in some) / 100.0, sum(r.decisions for r in some))
        for low, high, some in rows
    ]


def said_came_near(record: PastRecord, odds: float) -> str:
    """Return how often odds such as these came in the past, in a few words."""
    for low, high, came, count in _came_near(record):
        if low <= 100.0 * odds <= high:
            return f"At odds like these keeping paid {came:.0f} of {count} times."
    return "Past odds, and how often keeping paid."


def said_came_line(record: PastRecord) -> str:
    """Return how past odds came out at one to three months, in a sentence; where it is from stands with it."""
    parts = [
        f"{came:.0f} of {count} times at odds near {0.5 * (low + high):.0f}%"
        for low, high, came, count in _came_near(record)
    ]
    if not parts:
        return ""
    where = (
        "In your records"
        if record.source == "records"
        else f"Your records are too short for this; in {record.source}"
    )
    return (
        f"{where}, {record.first_month} to {record.last_month}: calves were kept one to three months. Keeping paid "
        f"{'; '.join(parts)}. Months in a row share most of the same market, and one market's record proves nothing."
    )


def past_and_futures(record: PastRecord | None, view: FuturesView | None) -> tuple[str, ...]:
    """Return the sentences on past odds and on futures, those that there are."""
    said = (said_came_line(record) if record else "", futures_line(view) if view else "")
    return tuple(line for line in said if line)


def said_came_table(record: PastRecord) -> TypedTable:
    """Return the odds that were said and how often keeping gained, by months ahead."""
    lows = sorted({(row.said_low, row.said_high) for row in record.said_came})
    columns = [Column("Ahead", "count"), Column("Forecasts", "count")]
    columns += [Column(f"Odds {low:.0f} to {high:.0f}%", "whole_percent") for low, high in lows]
    found = {(row.months, row.said_low): row for row in record.said_came}
    rows = [
        [float(months), float(found[months, lows[0][0]].decisions)]
        + [found[months, low].came_pct for low, _ in lows]
        for months in sorted({row.months for row in record.said_came})
    ]
    caption = "How often keeping paid, by the odds given; good odds come true as often as the middle of their range."
    return table("Odds given, and how often keeping paid", columns, rows, caption=caption)


def quotes_content(quotes: Sequence[FuturesQuote], newest: Sequence[FuturesQuote]) -> Document:
    """Return the newest contracts of the book, and how many quotes of what days it holds."""
    if not quotes:
        return document("The book holds no futures yet.")
    held = f"{f.count(len(quotes))} settlements from {f.day(quotes[0].as_of)} to {f.day(quotes[-1].as_of)}."
    rows = [(contract_name(quote.contract), quote.settlement_cwt, quote.as_of) for quote in newest]
    columns: list[Column | str] = [
        "Contract",
        Column("Settlement, $/cwt", "bare_cents"),
        Column("As of", "day"),
    ]
    return document(table("Feeder cattle futures", columns, rows), held)


def quotes_added_content(read: QuoteFile, added: QuotesAdded) -> Document:
    """Return the account of an addition of quotes."""
    rejected = [f"row {row.row} was not read ({REJECTED[row.reason]}): {row.text}" for row in read.rejected]
    more = len(rejected) - SHOWN_REJECTED
    span = f"{f.day(added.first)} to {f.day(added.last)}"
    return document(
        f"{f.count(added.added)} settlements added, {f.count(added.already_there)} there already, "
        f"{f.count(added.rejected)} rows not read; {len(added.contracts)} contracts, {span}.",
        f"{f.count(added.corrected)} of them replace an earlier settlement." if added.corrected else "",
        f"{f.count(read.repeated)} rows told a settlement again; the last one counts."
        if read.repeated
        else "",
        "The prices were read as dollars a pound." if read.unit == "lb" else "",
        *notes([*rejected[:SHOWN_REJECTED], *([f"and {more} more rows"] if more > 0 else [])]),
        f"Batch {added.batch}; fit again to use them."
        if added.batch
        else "Nothing new: the book is as it was.",
    )
