"""What was read, and what the book holds, as JSON documents."""

from __future__ import annotations

from typing import Any

from slidefit.records.book import AddResult, BookSummary
from slidefit.records.result import ReadResult


def add_document(read: ReadResult, added: AddResult | None) -> dict[str, Any]:
    """Return the account of an addition, or with ``added`` None of a reading that added nothing.

    ``added`` + ``already_there`` + ``set_aside`` is the number of rows seen; ``reasons`` counts the rows set aside.
    """
    counts: dict[str, Any] = (
        {"added": 0, "already_there": 0, "set_aside": read.set_aside_rows, "corrected": 0, "batch": None}
        if added is None
        else {
            "added": added.added,
            "already_there": added.already_there,
            "set_aside": added.set_aside,
            "corrected": added.corrected,
            "batch": added.batch or None,
        }
    )
    return {
        **counts,
        "reasons": dict(added.reasons) if added else read.reasons,
        "rows_seen": read.rows_seen,
        "accepted": read.accepted,
        "files": [
            {
                "file": account.name,
                "rows_seen": account.rows_seen,
                "accepted": account.accepted,
                "set_aside": account.set_aside,
                "columns": [
                    {"heading": c.heading, "field": c.field, "unit": c.unit, "how": c.how}
                    for c in account.columns
                ],
            }
            for account in read.files
        ],
        "notes": list(read.notes),
    }


def book_document(summary: BookSummary) -> dict[str, Any]:
    """Return what a book holds: markets with their gaps, batches, and counts by market, year and sex."""
    return {
        "book": str(summary.path),
        "records": summary.records,
        "markets": [
            {
                "market": m.market,
                "currency": m.currency,
                "records": m.records,
                "head": m.head,
                "sales": m.sales,
                "first_sale": m.first.isoformat(),
                "last_sale": m.last.isoformat(),
                "months_without_sales": list(m.gaps),
            }
            for m in summary.markets
        ],
        "batches": [
            {
                "batch": b.batch,
                "added_at": b.added_at.isoformat(timespec="seconds"),
                "files": list(b.files),
                "records": b.records,
                "corrected": b.corrected,
                "set_aside": b.set_aside,
            }
            for b in summary.batches
        ],
        "counts": summary.counts.astype(object).where(summary.counts.notna(), None).to_dict(orient="records"),
    }
