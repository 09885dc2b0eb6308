"""What the terminal says of files read and of the sale book."""

from __future__ import annotations

from rich.console import RenderableType

from slidefit.records.book import AddResult, BookSummary
from slidefit.records.result import ReadResult
from slidefit.show import formatting as f
from slidefit.show.book_tables import add_account, counts_table, preview_table, reasons_table
from slidefit.show.tables import new_table, text_of

PREVIEW_COLUMNS = (
    "sale_date",
    "market",
    "sex",
    "frame",
    "muscle",
    "head",
    "weight_lb",
    "price_cwt",
    "traits",
    "flags",
)
MOST_FILES = 20
MOST_GAPS = 8


def add_text(read: ReadResult, added: AddResult, *, width: int = 100) -> str:
    """Return the account of an addition: counts, reasons, notes, and how to undo it."""
    parts: list[RenderableType] = [
        add_account(added.added, added.already_there, added.set_aside, added.reasons)
    ]
    if len(read.files) > 1:
        parts.append(_files_table(read))
    if added.corrected:
        parts.append(f"{f.count(added.corrected)} records came again with another price and were corrected.")
    parts += [f"Note: {note}" for note in read.notes]
    if added.batch:
        parts.append(f"Batch {added.batch}; to take it out again: slidefit undo {added.batch}")
    else:
        parts.append("Nothing new: the book is as it was.")
    return text_of(*parts, width=width)


def dry_run_text(read: ReadResult, *, width: int = 100) -> str:
    """Return how the files would be read: each column's meaning, the first rows, the rows set aside."""
    parts: list[RenderableType] = []
    for account in read.files[:MOST_FILES]:
        rows = [(c.heading, c.field, c.unit, c.how) for c in account.columns]
        columns = [("Heading", "left"), ("Read as", "left"), ("Unit", "left"), ("How it was decided", "left")]
        parts.append(new_table(account.name, columns, rows))
    parts.append(preview_table(read.first_rows(), list(PREVIEW_COLUMNS)))
    if read.reasons:
        parts.append(reasons_table(read.reasons))
    parts += [f"Note: {note}" for note in read.notes]
    parts.append(
        f"{f.count(read.rows_seen)} rows seen, {f.count(read.accepted)} would be read, "
        f"{f.count(read.set_aside_rows)} set aside. Nothing was added (--dry-run)."
    )
    return text_of(*parts, width=width)


def book_text(summary: BookSummary, *, width: int = 100) -> str:
    """Return what the book holds: markets and their gaps, counts by year and sex, batches."""
    markets = [
        (
            m.market or "(no name)",
            m.currency,
            f.count(m.records),
            f.count(m.head),
            f.count(m.sales),
            f.day(m.first),
            f.day(m.last),
        )
        for m in summary.markets
    ]
    columns = [
        ("Market", "left"), ("Currency", "left"), ("Lots", "right"), ("Head", "right"), ("Sales", "right"),
        ("First", "left"), ("Last", "left"),
    ]  # fmt: skip
    parts: list[RenderableType] = [
        new_table(f"{summary.path}: {f.count(summary.records)} records", columns, markets),
        counts_table(summary.counts, title="By market, year and sex"),
    ]
    for market in summary.markets:
        if market.gaps:
            more = f" and {len(market.gaps) - MOST_GAPS} more" if len(market.gaps) > MOST_GAPS else ""
            months = ", ".join(market.gaps[:MOST_GAPS])
            parts.append(f"{market.market or '(no name)'}: no sale in {months}{more}")
    batches = [
        (
            b.batch,
            b.added_at.strftime("%Y-%m-%d %H:%M"),
            f.count(b.records),
            f.count(b.set_aside),
            ", ".join(b.files),
        )
        for b in summary.batches
    ]
    headings = [
        ("Batch", "left"),
        ("Added", "left"),
        ("Lots", "right"),
        ("Set aside", "right"),
        ("Files", "left"),
    ]
    parts.append(new_table("Batches", headings, batches))
    return text_of(*parts, width=width)


def _files_table(read: ReadResult) -> RenderableType:
    rows = [
        (account.name, f.count(account.rows_seen), f.count(account.accepted), f.count(account.set_aside))
        for account in read.files[:MOST_FILES]
    ]
    if len(read.files) > MOST_FILES:
        rows.append((f"and {len(read.files) - MOST_FILES} more files", "", "", ""))
    columns = [("File", "left"), ("Rows", "right"), ("Read", "right"), ("Set aside", "right")]
    return new_table("File by file", columns, rows)
