"""Futures quotes in the sale book: a batch of them enters whole, the latest batch's settlement of a day counts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import TYPE_CHECKING

import duckdb

from slidefit.futures_contracts import FuturesQuote
from slidefit.records.book.book_file import run

COUNTED = (
    "SELECT contract, as_of, arg_max(settlement_cwt, place) AS settlement_cwt FROM kept_quotes "
    "JOIN additions_in_order USING (batch) GROUP BY contract, as_of"
)

if TYPE_CHECKING:
    from slidefit.records.futures_quotes import QuoteFile  # which brings all readers with it


@dataclass(frozen=True)
class QuotesAdded:
    """What an addition of quotes did; ``corrected`` are among the added, ``batch`` is empty where nothing was new."""

    batch: str
    added: int
    already_there: int
    corrected: int
    rejected: int
    contracts: tuple[str, ...]
    first: date
    last: date


def counted_quotes(connection: duckdb.DuckDBPyConnection) -> tuple[FuturesQuote, ...]:
    """Return the quotes that count, by day and contract."""
    rows = run(
        connection, f"SELECT contract, settlement_cwt, as_of FROM ({COUNTED}) ORDER BY as_of, contract"
    )
    return tuple(FuturesQuote(contract, float(price), day) for contract, price, day in rows)


def add_quotes(connection: duckdb.DuckDBPyConnection, read: QuoteFile) -> QuotesAdded:
    """Add what was read as one batch, inside one transaction; a file that holds nothing new leaves none."""
    known = {(quote.contract, quote.as_of): quote.settlement_cwt for quote in counted_quotes(connection)}
    before = [known.get((quote.contract, quote.as_of)) for quote in read.quotes]
    same = sum(price == quote.settlement_cwt for price, quote in zip(before, read.quotes, strict=True))
    corrected = sum(price is not None for price in before) - same
    added = len(read.quotes) - same
    batch = ""
    if added:
        from slidefit.records.book.book_batches import batch_name, enter  # which brings pandas with it

        fingerprint = sha256(repr(read.quotes).encode()).hexdigest()
        batch = batch_name(connection, fingerprint)
        rows = [(quote.contract, quote.as_of, quote.settlement_cwt, batch) for quote in read.quotes]
        connection.executemany("INSERT INTO futures VALUES (?, ?, ?, ?)", rows)
        enter(connection, fingerprint, read.name, (added, same, corrected, len(read.rejected)))
    days = [quote.as_of for quote in read.quotes]
    contracts = tuple(sorted({quote.contract for quote in read.quotes}))
    return QuotesAdded(batch, added, same, corrected, len(read.rejected), contracts, min(days), max(days))
