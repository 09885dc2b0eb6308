"""SaleBook, BookTable, BookSummary."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import duckdb

from slidefit.errors import BookError
from slidefit.files import pieces_of, write_pieces
from slidefit.futures_contracts import FuturesQuote
from slidefit.public_result import PublicResult
from slidefit.records.book.book_file import BookExistsError, new_book, opened, run, spill_folder
from slidefit.records.columns import COLUMN_NAMES, TEXT_COLUMNS

if TYPE_CHECKING:  # what adds to a book and reads files brings pandas with it; a look at a book does without
    import pandas as pd

    from slidefit.records.book.book_batches import AddResult
    from slidefit.records.futures_book import QuotesAdded
    from slidefit.records.futures_quotes import QuoteFile
    from slidefit.records.result import ReadResult


@dataclass(frozen=True)
class BookTable:
    """Records of a book: of some markets (any part of the name, capitals ignored) and days if asked.

    Attributes
    ----------
    markets : tuple of str
        Empty for all.
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
                raise _no_such_market(self.path, f"like {', '.join(self.markets)}", connection)
            yield connection

    @property
    def query(self) -> str:
        """SQL that gives the records of an opened table in their order."""
        return f"SELECT {_COLUMNS} FROM tidy ORDER BY sale_date, market, {self.order}"

    def _where(self) -> str:
        tests = []
        if self.markets:
            named = (f"contains(lower(market), lower({_quoted(market)}))" for market in self.markets)
            tests.append(f"({' OR '.join(named)})")
        for day, sign in ((self.since, ">="), (self.until, "<=")):
            if day is not None:
                tests.append(f"sale_date {sign} DATE '{day:%Y-%m-%d}'")
        return f"WHERE {' AND '.join(tests)}" if tests else ""


Markets = str | Sequence[str] | None


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _no_such_market(path: Path, named: str, connection: duckdb.DuckDBPyConnection) -> BookError:
    found = connection.execute("SELECT DISTINCT market FROM sales ORDER BY market").fetchall()
    return BookError(
        f"no record is of a market named {named}",
        where=str(path),
        remedy=f"The book holds: {'; '.join(str(row[0]) or '(no name)' for row in found) or 'nothing'}.",
    )


_COLUMNS = ", ".join(COLUMN_NAMES)
_COUNTED = {
    "market": "market", "currency": "currency", "year": "year(sale_date) AS year", "sex": "sex",
    "records": "count(*) AS records", "head": "sum(head) AS head",
}  # fmt: skip
_COUNTS = (
    f"SELECT {', '.join(_COUNTED.values())} FROM sales GROUP BY ALL ORDER BY market, currency, year, sex"
)
_EXPORTS = {".csv": "FORMAT csv, HEADER", ".parquet": "FORMAT parquet"}
LONGEST_NAME = 100  # of a market, so that it fits a table's cell


@dataclass(frozen=True)
class BatchInfo:
    """One addition to the book, or one renaming of a market (``renamed``: old name, new name)."""

    batch: str
    added_at: datetime
    files: tuple[str, ...]
    records: int
    corrected: int
    set_aside: int
    renamed: tuple[str, str] | None = None


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


@dataclass(frozen=True, repr=False)
class BookSummary(PublicResult):
    """What the book holds; ``count_rows`` has a row for each market, year and sex."""

    path: Path
    records: int
    markets: tuple[MarketInfo, ...]
    batches: tuple[BatchInfo, ...]
    count_rows: tuple[dict[str, Any], ...]

    @property
    def counts(self) -> pd.DataFrame:
        """Return the counts as a frame."""
        import pandas as pd

        kinds = dict.fromkeys(("market", "currency", "sex"), "str")
        return pd.DataFrame(list(self.count_rows), columns=list(_COUNTED)).astype(kinds)


class SaleBook(PublicResult):
    """A sale book at a path; it need not exist before the first addition.

    Parameters
    ----------
    path : path of the DuckDB file, by default ``sales.duckdb`` in the current folder
    """

    def __init__(self, path: str | Path = "sales.duckdb") -> None:
        self.path = Path(path)
        self._reading: ExitStack | None = None

    def add(self, read: ReadResult, progress: Callable[[int], None] | None = None) -> AddResult:
        """Add what was read as one batch, with the cards of its sources: wholly or not at all, and no sale twice.

        Raises
        ------
        BookError
            The book is busy, not ours, or can't be written; it is then as it was before.
        """
        from slidefit.records.book.book_batches import add_batch
        from slidefit.records.source_book import put_cards

        while True:
            try:
                with self._writable() as connection:
                    added = add_batch(connection, read, progress)
                    put_cards(connection, read.cards)
                    return added
            except BookExistsError:
                continue  # another program made the book meanwhile: add to that one

    def add_quotes(self, read: QuoteFile) -> QuotesAdded:
        """Add quotes of futures as one batch: wholly or not at all; a later settlement of a day replaces an earlier.

        Raises
        ------
        BookError
            The book is busy, not ours, or can't be written; it is then as it was before.
        """
        from slidefit.records.futures_book import add_quotes

        with self._writable() as connection:
            return add_quotes(connection, read)

    def quotes(self) -> tuple[FuturesQuote, ...]:
        """Return the quotes of futures, by day and contract.

        Raises
        ------
        BookError
            There is no book or it can't be read.
        """
        from slidefit.records.futures_book import counted_quotes

        with opened(self.path, write=False) as connection:
            return counted_quotes(connection)

    def _writable(self) -> AbstractContextManager[duckdb.DuckDBPyConnection]:
        return opened(self.path, write=True, create=True) if self.path.exists() else new_book(self.path)

    def undo(self, batch: str) -> int:
        """Take a batch out of the book again; return how many records went, or got their market's old name back.

        The book is then what the batches left give in their order: rows that the batch had corrected come back, and
        so do rows of other batches that it had made superfluous.

        Raises
        ------
        BookError
            There is no such batch, or the book can't be written.
        """
        from slidefit.records.book.book_batches import undo_batch

        with opened(self.path, write=True) as connection:
            return undo_batch(connection, batch, self.path)

    def rename_market(self, old: str, new: str) -> tuple[str, int]:
        """Call a market by another name, now and in later additions; sales told under both names become one.

        Returns
        -------
        tuple of str and int
            The batch, by which it can be undone, and how many records changed the name of their market.

        Raises
        ------
        BookError
            No record is of a market of that name, the new name is blank or the same, or the book can't be written.
        """
        from slidefit.records.book.book_batches import enter_name

        name = " ".join(new.split())
        if not name or name == old or len(name) > LONGEST_NAME:
            raise BookError(
                f"{new[:LONGEST_NAME]!r} can't be the new name of {old!r}",
                where=str(self.path),
                remedy=f"Give another name, of 1 to {LONGEST_NAME} characters.",
            )
        with opened(self.path, write=True) as connection:
            if not run(connection, "SELECT 1 FROM sales WHERE market = ? LIMIT 1", [old]):
                raise _no_such_market(self.path, repr(old), connection)
            return enter_name(connection, old, name)

    def table(
        self, market: Markets = None, since: date | str | None = None, until: date | str | None = None
    ) -> BookTable:
        """Return the tidy records as a table to be read where it lies; of some markets and days as in `records`."""
        named = (market,) if isinstance(market, str) else tuple(market or ())
        first, last = (date.fromisoformat(day) if isinstance(day, str) else day for day in (since, until))
        return BookTable(self.path, named, first, last)

    def records(
        self, market: Markets = None, since: date | str | None = None, until: date | str | None = None
    ) -> pd.DataFrame:
        """Return the tidy records as a frame.

        Parameters
        ----------
        market : str or sequence of str, optional
            Any part of the names wanted, capitals ignored.
        since, until : date or str (YYYY-MM-DD), optional
            The first and the last day wanted.

        Raises
        ------
        BookError
            There is no book, it can't be read, or no record is of such a market.
        """
        from slidefit.records.result import as_tidy

        table = self.table(market, since, until)
        with table.opened() as connection:
            return as_tidy(connection.execute(table.query).df())

    def relation(
        self, market: Markets = None, since: date | str | None = None, until: date | str | None = None
    ) -> duckdb.DuckDBPyRelation:
        """Return the same records as a DuckDB relation, to be asked further within ``with book:``.

        Raises
        ------
        BookError
            As in `records`, or the book is not open.
        """
        if self._reading is None:
            raise BookError(
                "a relation lives while the book is open",
                where=str(self.path),
                remedy="Write: with book: book.relation(...)",
            )
        table = self.table(market, since, until)
        return self._reading.enter_context(table.opened()).sql(table.query)

    def __enter__(self) -> Self:
        self._reading = ExitStack()
        return self

    def __exit__(self, *fault: object) -> None:
        reading, self._reading = self._reading, None
        if reading is not None:
            reading.close()

    def summary(self) -> BookSummary:
        """Return what the book holds, by market, year and sex, with its batches and gaps.

        Raises
        ------
        BookError
            There is no book or it can't be read.
        """
        with opened(self.path, write=False) as connection:
            counts = run(connection, _COUNTS)
            markets = run(
                connection,
                "SELECT market, currency, count(*), coalesce(sum(head), 0.0), count(DISTINCT sale_date), "
                "min(sale_date), max(sale_date), list(DISTINCT strftime(sale_date, '%Y-%m')) FROM sales "
                "GROUP BY market, currency ORDER BY market",
            )
            batches = run(
                connection,
                "SELECT b.batch, b.added_at, string_split(nullif(b.files, ''), chr(10)), "
                "(SELECT count(*) FROM sales s WHERE s.batch = b.batch) + "
                "(SELECT count(*) FROM kept_quotes q WHERE q.batch = b.batch), b.corrected, b.set_aside, "
                "b.market_from, b.market_to FROM additions b ORDER BY b.added_at",
            )
        rows = tuple(dict(zip(_COUNTED, row, strict=True)) for row in counts)
        infos = tuple(
            MarketInfo(name, money, records, head, sales, first, last, _gaps(first, last, set(days)))
            for name, money, records, head, sales, first, last, days in markets
        )
        batch_infos = tuple(
            BatchInfo(name, at, tuple(files or ()), lots, fixed, aside, (old, new) if new else None)
            for name, at, files, lots, fixed, aside, old, new in batches
        )
        return BookSummary(self.path, sum(info.records for info in infos), infos, batch_infos, rows)

    def export(self, path: str | Path) -> int:
        """Write all records to a .csv or .parquet file, whole or not at all; return how many.

        In CSV a text that begins with = + - or @ gets an apostrophe before it, so that no spreadsheet runs it.

        Raises
        ------
        BookError
            There is no book, it can't be read, or the file is to be of another kind.
        OutputError
            The file can't be written.
        """
        target = Path(path)
        kind = target.suffix.lower()
        if kind not in _EXPORTS:
            raise BookError(
                f"can't write a {kind or 'nameless'} file",
                where=str(target),
                remedy="Name a file that ends in .csv or .parquet.",
            )
        inert = ", ".join(
            f"CASE WHEN regexp_matches({name}, '^[=+@\\-\\t\\r]') THEN '''' || {name} ELSE {name} END "
            f"AS {name}"
            if kind == ".csv" and name in TEXT_COLUMNS
            else name
            for name in COLUMN_NAMES
        )
        part = spill_folder() / f"{secrets.token_hex(8)}{kind}"
        try:
            with opened(self.path, write=False) as connection:
                ((rows,),) = run(
                    connection,
                    f"COPY (SELECT {inert} FROM sales ORDER BY sale_date, market, batch, source_row) TO "
                    f"{_quoted(str(part))} ({_EXPORTS[kind]})",
                )
            write_pieces(target, pieces_of(part))
        finally:
            part.unlink(missing_ok=True)
        return int(rows)


def _gaps(first: date, last: date, seen: set[str]) -> tuple[str, ...]:
    months = (
        f"{month // 12:04d}-{month % 12 + 1:02d}"
        for month in range(first.year * 12 + first.month - 1, last.year * 12 + last.month)
    )
    return tuple(month for month in months if month not in seen)
