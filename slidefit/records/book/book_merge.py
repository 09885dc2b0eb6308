"""Adding records to the book without adding a sale twice, and playing additions again when one is taken out.

A row of an addition is in ``lots`` while it counts, and in ``unused`` while another row stands in for it: one that was
there already, one that corrects it, or a final one. So the book always equals what the additions left give in their
order, each sale by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa

from slidefit.records.book.book_file import run
from slidefit.records.book.book_schema import LABEL_COLUMNS, LOT_COLUMNS
from slidefit.records.columns import COLUMN_NAMES, TextColumn, combined
from slidefit.records.result import SpillBuffer

REPORTED_AGAIN_SHARE = 0.5  # from half a sale's rows on, a file tells the whole sale again
FEWEST_HEAD_ALONE = 2  # single animals of one weight are too alike for one of them to correct another
ROWS_AT_ONCE = 1_000_000
_CLASS = ("sale_date", "market", "sex", "frame", "muscle", "head_key", "weight_lb", "traits", "currency")
_CLASS_KEY = ", ".join(_CLASS)
_COLUMNS = ", ".join(COLUMN_NAMES)
_LOTS = ", ".join(LOT_COLUMNS)
_SAME_CLASS = " AND ".join(f"a.{name} = b.{name}" for name in _CLASS)
_OF_FRAME = tuple(name for name in LABEL_COLUMNS if name != "batch")
_STEPS = ("incoming", "fresh", "in_book", "gone", "sale_overlap", "pairs")
_IN_ORDER = "source_row, price_cwt"
_IN_BOOK = (
    f"{_IN_ORDER}, place, label"  # of two additions the earlier first; the one under way has no place yet
)
_OWN = "label IN (SELECT label FROM labels WHERE batch = ?)"


@dataclass(frozen=True)
class Merged:
    """Rows added (corrections among them), already there, corrected, and superseded by a final row in the book."""

    added: int = 0
    already_there: int = 0
    corrected: int = 0
    superseded: int = 0

    def __add__(self, other: Merged) -> Merged:
        return Merged(*(mine + more for mine, more in zip(astuple(self), astuple(other), strict=True)))


def _count(connection: duckdb.DuckDBPyConnection, query: str, values: Sequence[object] = ()) -> int:
    return int(run(connection, query, values)[0][0])


def _drop(connection: duckdb.DuckDBPyConnection, tables: Iterable[str]) -> None:
    for name in tables:
        run(connection, f"DROP TABLE IF EXISTS temp.{name}")


def merge(
    connection: duckdb.DuckDBPyConnection, spool: SpillBuffer, batch: str, part: int, names: Mapping[str, str]
) -> Merged:
    """Add the tidy records of one file to the book, inside the caller's transaction.

    For rows equal in date, place, sex, grade, head, weight, traits, money and price, the book keeps as many as the
    richest file held. A row equal in all but the price replaces the book's row when the file tells that sale again
    (at least half of the sale's rows in the book come with it), or when the class is the only one of its kind on both
    sides and is more than one head; the old row is kept aside for undo.

    Parameters
    ----------
    part : int
        The place of the file among those of its addition.
    names : mapping of str
        Markets by the name that a file may give them, and what the book calls them.
    """
    if spool.days is None:
        return Merged()
    overlap = run(connection, "SELECT 1 FROM lots WHERE sale_date BETWEEN ? AND ? LIMIT 1", list(spool.days))
    if not overlap and not names:
        _insert(connection, spool, batch, part, names, "lots")
        return Merged(spool.rows)
    run(connection, "CREATE TEMP TABLE arrived AS SELECT * FROM lots LIMIT 0")
    _insert(connection, spool, batch, part, names, "arrived")
    merged = _merged(connection, batch)
    _drop(connection, ["arrived"])
    return merged


def _merged(connection: duckdb.DuckDBPyConnection, batch: str) -> Merged:
    """Merge the rows in ``arrived`` with the book's rows of the same sales."""
    run(
        connection,
        f"CREATE TEMP TABLE incoming AS SELECT row_number() OVER () AS arrival, label, {_COLUMNS}, coalesce(head, -1) "
        "AS head_key FROM arrived JOIN labels USING (label)",
    )
    run(
        connection,
        f"CREATE TEMP TABLE in_book AS SELECT *, row_number() OVER (PARTITION BY {_CLASS_KEY}, price_cwt ORDER BY "
        f"{_IN_BOOK}) AS nth FROM (SELECT {_COLUMNS}, place, label, coalesce(head, -1) AS head_key, lots.rowid AS "
        "book_row FROM lots JOIN labels USING (label) LEFT JOIN batches USING (batch)) b SEMI JOIN incoming i ON "
        "b.sale_date = i.sale_date AND b.market = i.market",
    )
    run(
        connection,
        f"CREATE TEMP TABLE fresh AS SELECT i.* FROM (SELECT *, row_number() OVER (PARTITION BY "
        f"{_CLASS_KEY}, price_cwt ORDER BY {_IN_ORDER}) AS nth FROM incoming) i "
        f"LEFT JOIN in_book b ON {_SAME_CLASS.replace('a.', 'i.')} AND i.price_cwt = b.price_cwt "
        f"AND i.nth = b.nth WHERE b.book_row IS NULL",
    )
    already = _count(connection, "SELECT (SELECT count(*) FROM incoming) - (SELECT count(*) FROM fresh)")
    superseded = _drop_superseded(connection)
    corrected = _correct(connection, batch)
    added = _count(connection, "SELECT count(*) FROM fresh")
    run(
        connection,
        f"INSERT INTO unused SELECT label, {_LOTS}, '' FROM incoming ANTI JOIN fresh USING (arrival)",
    )
    run(connection, f"INSERT INTO lots SELECT label, {_LOTS} FROM fresh")
    _drop(connection, _STEPS)
    return Merged(added, already, corrected, superseded)


def _drop_superseded(connection: duckdb.DuckDBPyConnection) -> int:
    """Leave out preliminary rows whose final row is already in the book."""
    condition = (
        f"contains(a.flags, 'preliminary') AND EXISTS (SELECT 1 FROM in_book b WHERE {_SAME_CLASS} "
        f"AND NOT contains(b.flags, 'preliminary'))"
    )
    superseded = _count(connection, f"SELECT count(*) FROM fresh a WHERE {condition}")
    if superseded:
        run(connection, f"DELETE FROM fresh a WHERE {condition}")
    return superseded


def _correct(connection: duckdb.DuckDBPyConnection, batch: str) -> int:
    """Move the book's rows that come again with another price to ``unused``; return how many."""
    run(
        connection,
        f"CREATE TEMP TABLE gone AS SELECT b.*, row_number() OVER (PARTITION BY {_CLASS_KEY} ORDER "
        f"BY {_IN_BOOK}) AS turn FROM in_book b "
        f"ANTI JOIN (SELECT *, row_number() OVER (PARTITION BY {_CLASS_KEY}, price_cwt ORDER BY "
        f"{_IN_ORDER}) AS nth FROM incoming) a ON {_SAME_CLASS} AND a.price_cwt = b.price_cwt AND "
        f"a.nth = b.nth",
    )
    run(
        connection,
        "CREATE TEMP TABLE sale_overlap AS SELECT sale_date, market, 1 - count(g.book_row) / "
        "count(*) AS share FROM in_book b LEFT JOIN gone g USING (sale_date, market, book_row) "
        "GROUP BY ALL",
    )
    run(
        connection,
        f"CREATE TEMP TABLE pairs AS SELECT b.book_row FROM (SELECT *, row_number() OVER (PARTITION "
        f"BY {_CLASS_KEY} ORDER BY {_IN_ORDER}) AS turn, count(*) OVER (PARTITION BY {_CLASS_KEY}) "
        f"AS many FROM fresh) a "
        f"JOIN (SELECT *, count(*) OVER (PARTITION BY {_CLASS_KEY}) AS many FROM gone) b ON "
        f"{_SAME_CLASS} AND a.turn = b.turn "
        "JOIN sale_overlap s ON s.sale_date = b.sale_date AND s.market = b.market "
        f"WHERE s.share >= {REPORTED_AGAIN_SHARE} OR (a.many = 1 AND b.many = 1 AND a.market <> '' "
        f"AND (a.head IS NULL OR a.head >= {FEWEST_HEAD_ALONE})) "
        "OR contains(b.flags, 'preliminary')",
    )
    corrected = _count(connection, "SELECT count(*) FROM pairs")
    if corrected:
        run(
            connection,
            f"INSERT INTO unused SELECT label, {_LOTS}, ? FROM lots WHERE rowid IN (SELECT book_row FROM pairs)",
            [batch],
        )
        run(connection, "DELETE FROM lots WHERE rowid IN (SELECT book_row FROM pairs)")
    return corrected


def take_out(connection: duckdb.DuckDBPyConnection, batch: str) -> int:
    """Take an addition out of the book and play the others again in its sales; return how many records went."""
    gone = _count(connection, f"SELECT count(*) FROM lots WHERE {_OWN}", [batch])
    gone += _count(connection, "SELECT count(*) FROM futures WHERE batch = ?", [batch])
    run(
        connection,
        "CREATE TEMP TABLE touched AS SELECT DISTINCT sale_date, market FROM (SELECT label, sale_date FROM lots "
        "UNION ALL SELECT label, sale_date FROM unused) JOIN labels USING (label) WHERE batch = ?",
        [batch],
    )
    forget(connection, batch)
    _play_again(connection)
    return gone


def forget(connection: duckdb.DuckDBPyConnection, batch: str) -> None:
    """Delete an addition with all its rows, those that count and those that don't."""
    for table in ("lots", "unused"):
        run(connection, f"DELETE FROM {table} WHERE {_OWN}", [batch])
    for table in ("labels", "futures"):
        run(connection, f"DELETE FROM {table} WHERE batch = ?", [batch])
    run(connection, "DELETE FROM batches WHERE batch = ?", [batch])


def renames(connection: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Return what the book calls the markets that were renamed, by the name that files give them."""
    names: dict[str, str] = {}
    query = "SELECT market_from, market_to FROM batches WHERE market_to <> '' ORDER BY place"
    for before, after in run(connection, query):
        names = {read: after if name == before else name for read, name in names.items()}
        names.setdefault(before, after)
    return names


def name_again(connection: duckdb.DuckDBPyConnection) -> int:
    """Give every record the name that the renamings left give its market; return how many records changed it."""
    names = renames(connection)
    run(connection, "CREATE TEMP TABLE named (market_read VARCHAR, name VARCHAR)")
    for pair in names.items():
        run(connection, "INSERT INTO named VALUES (?, ?)", list(pair))
    run(
        connection,
        "CREATE TEMP TABLE changed AS SELECT label, market AS old_name, coalesce(name, market_read) AS new_name "
        "FROM labels LEFT JOIN named USING (market_read) WHERE market <> new_name",
    )
    rows = "(SELECT label, sale_date FROM lots UNION ALL SELECT label, sale_date FROM unused)"
    run(
        connection,
        f"CREATE TEMP TABLE touched AS SELECT sale_date, old_name AS market FROM {rows} JOIN changed USING (label) "
        f"UNION SELECT sale_date, new_name FROM {rows} JOIN changed USING (label)",
    )
    records = _count(connection, "SELECT count(*) FROM lots SEMI JOIN changed USING (label)")
    run(connection, "UPDATE labels SET market = c.new_name FROM changed c WHERE labels.label = c.label")
    _drop(connection, ["named", "changed"])
    _play_again(connection)
    return records


def _play_again(connection: duckdb.DuckDBPyConnection) -> None:
    """Merge the additions that are left again, in their order, in the sales of ``touched``; the table is then gone."""
    every = f"SELECT label, {_LOTS} FROM lots UNION ALL SELECT label, {_LOTS} FROM unused"
    run(
        connection,
        f"CREATE TEMP TABLE again AS SELECT r.*, market, batch, place, part FROM ({every}) r JOIN labels USING (label) "
        "JOIN batches USING (batch) SEMI JOIN touched t ON r.sale_date = t.sale_date AND labels.market = t.market",
    )
    for table in ("lots", "unused"):
        run(
            connection,
            f"DELETE FROM {table} WHERE rowid IN (SELECT r.rowid FROM {table} r JOIN labels USING (label) SEMI JOIN "
            "touched t ON r.sale_date = t.sale_date AND labels.market = t.market)",
        )
    run(
        connection,
        "CREATE TEMP TABLE told_once AS SELECT sale_date, market FROM again GROUP BY ALL "
        "HAVING count(DISTINCT (place, part)) = 1",
    )
    run(
        connection,
        f"INSERT INTO lots SELECT label, {_LOTS} FROM again SEMI JOIN told_once USING (sale_date, market)",
    )
    run(
        connection,
        "DELETE FROM again WHERE (sale_date, market) IN (SELECT (sale_date, market) FROM told_once)",
    )
    order = run(connection, "SELECT DISTINCT place, part, batch FROM again ORDER BY place, part")
    for place, part, batch in order:
        run(
            connection,
            f"CREATE TEMP TABLE arrived AS SELECT label, {_LOTS} FROM again WHERE place = ? AND part = ?",
            [place, part],
        )
        _merged(connection, batch)
        _drop(connection, ["arrived"])
    _drop(connection, ["again", "told_once", "touched"])


def _insert(
    connection: duckdb.DuckDBPyConnection,
    frames: Iterable[pd.DataFrame],
    batch: str,
    part: int,
    names: Mapping[str, str],
    table: str,
) -> None:
    """Add tidy records to a table of lots as they are, and their texts to ``labels``."""
    first = _count(connection, "SELECT coalesce(max(label) + 1, 0) FROM labels")
    known: dict[tuple[str, ...], int] = {}
    waiting: list[pa.Table] = []
    for frame in frames:
        texts = [TextColumn.held(frame[name]) for name in _OF_FRAME]
        codes, examples = combined(texts)
        combinations = zip(*(column.take(examples).texts() for column in texts), strict=True)
        numbers = [known.setdefault(each, first + len(known)) for each in combinations]
        columns = {"label": np.array(numbers, dtype=np.int32)[codes]}
        columns |= {name: frame[name].to_numpy() for name in LOT_COLUMNS}
        columns["sale_date"] = columns["sale_date"].astype("datetime64[D]")
        waiting.append(pa.table({name: pa.array(each, from_pandas=True) for name, each in columns.items()}))
        if sum(map(len, waiting)) >= ROWS_AT_ONCE:
            _insert_lots(connection, waiting, table)
            waiting = []
    _insert_lots(connection, waiting, table)
    if known:
        labels = pd.DataFrame(list(known), columns=list(_OF_FRAME))
        labels = labels.assign(
            label=list(known.values()), batch=batch, part=part, market_read=labels["market"]
        )
        labels["market"] = [names.get(market, market) for market in labels["market"]]
        connection.register("fresh_labels", labels)
        run(connection, "INSERT INTO labels BY NAME SELECT * FROM fresh_labels")
        connection.unregister("fresh_labels")


def _insert_lots(connection: duckdb.DuckDBPyConnection, tables: list[pa.Table], table: str) -> None:
    """Add numbers whose texts are known by their label."""
    if not tables:
        return
    connection.register("fresh_lots", pa.concat_tables(tables))
    run(connection, f"INSERT INTO {table} SELECT label, {_LOTS} FROM fresh_lots")
    connection.unregister("fresh_lots")
