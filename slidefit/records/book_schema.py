"""The book's tables, the check before a file is opened, rows in and out."""

from __future__ import annotations

import re
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa

from slidefit.errors import BookError
from slidefit.facts import Setting, Text
from slidefit.records.columns import COLUMN_NAMES, RECORD_COLUMNS, TEXT_COLUMNS, IntArray

SCHEMA_VERSION = 2
LOCK_SECONDS = 20.0
LOCK_PAUSE_SECONDS = 0.2
MEMORY_LIMIT = "1500MB"
_DISK_FAULTS = (duckdb.OperationalError, duckdb.InternalError, duckdb.FatalException)
_CONFIG = {
    "memory_limit": MEMORY_LIMIT,
    "autoinstall_known_extensions": "false",
}
_LOCKED = re.compile(r"\block\b|used by another process|different configuration", re.IGNORECASE)
_TYPES = {"date": "DATE", "text": "VARCHAR NOT NULL", "number": "DOUBLE", "whole": "BIGINT NOT NULL"}
_DECLARED = {column.name: f"{column.name} {_TYPES[column.kind]}" for column in RECORD_COLUMNS}
LABEL_COLUMNS = TEXT_COLUMNS
LOT_COLUMNS = tuple(name for name in COLUMN_NAMES if name not in LABEL_COLUMNS)
_COLUMNS = ", ".join(COLUMN_NAMES)
_RECORD_TABLES = (
    # the texts of records repeat: each combination stands once in labels, and a lot holds its number
    f"CREATE TABLE labels (label INTEGER NOT NULL, {', '.join(_DECLARED[name] for name in LABEL_COLUMNS)})",
    f"CREATE TABLE lots (label INTEGER NOT NULL, {', '.join(_DECLARED[name] for name in LOT_COLUMNS)})",
    f"CREATE VIEW sales AS SELECT {_COLUMNS} FROM lots JOIN labels USING (label)",
    f"CREATE VIEW book_rows AS SELECT {_COLUMNS}, lots.rowid AS book_row FROM lots JOIN labels USING (label)",
)
_CREATE = (
    "CREATE TABLE slidefit_book (schema_version INTEGER NOT NULL)",
    f"INSERT INTO slidefit_book VALUES ({SCHEMA_VERSION})",
    *_RECORD_TABLES,
    f"CREATE TABLE replaced ({', '.join(_DECLARED.values())}, replaced_by VARCHAR NOT NULL)",
    "CREATE TABLE batches (batch VARCHAR NOT NULL, added_at TIMESTAMP NOT NULL, files VARCHAR "
    "NOT NULL, fingerprint VARCHAR NOT NULL, added BIGINT NOT NULL, already_there BIGINT NOT "
    "NULL, corrected BIGINT NOT NULL, set_aside BIGINT NOT NULL)",
)
_LABELS = ", ".join(LABEL_COLUMNS)
# a book of version 1 held every record whole in a table called sales; it is read as it is, and brought up when written
_FROM_VERSION_1 = (
    "ALTER TABLE sales RENAME TO before",
    *_RECORD_TABLES,
    f"INSERT INTO labels SELECT row_number() OVER () - 1, {_LABELS} FROM (SELECT DISTINCT {_LABELS} FROM before)",
    f"INSERT INTO lots SELECT label, {', '.join(LOT_COLUMNS)} FROM before JOIN labels USING ({_LABELS})",
    "DROP TABLE before",
    f"UPDATE slidefit_book SET schema_version = {SCHEMA_VERSION}",
)


def check_file(path: Path, *, must_exist: bool) -> None:
    """Refuse a path that can't be a sale book, before anything opens it.

    Raises
    ------
    BookError
        The file or its folder is missing, is a folder, or is no DuckDB file.
    """
    if path.is_dir():
        raise BookError(
            "is a folder, not a sale book", where=str(path), remedy="Name a file, such as sales.duckdb."
        )
    if not path.exists():
        if must_exist:
            raise BookError(
                "there is no sale book here", where=str(path), remedy="Add records first: slidefit add FILE."
            )
        if not path.parent.is_dir():
            raise BookError(
                "the folder for the sale book does not exist",
                where=str(path),
                remedy=Text("Make the folder, or name another with ", Setting("path"), "."),
            )
        return
    try:
        with path.open("rb") as file:
            head = file.read(12)
    except OSError as fault:
        raise BookError(
            f"can't be read ({fault.strerror})", where=str(path), remedy="Check who may read the file."
        ) from fault
    if head and head[8:12] != b"DUCK":
        raise BookError(
            "is not a sale book; it was left as it is",
            where=str(path),
            remedy=Text("Name another file with ", Setting("path"), "."),
        )


def _connected(path: Path, *, read_only: bool) -> duckdb.DuckDBPyConnection:
    """Open the file; wait a while for another program that holds it."""
    until = time.monotonic() + LOCK_SECONDS
    while True:
        try:
            connection = duckdb.connect(str(path), read_only=read_only, config=dict(_CONFIG))
            connection.execute("SET enable_progress_bar = false")  # nothing but our own words may be printed
            if not read_only:  # rows are told apart by source_row, never by their place
                connection.execute("SET preserve_insertion_order = false")
            return connection
        except duckdb.Error as fault:
            locked = _LOCKED.search(str(fault)) is not None
            if not locked:
                raise BookError(
                    f"can't be opened as a sale book ({_first_line(fault)})",
                    where=str(path),
                    remedy="If it is damaged, restore a copy; the file was left as it is.",
                ) from fault
            if time.monotonic() > until:
                raise BookError(
                    "another program is using the sale book",
                    where=str(path),
                    remedy="Wait until it has finished, then try again.",
                ) from fault
        time.sleep(LOCK_PAUSE_SECONDS)


def _first_line(fault: Exception) -> str:
    """Return the first line of a message."""
    return str(fault).strip().split("\n")[0][:200]


def _tables(connection: duckdb.DuckDBPyConnection) -> set[str]:
    """Return the names of the tables in the file."""
    return {str(row[0]) for row in connection.execute("SELECT table_name FROM duckdb_tables()").fetchall()}


def _check_schema(connection: duckdb.DuckDBPyConnection, path: Path) -> int:
    """Return the version of the book; refuse a DuckDB file that is another's, or from a later slidefit."""
    tables = _tables(connection)
    if "slidefit_book" not in tables:
        raise BookError(
            "is a DuckDB file, but not a sale book; it was left as it is",
            where=str(path),
            remedy=Text("Name another file with ", Setting("path"), "."),
        )
    row = connection.execute("SELECT max(schema_version) FROM slidefit_book").fetchone()
    version = int(row[0]) if row and row[0] is not None else 0
    if not 1 <= version <= SCHEMA_VERSION:
        raise BookError(
            f"the sale book has version {version}; this slidefit knows version {SCHEMA_VERSION}",
            where=str(path),
            remedy="Use the slidefit that made it, or export the records and add them to a new book.",
        )
    return version


@contextmanager
def opened(path: Path, *, write: bool, create: bool = False) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the sale book for one thing and close it; writing is one transaction, undone on any fault.

    Raises
    ------
    BookError
        The book is missing, busy, damaged, not ours, of a later version, or can't be written.
    """
    check_file(path, must_exist=not create)
    new = not path.exists()
    connection = _connected(path, read_only=not write)
    done = False
    try:
        if write:
            connection.execute("BEGIN TRANSACTION")
        if write and create and not _tables(connection):
            for statement in _CREATE:
                connection.execute(statement)
        version = _check_schema(connection, path)
        for statement in _FROM_VERSION_1 if write and version == 1 else ():
            connection.execute(statement).fetchall()
        yield connection
        if write:
            connection.execute("COMMIT")
        done = True
    except _DISK_FAULTS as fault:
        raise BookError(
            f"the sale book could not be written or read ({_first_line(fault)}); it is as it was before",
            where=str(path),
            remedy="Check the space on the disk and who may write there.",
        ) from fault
    finally:
        _closed(connection, done=done, write=write, path=path)
        if new and not done:
            for leftover in (path, path.with_name(f"{path.name}.wal")):
                leftover.unlink(missing_ok=True)


def _closed(connection: duckdb.DuckDBPyConnection, *, done: bool, write: bool, path: Path) -> None:
    """Undo what is unfinished and close."""
    try:
        if write and not done:
            connection.execute("ROLLBACK")
    except duckdb.Error:
        pass  # nothing was under way any more: the fault itself ended the transaction
    try:
        connection.close()
    except duckdb.Error as fault:
        if done:
            raise BookError(
                f"the sale book could not be closed ({_first_line(fault)})",
                where=str(path),
                remedy="Check the space on the disk.",
            ) from fault


GROUP_ROWS = 122_880  # rows that the book stores together; batches of this size are written side by side
ROWS_AT_ONCE = 1_000_000
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
