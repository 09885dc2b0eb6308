"""SaleBook, BookTable, AddResult, BookSummary."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb
import pandas as pd

from slidefit.errors import BookError
from slidefit.records.book_merge import merge
from slidefit.records.book_schema import insert_query, opened
from slidefit.records.columns import COLUMN_NAMES, TEXT_COLUMNS
from slidefit.records.result import ReadResult, as_tidy


@dataclass(frozen=True)
class BookTable:
    """Records of a book: of some markets (any part of the name, capitals ignored) and days if asked.

    Attributes
    ----------
    path : Path
    markets : tuple of str
        Empty for all.
    since, until : date or None
    order : str
        SQL that puts the rows of one sale in order, the same every time.
    """

    path: Path
    markets: tuple[str, ...] = ()
    since: date | None = None
    until: date | None = None
    order: str = "batch, source_row, sex, weight_lb"

    @contextmanager
    def opened(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Give a connection that holds the records as ``tidy``; the book is only read.

        Raises
        ------
        BookError
            There is no book, it can't be read, or no record is of such a market.
        """
        with opened(self.path, write=False) as connection:
            connection.execute(f"CREATE TEMP VIEW tidy AS SELECT * FROM sales {self._where()}")
            if self.markets and not connection.execute("SELECT 1 FROM tidy LIMIT 1").fetchall():
                raise _no_such_market(self, connection)
            yield connection

    def _where(self) -> str:
        tests = []
        if self.markets:
            named = (f"contains(lower(market), lower({_quoted(market)}))" for market in self.markets)
            tests.append(f"({' OR '.join(named)})")
        for day, sign in ((self.since, ">="), (self.until, "<=")):
            if day is not None:
                tests.append(f"sale_date {sign} DATE '{day:%Y-%m-%d}'")
        return f"WHERE {' AND '.join(tests)}" if tests else ""


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _no_such_market(table: BookTable, connection: duckdb.DuckDBPyConnection) -> BookError:
    found = connection.execute("SELECT DISTINCT market FROM sales ORDER BY market").fetchall()
    return BookError(
        f"no record is of a market named like {', '.join(table.markets)}",
        where=str(table.path),
        remedy=f"The book holds: {'; '.join(str(row[0]) for row in found) or 'nothing'}.",
    )


_COLUMNS = ", ".join(COLUMN_NAMES)
BATCH_LETTERS = 6


@dataclass(frozen=True)
class AddResult:
    """What an addition did: rows seen = added + already_there + set_aside; ``corrected`` rows are among the added."""

    batch: str
    added: int
    already_there: int
    set_aside: int
    corrected: int
    reasons: dict[str, int]


@dataclass(frozen=True)
class BatchInfo:
    """One addition to the book."""

    batch: str
    added_at: datetime
    files: tuple[str, ...]
    records: int
    corrected: int
    set_aside: int


@dataclass(frozen=True)
class MarketInfo:
    """One place of sale in the book; ``gaps`` are the months (YYYY-MM) without a sale between first and last."""

    market: str
    currency: str
    records: int
    head: float
    sales: int
    first: date
    last: date
    gaps: tuple[str, ...]


@dataclass(frozen=True)
class BookSummary:
    """What the book holds; ``counts`` has a row for each market, year and sex."""

    path: Path
    records: int
    markets: tuple[MarketInfo, ...]
    batches: tuple[BatchInfo, ...]
    counts: pd.DataFrame


class SaleBook:
    """A sale book at a path; it need not exist before the first addition.

    Parameters
    ----------
    path : path of the DuckDB file, by default ``sales.duckdb`` in the current folder
    """

    def __init__(self, path: str | Path = "sales.duckdb") -> None:
        self.path = Path(path)

    def add(self, read: ReadResult, progress: Callable[[int], None] | None = None) -> AddResult:
        """Add what was read as one batch: wholly or not at all, and no sale twice.

        Raises
        ------
        BookError
            The book is busy, not ours, or can't be written; it is then as it was before.
        """
        added = already = corrected = superseded = 0
        with opened(self.path, write=True, create=True) as connection:
            known = connection.execute(
                "SELECT batch FROM batches WHERE fingerprint = ? ORDER BY added_at", [read.fingerprint]
            ).fetchall()
            batch = _batch_name(connection, read.fingerprint)
            for part in read.parts:
                merged = merge(connection, part.spool, batch)
                added += merged.added
                already += merged.already_there
                corrected += merged.corrected
                superseded += merged.superseded
                if progress is not None:
                    progress(added + already + superseded)
            aside = read.rows_seen - read.accepted + superseded
            if added:
                values = [
                    batch,
                    datetime.now(UTC).replace(tzinfo=None),
                    "\n".join(part.file for part in read.parts),
                    read.fingerprint,
                    added,
                    already,
                    corrected,
                    aside,
                ]
                connection.execute("INSERT INTO batches VALUES (?, ?, ?, ?, ?, ?, ?, ?)", values)
            else:
                batch = str(known[0][0]) if known else ""
        reasons = Counter(read.reasons)
        if superseded:
            reasons["superseded"] += superseded
        return AddResult(batch, added, already, aside, corrected, dict(sorted(reasons.items())))

    def undo(self, batch: str) -> int:
        """Take a batch out of the book again, and put back the rows that it had corrected; return how many rows went.

        Raises
        ------
        BookError
            There is no such batch, or the book can't be written.
        """
        with opened(self.path, write=True) as connection:
            if connection.execute("SELECT 1 FROM batches WHERE batch = ?", [batch]).fetchone() is None:
                known = ", ".join(
                    str(row[0])
                    for row in connection.execute("SELECT batch FROM batches ORDER BY added_at").fetchall()
                )
                raise BookError(
                    f"there is no batch {batch!r}",
                    where=str(self.path),
                    remedy=f"The batches are: {known}." if known else "The book holds no batch.",
                )
            gone = connection.execute("SELECT count(*) FROM sales WHERE batch = ?", [batch]).fetchone()
            connection.execute(
                "DELETE FROM lots WHERE label IN (SELECT label FROM labels WHERE batch = ?)", [batch]
            )
            connection.execute("DELETE FROM labels WHERE batch = ?", [batch])
            connection.execute("DELETE FROM replaced WHERE batch = ?", [batch])
            insert_query(connection, f"SELECT {_COLUMNS} FROM replaced WHERE replaced_by = ?", [batch])
            connection.execute("DELETE FROM replaced WHERE replaced_by = ?", [batch])
            connection.execute("DELETE FROM batches WHERE batch = ?", [batch])
        return int(gone[0]) if gone else 0

    def table(
        self, markets: Sequence[str] | None = None, since: date | None = None, until: date | None = None
    ) -> BookTable:
        """Return the tidy records as a table to be read where it lies; of some markets and days as in `records`."""
        return BookTable(self.path, tuple(markets or ()), since, until)

    def records(
        self, markets: Sequence[str] | None = None, since: date | None = None, until: date | None = None
    ) -> pd.DataFrame:
        """Return the tidy records, of some markets (any part of the name, capitals ignored) and days if asked.

        Raises
        ------
        BookError
            There is no book, it can't be read, or no record is of such a market.
        """
        table = self.table(markets, since, until)
        with table.opened() as connection:
            frame = connection.execute(
                f"SELECT {_COLUMNS} FROM tidy ORDER BY sale_date, market, {table.order}"
            ).df()
        return as_tidy(frame)

    def summary(self) -> BookSummary:
        """Return what the book holds, by market, year and sex, with its batches and gaps.

        Raises
        ------
        BookError
            There is no book or it can't be read.
        """
        with opened(self.path, write=False) as connection:
            counts = connection.execute(
                "SELECT market, currency, year(sale_date) AS year, sex, count(*) AS records, sum(head) AS "
                "head FROM sales GROUP BY ALL ORDER BY market, currency, year, sex"
            ).df()
            markets = connection.execute(
                "SELECT market, currency, count(*), coalesce(sum(head), 0), count(DISTINCT sale_date), "
                "min(sale_date), max(sale_date), list(DISTINCT strftime(sale_date, '%Y-%m')) FROM sales "
                "GROUP BY market, currency ORDER BY market"
            ).fetchall()
            batches = connection.execute(
                "SELECT b.batch, b.added_at, b.files, (SELECT count(*) FROM sales s WHERE s.batch = "
                "b.batch), b.corrected, b.set_aside FROM batches b ORDER BY b.added_at"
            ).fetchall()
        counts = counts.astype({"market": "str", "currency": "str", "sex": "str"})
        infos = tuple(
            MarketInfo(
                row[0],
                row[1],
                row[2],
                float(row[3]),
                row[4],
                row[5],
                row[6],
                _gaps(row[5], row[6], set(row[7])),
            )
            for row in markets
        )
        batch_infos = tuple(
            BatchInfo(row[0], row[1], tuple(str(row[2]).split("\n")), row[3], row[4], row[5])
            for row in batches
        )
        return BookSummary(self.path, sum(info.records for info in infos), infos, batch_infos, counts)

    def export(self, path: str | Path) -> int:
        """Write all records to a .csv or .parquet file; return how many.

        In CSV a text that begins with = + - or @ gets an apostrophe before it, so that no spreadsheet runs it.

        Raises
        ------
        BookError
            There is no book, or the file can't be written or is of another kind.
        """
        target = Path(path)
        kind = target.suffix.lower()
        if kind not in (".csv", ".parquet"):
            raise BookError(
                f"can't write a {kind or 'nameless'} file",
                where=str(target),
                remedy="Name a file that ends in .csv or .parquet.",
            )
        if not target.parent.is_dir():
            raise BookError("the folder does not exist", where=str(target), remedy="Make the folder first.")
        inert = ", ".join(
            f"CASE WHEN regexp_matches({name}, '^[=+@\\-\\t\\r]') THEN '''' || {name} ELSE {name} END "
            f"AS {name}"
            if kind == ".csv" and name in TEXT_COLUMNS
            else name
            for name in COLUMN_NAMES
        )
        form = "FORMAT csv, HEADER" if kind == ".csv" else "FORMAT parquet"
        with (
            opened(self.path, write=False) as connection,
            tempfile.TemporaryDirectory(dir=target.parent, prefix=".slidefit-") as folder,
        ):
            part = Path(folder) / f"export{kind}"
            quoted = str(part).replace("'", "''")
            row = connection.execute(
                f"COPY (SELECT {inert} FROM sales ORDER BY sale_date, market, batch, source_row) TO "
                f"'{quoted}' ({form})"
            ).fetchone()
            part.replace(target)
        return int(row[0]) if row else 0


def _batch_name(connection: duckdb.DuckDBPyConnection, fingerprint: str) -> str:
    """Return a short name for a batch that the book does not hold yet; the same content gives the same name."""
    base = f"b{fingerprint[:BATCH_LETTERS]}"
    taken = {str(row[0]) for row in connection.execute("SELECT batch FROM batches").fetchall()}
    if base not in taken:
        return base
    return next(name for number in range(2, len(taken) + 3) if (name := f"{base}-{number}") not in taken)


def _gaps(first: date, last: date, seen: set[str]) -> tuple[str, ...]:
    """Return the months without a sale from the first to the last."""
    months = (
        f"{month // 12:04d}-{month % 12 + 1:02d}"
        for month in range(first.year * 12 + first.month - 1, last.year * 12 + last.month)
    )
    return tuple(month for month in months if month not in seen)
