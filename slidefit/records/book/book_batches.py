"""Batches of a sale book: an addition or a renaming of a market enters as one, and can be undone in any order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from hashlib import sha256
from pathlib import Path

import duckdb
import numpy as np

from slidefit.errors import BookError
from slidefit.public_result import PublicResult
from slidefit.records.book.book_file import run
from slidefit.records.book.book_merge import Merged, forget, merge, name_again, renames, take_out
from slidefit.records.columns import COLUMN_NAMES
from slidefit.records.result import ReadPart, ReadResult, RejectedRows, SpillBuffer, as_tidy
from slidefit.records.sale_levels import LevelsSeen, OffSale, book_levels, rows_of_sales

# as a file of one's own would tell the row; with its flags it would be taken for an export, judged before
_AS_READ = [name for name in COLUMN_NAMES if name not in ("flags", "batch", "source_row", "date_precision")]
# a gap is longer than three sales missed in a row at the market's usual step (a choice of ours)
GAP_STEPS, FEWEST_SALES = 4.0, 6
_GAPS = (
    "WITH days AS (SELECT market, sale_date AS day, bool_or(batch = ?) AS fresh FROM sales GROUP BY ALL), steps AS "
    "(SELECT *, lag(day) OVER own AS before, fresh OR lag(fresh) OVER own AS touched FROM days WINDOW own AS "
    "(PARTITION BY market ORDER BY day)), usual AS (SELECT market, median(day - before) AS step FROM steps "
    f"GROUP BY market HAVING count(*) >= {FEWEST_SALES}) SELECT market, before, day, CAST(step AS INTEGER) FROM steps "
    f"JOIN usual USING (market) WHERE touched AND day - before > {GAP_STEPS} * step ORDER BY ALL"
)
BATCH_LETTERS = 6  # 16 million names: two of a book's batches never meet by chance


@dataclass(frozen=True)
class SaleGap:
    """Days without a sale of a market, from one sale to the next, where sales are ``usual_days`` apart."""

    market: str
    last: date
    next: date
    usual_days: int


@dataclass(frozen=True, repr=False)
class AddResult(PublicResult):
    """What an addition did: rows seen = added + already_there + set_aside; ``corrected`` rows are among the added.

    ``renamed`` has the markets of the addition that go by another name in the book: name read -> name in the book.
    ``off`` are the sales that were set aside whole, because their level is far from the book's sales around them;
    ``aside`` has their rows. ``gaps`` are long times without a sale beside the new sales.
    """

    batch: str
    added: int
    already_there: int
    set_aside: int
    corrected: int
    reasons: dict[str, int]
    renamed: dict[str, str]
    off: tuple[OffSale, ...] = ()
    aside: tuple[RejectedRows, ...] = ()
    gaps: tuple[SaleGap, ...] = ()


def add_batch(
    connection: duckdb.DuckDBPyConnection, read: ReadResult, progress: Callable[[int], None] | None = None
) -> AddResult:
    """Add what was read, inside one transaction."""
    known = run(
        connection, "SELECT batch FROM batches WHERE fingerprint = ? ORDER BY place", [read.fingerprint]
    )
    batch, names = batch_name(connection, read.fingerprint), renames(connection)
    total = Merged()
    off: list[OffSale] = []
    aside_rows: list[RejectedRows] = []
    for number, part in enumerate(read.parts):
        spool, found, rows = _without_off(connection, part)
        off += found
        aside_rows += [rows] if found else []
        total += merge(connection, spool, batch, number, names)
        if progress is not None:
            progress(total.added + total.already_there + total.superseded)
    markets = "SELECT DISTINCT market_read, market FROM labels WHERE batch = ? AND market_read <> market"
    renamed = dict(run(connection, markets, [batch]))
    off_rows = read.accepted - total.added - total.already_there - total.superseded
    aside = read.rows_seen - read.accepted + total.superseded + off_rows
    gaps: tuple[SaleGap, ...] = ()
    if total.added:
        gaps = tuple(SaleGap(*row) for row in run(connection, _GAPS, [batch]))
        files = "\n".join(part.file for part in read.parts)
        enter(connection, read.fingerprint, files, (total.added, total.already_there, total.corrected, aside))
    else:  # nothing of it counts, so there is nothing to undo either
        forget(connection, batch)
        batch = str(known[0][0]) if known else ""
    reasons = Counter(read.reasons)
    if total.superseded:
        reasons["superseded"] += total.superseded
    if off_rows:
        reasons["sale_level"] += off_rows
    return AddResult(
        batch,
        total.added,
        total.already_there,
        aside,
        total.corrected,
        dict(sorted(reasons.items())),
        renamed,
        tuple(off),
        tuple(aside_rows),
        gaps,
    )


def _without_off(
    connection: duckdb.DuckDBPyConnection, part: ReadPart
) -> tuple[SpillBuffer, list[OffSale], RejectedRows]:
    """Return the records without the sales whose level is far from the book's sales around them; those; their rows."""
    spool, aside = part.spool, RejectedRows(part.file)
    around = book_levels(connection, spool.days) if spool.days is not None else None
    if around is None or around.empty:
        return spool, [], aside
    levels = LevelsSeen()
    for frame in spool:
        levels.see(frame)
    off = levels.off(around)
    if not off:
        return spool, [], aside
    kept = SpillBuffer()
    for frame in spool:
        gone = rows_of_sales([frame], off)
        kept.put(frame[~gone].reset_index(drop=True))
        cells = as_tidy(frame[gone].reset_index(drop=True))
        rows = cells["source_row"].to_numpy(dtype=np.int64)
        aside.put(
            cells[_AS_READ].astype("str").replace("nan", "").astype("category"),
            {},
            ["sale_level"] * len(cells),
            rows,
        )
    return kept, off, aside


def undo_batch(connection: duckdb.DuckDBPyConnection, batch: str, path: Path) -> int:
    """Take a batch out, inside one transaction; see `SaleBook.undo`.

    Raises
    ------
    BookError
        There is no such batch.
    """
    found = run(connection, "SELECT market_to FROM batches WHERE batch = ?", [batch])
    if not found:
        known = ", ".join(str(row[0]) for row in run(connection, "SELECT batch FROM batches ORDER BY place"))
        raise BookError(
            f"there is no batch {batch!r}",
            where=str(path),
            remedy=f"The batches are: {known}." if known else "The book holds no batch.",
        )
    gone = take_out(connection, batch)
    return name_again(connection) if found[0][0] else gone


def enter_name(connection: duckdb.DuckDBPyConnection, old: str, new: str) -> tuple[str, int]:
    """Call a market by another name, inside one transaction; return the batch and how many records changed."""
    batch = enter(connection, sha256(f"{old}\n{new}".encode()).hexdigest(), renamed=(old, new))
    return batch, name_again(connection)


def enter(
    connection: duckdb.DuckDBPyConnection,
    fingerprint: str,
    files: str = "",
    counts: tuple[int, int, int, int] = (0, 0, 0, 0),
    renamed: tuple[str, str] = ("", ""),
) -> str:
    """Enter a batch after the others; return its name."""
    batch = batch_name(connection, fingerprint)
    run(
        connection,
        "INSERT INTO batches SELECT coalesce(max(place), 0) + 1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ? FROM batches",
        [batch, datetime.now(UTC).replace(tzinfo=None), files, fingerprint, *counts, *renamed],
    )
    return batch


def batch_name(connection: duckdb.DuckDBPyConnection, fingerprint: str) -> str:
    """Return a short name for a batch that the book does not hold yet; the same content gives the same name."""
    base = f"b{fingerprint[:BATCH_LETTERS]}"
    taken = {str(row[0]) for row in run(connection, "SELECT batch FROM batches")}
    if base not in taken:
        return base
    return next(name for number in range(2, len(taken) + 3) if (name := f"{base}-{number}") not in taken)
