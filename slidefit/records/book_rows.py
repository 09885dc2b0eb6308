"""Rows into the tables of the sale book, which hold the texts of a record once for each combination."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa

from slidefit.records.book_schema import LABEL_COLUMNS, LOT_COLUMNS
from slidefit.records.coded import IntArray

GROUP_ROWS = 122_880  # rows that the book stores together; batches of this size are written side by side
ROWS_AT_ONCE = 1_000_000
_LABELS = ", ".join(LABEL_COLUMNS)
_LOTS = ", ".join(LOT_COLUMNS)
_OF_FRAME = tuple(name for name in LABEL_COLUMNS if name != "batch")
_ROOM = 1 << 62


def insert_frames(connection: duckdb.DuckDBPyConnection, frames: Iterable[pd.DataFrame], batch: str) -> None:
    """Add tidy records to the book as they are, under a batch."""
    query = f"SELECT label, {', '.join(_OF_FRAME)} FROM labels WHERE batch = ?"
    known = {tuple(texts): int(label) for label, *texts in connection.execute(query, [batch]).fetchall()}
    first = connection.execute("SELECT coalesce(max(label) + 1, 0) FROM labels").fetchall()[0][0]
    held = set(known)
    waiting: list[pa.RecordBatch] = []
    for frame in frames:
        codes, texts = _combinations(frame)
        numbers = [known.setdefault(each, first + len(known) - len(held)) for each in texts]
        label = np.array(numbers, dtype=np.int32)[codes]
        columns = {"label": label, **{name: frame[name].to_numpy() for name in LOT_COLUMNS}}
        columns["sale_date"] = columns["sale_date"].astype(
            "datetime64[s]"
        )  # files on the disk hold finer ones
        table = pa.Table.from_pandas(pd.DataFrame(columns, copy=False), preserve_index=False)
        waiting += table.to_batches(max_chunksize=GROUP_ROWS)
        if sum(part.num_rows for part in waiting) >= ROWS_AT_ONCE:
            _insert_lots(connection, waiting)
            waiting = []
    _insert_lots(connection, waiting)
    fresh = [(label, *texts, batch) for texts, label in known.items() if texts not in held]
    if fresh:
        connection.register("fresh_labels", pd.DataFrame(fresh, columns=["label", *_OF_FRAME, "batch"]))
        connection.execute(f"INSERT INTO labels SELECT label, {_LABELS} FROM fresh_labels").fetchall()
        connection.unregister("fresh_labels")


def _combinations(frame: pd.DataFrame) -> tuple[IntArray, list[tuple[str, ...]]]:
    """Return the number of each row's combination of texts, and the texts of each combination."""
    texts = {name: frame[name].astype("category").cat for name in _OF_FRAME}
    keys, room = np.zeros(len(frame), dtype=np.int64), 1
    for column in texts.values():
        size = max(len(column.categories), 1)
        if room > _ROOM // size:
            keys, distinct = pd.factorize(keys)
            room = len(distinct)
        keys, room = keys * size + column.codes.to_numpy(), room * size
    codes, distinct = pd.factorize(keys)
    examples = np.zeros(len(distinct), dtype=np.int64)
    examples[codes[::-1]] = np.arange(len(codes))[::-1]
    each = [
        column.categories.to_numpy(dtype=object)[column.codes.to_numpy()[examples]]
        for column in texts.values()
    ]
    return codes, list(zip(*each, strict=True))


def _insert_lots(connection: duckdb.DuckDBPyConnection, batches: Sequence[pa.RecordBatch]) -> None:
    """Add numbers whose texts are known by their label."""
    if not batches:
        return
    connection.register("fresh_lots", pa.Table.from_batches(list(batches)))
    connection.execute(f"INSERT INTO lots SELECT label, {_LOTS} FROM fresh_lots").fetchall()
    connection.unregister("fresh_lots")


def insert_query(connection: duckdb.DuckDBPyConnection, query: str, values: Sequence[object] = ()) -> None:
    """Add the records that a query gives, in any order of the columns of a record."""
    connection.execute(f"CREATE TEMP TABLE arriving AS {query}", list(values)).fetchall()
    connection.execute(
        f"INSERT INTO labels SELECT (SELECT coalesce(max(label), -1) FROM labels) + row_number() OVER (), {_LABELS} "
        f"FROM (SELECT DISTINCT {_LABELS} FROM arriving) ANTI JOIN labels USING ({_LABELS})"
    ).fetchall()
    connection.execute(
        f"INSERT INTO lots SELECT label, {_LOTS} FROM arriving JOIN labels USING ({_LABELS})"
    ).fetchall()
    connection.execute("DROP TABLE temp.arriving").fetchall()
