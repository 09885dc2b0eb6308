"""The records of a sale book, or some of them, as a table that is read where it lies."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import duckdb

from slidefit.errors import BookError
from slidefit.records.book_schema import opened


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
