"""Adding records to the book without adding a sale twice: what is there already, what is a correction, what is new."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import pyarrow as pa

from slidefit.records.book_schema import insert_frames, insert_query
from slidefit.records.columns import COLUMN_NAMES
from slidefit.records.result import SpillBuffer

REPORTED_AGAIN_SHARE = 0.5
_CLASS = ("sale_date", "market", "sex", "frame", "muscle", "head_key", "weight_lb", "traits", "currency")
_CLASS_KEY = ", ".join(_CLASS)
_COLUMNS = ", ".join(COLUMN_NAMES)
_SAME_CLASS = " AND ".join(f"a.{name} = b.{name}" for name in _CLASS)
_TEMPORARY = ("incoming", "fresh", "in_book", "gone", "sale_overlap", "pairs")
_OF_BOOK = "*, coalesce(head, -1) AS head_key"


@dataclass(frozen=True)
class Merged:
    """Rows added (corrections among them), already there, corrected, and superseded by a final row in the book."""

    added: int
    already_there: int
    corrected: int
    superseded: int


def _count(connection: duckdb.DuckDBPyConnection, query: str) -> int:
    """Return the one number that a query gives."""
    row = connection.execute(query).fetchone()
    return int(row[0]) if row else 0


def merge(connection: duckdb.DuckDBPyConnection, spool: SpillBuffer, batch: str) -> Merged:
    """Add the tidy records of one file to the book, inside the caller's transaction.

    For rows equal in date, place, sex, grade, head, weight, traits, money and price, the book keeps as many as the
    richest file held. A row equal in all but the price replaces the book's row when the file tells that sale again
    (at least half of the sale's rows in the book come with it), or when the class is the only one of its kind on both
    sides and is more than one head; the old row is kept aside for undo.
    """
    if spool.days is None:
        return Merged(0, 0, 0, 0)
    overlap = connection.execute(
        "SELECT 1 FROM lots WHERE sale_date BETWEEN ? AND ? LIMIT 1", list(spool.days)
    ).fetchone()
    if overlap is None:
        insert_frames(connection, spool, batch)
        return Merged(spool.rows, 0, 0, 0)
    connection.execute(
        f"CREATE TEMP TABLE incoming AS SELECT {_COLUMNS}, coalesce(head, -1) AS head_key FROM sales LIMIT 0"
    )
    for frame in spool:
        connection.register("incoming_frame", pa.Table.from_pandas(frame, preserve_index=False))
        connection.execute(
            f"INSERT INTO incoming SELECT {_selected(batch)}, coalesce(head, -1) FROM incoming_frame"
        ).fetchall()
        connection.unregister("incoming_frame")
    merged = _merged_with_overlap(connection, batch, spool.rows)
    for name in _TEMPORARY:
        connection.execute(f"DROP TABLE IF EXISTS temp.{name}")
    return merged


def _selected(batch: str) -> str:
    """Return the column list of an insert, the batch put in."""
    return ", ".join(
        f"'{batch}' AS batch"
        if name == "batch"
        else name
        if name != "sale_date"
        else "sale_date::DATE AS sale_date"
        for name in COLUMN_NAMES
    )


def _merged_with_overlap(connection: duckdb.DuckDBPyConnection, batch: str, rows: int) -> Merged:
    """Merge where the book already holds sales of those days."""
    run = connection.execute
    run(
        f"CREATE TEMP TABLE in_book AS SELECT *, row_number() OVER (PARTITION BY {_CLASS_KEY}, "
        f"price_cwt ORDER BY source_row, book_row) AS nth FROM "
        f"(SELECT {_OF_BOOK} FROM book_rows) b SEMI JOIN incoming i ON b.sale_date = i.sale_date AND "
        f"b.market = i.market"
    )
    run(
        f"CREATE TEMP TABLE fresh AS SELECT i.* FROM (SELECT *, row_number() OVER (PARTITION BY "
        f"{_CLASS_KEY}, price_cwt ORDER BY source_row) AS nth FROM incoming) i "
        f"LEFT JOIN in_book b ON {_SAME_CLASS.replace('a.', 'i.')} AND i.price_cwt = b.price_cwt "
        f"AND i.nth = b.nth WHERE b.book_row IS NULL"
    )
    already = rows - _count(connection, "SELECT count(*) FROM fresh")
    superseded = _drop_superseded(connection)
    corrected = _correct(connection, batch)
    added = _count(connection, "SELECT count(*) FROM fresh")
    insert_query(connection, f"SELECT {_COLUMNS} FROM fresh")
    return Merged(added, already, corrected, superseded)


def _drop_superseded(connection: duckdb.DuckDBPyConnection) -> int:
    """Leave out preliminary rows whose final row is already in the book."""
    condition = (
        f"contains(a.flags, 'preliminary') AND EXISTS (SELECT 1 FROM in_book b WHERE {_SAME_CLASS} "
        f"AND NOT contains(b.flags, 'preliminary'))"
    )
    superseded = _count(connection, f"SELECT count(*) FROM fresh a WHERE {condition}")
    if superseded:
        connection.execute(f"DELETE FROM fresh a WHERE {condition}")
    return superseded


def _correct(connection: duckdb.DuckDBPyConnection, batch: str) -> int:
    """Move the book's rows that come again with another price to ``replaced``; return how many."""
    run = connection.execute
    run(
        f"CREATE TEMP TABLE gone AS SELECT b.*, row_number() OVER (PARTITION BY {_CLASS_KEY} ORDER "
        f"BY source_row, book_row) AS turn FROM in_book b "
        f"ANTI JOIN (SELECT *, row_number() OVER (PARTITION BY {_CLASS_KEY}, price_cwt ORDER BY "
        f"source_row) AS nth FROM incoming) a ON {_SAME_CLASS} AND a.price_cwt = b.price_cwt AND "
        f"a.nth = b.nth"
    )
    run(
        "CREATE TEMP TABLE sale_overlap AS SELECT sale_date, market, 1 - count(g.book_row) / "
        "count(*) AS share FROM in_book b LEFT JOIN gone g USING (sale_date, market, book_row) "
        "GROUP BY ALL"
    )
    run(
        f"CREATE TEMP TABLE pairs AS SELECT b.book_row FROM (SELECT *, row_number() OVER (PARTITION "
        f"BY {_CLASS_KEY} ORDER BY source_row) AS turn, count(*) OVER (PARTITION BY {_CLASS_KEY}) "
        f"AS many FROM fresh) a "
        f"JOIN (SELECT *, count(*) OVER (PARTITION BY {_CLASS_KEY}) AS many FROM gone) b ON "
        f"{_SAME_CLASS} AND a.turn = b.turn "
        "JOIN sale_overlap s ON s.sale_date = b.sale_date AND s.market = b.market "
        f"WHERE s.share >= {REPORTED_AGAIN_SHARE} OR (a.many = 1 AND b.many = 1 AND a.market <> '' "
        f"AND (a.head IS NULL OR a.head >= 2)) "
        "OR contains(b.flags, 'preliminary')"
    )
    corrected = _count(connection, "SELECT count(*) FROM pairs")
    if corrected:
        run(
            f"INSERT INTO replaced SELECT {_COLUMNS}, '{batch}' FROM book_rows WHERE "
            f"book_row IN (SELECT book_row FROM pairs)"
        )
        run("DELETE FROM lots WHERE rowid IN (SELECT book_row FROM pairs)")
    return corrected
