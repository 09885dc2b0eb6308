"""The book's tables in each version, and the check that a file holds these and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import duckdb

from slidefit.errors import BookError
from slidefit.facts import Setting, Text
from slidefit.records.columns import COLUMN_NAMES, RECORD_COLUMNS, TEXT_COLUMNS

SCHEMA_VERSION = 3
_TYPES = {"date": "DATE", "text": "VARCHAR", "number": "DOUBLE", "whole": "BIGINT"}
_RECORD = {column.name: _TYPES[column.kind] for column in RECORD_COLUMNS}
_MAY_BE_MISSING = frozenset(column.name for column in RECORD_COLUMNS if column.kind in ("date", "number"))
LABEL_COLUMNS = TEXT_COLUMNS
LOT_COLUMNS = tuple(name for name in COLUMN_NAMES if name not in LABEL_COLUMNS)
_COLUMNS = ", ".join(COLUMN_NAMES)
_LABELS = ", ".join(LABEL_COLUMNS)
_LOTS = ", ".join(LOT_COLUMNS)

_LABEL = {"label": "INTEGER", **dict.fromkeys(LABEL_COLUMNS, "VARCHAR")}
_LOT = {"label": "INTEGER", **{name: _RECORD[name] for name in LOT_COLUMNS}}
_BATCH = {
    "batch": "VARCHAR", "added_at": "TIMESTAMP", "files": "VARCHAR", "fingerprint": "VARCHAR", "added": "BIGINT",
    "already_there": "BIGINT", "corrected": "BIGINT", "set_aside": "BIGINT",
}  # fmt: skip
_MARK = {"slidefit_book": {"schema_version": "INTEGER"}}
_REPLACED = {"replaced": {**_RECORD, "replaced_by": "VARCHAR"}}
# the tables of each version, and the type of every column; anything else in the file is not ours
TABLES: dict[int, dict[str, dict[str, str]]] = {
    1: {**_MARK, "sales": _RECORD, **_REPLACED, "batches": _BATCH},
    2: {**_MARK, "labels": _LABEL, "lots": _LOT, **_REPLACED, "batches": _BATCH},
    3: {
        **_MARK,
        # the texts of records repeat: each combination stands once in labels, and a lot holds its number
        "labels": {**_LABEL, "market_read": "VARCHAR", "part": "INTEGER"},
        "lots": _LOT,
        # rows of a batch that another batch's row stands in for; an undo brings them back
        "unused": {**_LOT, "replaced_by": "VARCHAR"},
        "batches": {"place": "BIGINT", **_BATCH, "market_from": "VARCHAR", "market_to": "VARCHAR"},
        "sources": {"name": "VARCHAR", "card": "VARCHAR"},  # how the files of each source are read, as TOML
        # every settlement of every batch; of two for one contract and day the later batch's counts
        "futures": {"contract": "VARCHAR", "as_of": "DATE", "settlement_cwt": "DOUBLE", "batch": "VARCHAR"},
    },
}
_OWN_VIEWS = {1: frozenset[str](), 2: frozenset({"sales", "book_rows"}), 3: frozenset[str]()}


def _create(table: str) -> str:
    columns = (
        f"{name} {kind}{'' if name in _MAY_BE_MISSING else ' NOT NULL'}"
        for name, kind in TABLES[SCHEMA_VERSION][table].items()
    )
    return f"CREATE TABLE main.{table} ({', '.join(columns)})"


_CREATE = (
    *(_create(table) for table in TABLES[SCHEMA_VERSION]),
    f"INSERT INTO slidefit_book VALUES ({SCHEMA_VERSION})",
)
_NO_QUOTES = (
    "CREATE TEMP TABLE kept_quotes (contract VARCHAR, as_of DATE, settlement_cwt DOUBLE, batch VARCHAR)",
    "CREATE TEMP TABLE additions_in_order (batch VARCHAR, place BIGINT)",
)
_VIEWS = {
    1: (
        f"CREATE TEMP TABLE sales AS SELECT {_COLUMNS} FROM main.sales",
        "CREATE TEMP VIEW additions AS SELECT *, '' AS market_from, '' AS market_to FROM main.batches",
        *_NO_QUOTES,
    ),
    2: (
        f"CREATE TEMP VIEW sales AS SELECT {_COLUMNS} FROM main.lots JOIN main.labels USING (label)",
        "CREATE TEMP VIEW additions AS SELECT *, '' AS market_from, '' AS market_to FROM main.batches",
        *_NO_QUOTES,
    ),
    3: (
        f"CREATE TEMP VIEW sales AS SELECT {_COLUMNS} FROM main.lots JOIN main.labels USING (label)",
        "CREATE TEMP VIEW additions AS SELECT * FROM main.batches",
        "CREATE TEMP VIEW kept_quotes AS SELECT * FROM main.futures",
        "CREATE TEMP VIEW additions_in_order AS SELECT batch, place FROM main.batches",
    ),
}
# Books of earlier versions are read as they are, and brought up when they are written. They did not keep the rows
# that they held already, and a row that its own batch replaced could never come back.
_TO_2 = (
    "ALTER TABLE main.sales RENAME TO earlier_sales",
    f"CREATE TABLE main.labels AS SELECT row_number() OVER () - 1 AS label, {_LABELS} FROM "
    f"(SELECT DISTINCT {_LABELS} FROM main.earlier_sales)",
    f"CREATE TABLE main.lots AS SELECT label, {_LOTS} FROM main.earlier_sales JOIN main.labels USING ({_LABELS})",
    "DROP TABLE main.earlier_sales",
)
_TO_3 = (
    "DROP VIEW IF EXISTS main.book_rows",
    "DROP VIEW IF EXISTS main.sales",
    *(
        f"ALTER TABLE main.{table} RENAME TO earlier_{table}"
        for table in ("labels", "lots", "batches", "replaced")
    ),
    *(_create(table) for table in ("labels", "lots", "unused", "batches", "sources", "futures")),
    f"CREATE TEMP TABLE all_labels AS SELECT row_number() OVER () - 1 AS label, {_LABELS} FROM (SELECT {_LABELS} "
    f"FROM main.earlier_labels UNION SELECT {_LABELS} FROM main.earlier_replaced WHERE batch <> replaced_by)",
    f"INSERT INTO main.labels SELECT label, {_LABELS}, market, 0 FROM all_labels",
    f"INSERT INTO main.lots SELECT a.label, {_LOTS} FROM main.earlier_lots JOIN main.earlier_labels e USING (label) "
    f"JOIN all_labels a USING ({_LABELS})",
    f"INSERT INTO main.unused SELECT label, {_LOTS}, replaced_by FROM main.earlier_replaced JOIN all_labels USING "
    f"({_LABELS}) WHERE batch <> replaced_by",
    "INSERT INTO main.batches SELECT row_number() OVER (ORDER BY added_at), *, '', '' FROM main.earlier_batches",
    "DROP TABLE temp.all_labels",
    *(f"DROP TABLE main.earlier_{table}" for table in ("labels", "lots", "batches", "replaced")),
    f"UPDATE slidefit_book SET schema_version = {SCHEMA_VERSION}",
)
_BRING_UP = {1: (*_TO_2, *_TO_3), 2: _TO_3, 3: ()}
_HERE = "WHERE database_name = current_database()"
# what a file can define beside tables and views; the functions that tell of it are named with their schema, so that
# none of the file's own can stand in for them
_OTHER_THINGS = {
    "type": f"SELECT type_name FROM system.main.duckdb_types() {_HERE} AND NOT internal",
    "schema": f"SELECT schema_name FROM system.main.duckdb_schemas() {_HERE} AND NOT internal",
    "sequence": f"SELECT sequence_name FROM system.main.duckdb_sequences() {_HERE}",
    "index": f"SELECT index_name FROM system.main.duckdb_indexes() {_HERE}",
}


@dataclass(frozen=True)
class _Catalog:
    """What a DuckDB file defines: tables with the types of their columns, views, and anything else, named."""

    tables: dict[str, dict[str, str]]
    views: frozenset[str]
    others: tuple[str, ...]

    @classmethod
    def of(cls, connection: duckdb.DuckDBPyConnection) -> _Catalog:
        """Return what the file of a connection defines."""

        def rows(query: str) -> list[tuple[str, ...]]:
            return connection.execute(query).fetchall()

        views = frozenset(
            row[0]
            for row in rows(f"SELECT view_name FROM system.main.duckdb_views() {_HERE} AND NOT internal")
        )
        tables: dict[str, dict[str, str]] = {}
        for (table,) in rows(f"SELECT table_name FROM system.main.duckdb_tables() {_HERE} AND NOT internal"):
            tables[table] = {}
        for table, column, kind, default in rows(
            "SELECT table_name, column_name, data_type, column_default FROM system.main.duckdb_columns() "
            f"{_HERE} AND NOT internal"
        ):
            if table in tables:
                tables[table][column] = kind if default is None else f"{kind} computed"
        others = tuple(f"{kind} {row[0]}" for kind, query in _OTHER_THINGS.items() for row in rows(query))
        return cls(tables, views, others)

    def strange_to(self, version: int) -> list[str]:
        """Return what a book of a version does not hold, or what of it is missing or of another shape."""
        own = TABLES[version]
        odd = sorted(
            name for name in self.tables.keys() | own.keys() if self.tables.get(name) != own.get(name)
        )
        views = sorted(self.views - _OWN_VIEWS[version])
        return [*self.others, *(f"view {name}" for name in views), *(f"table {name}" for name in odd)]


def _check_schema(connection: duckdb.DuckDBPyConnection, path: Path, *, create: bool) -> int:
    """Return the version of the book, 0 for a file with nothing in it; refuse another's, or a later slidefit's."""
    catalog = _Catalog.of(connection)
    if create and not (catalog.tables or catalog.views or catalog.others):
        return 0
    if catalog.tables.get("slidefit_book") != TABLES[1]["slidefit_book"]:
        raise BookError(
            "is a DuckDB file, but not a sale book; it was left as it is",
            where=str(path),
            remedy=Text("Name another file with ", Setting("path"), "."),
        )
    ((version,),) = connection.execute(
        "SELECT coalesce(max(schema_version), 0) FROM main.slidefit_book"
    ).fetchall()
    if not 1 <= version <= SCHEMA_VERSION:
        raise BookError(
            f"the sale book has version {version}; this slidefit knows version {SCHEMA_VERSION}",
            where=str(path),
            remedy="Use the slidefit that made it, or export the records and add them to a new book.",
        )
    strange = catalog.strange_to(version)
    if strange:
        raise BookError(
            f"the sale book holds what slidefit did not put there, or lacks a part: {', '.join(strange)}",
            where=str(path),
            remedy="Restore a copy that slidefit made, or add the records to a new book; the file was left as it is.",
        )
    return int(version)


def prepare(connection: duckdb.DuckDBPyConnection, path: Path, *, write: bool, create: bool) -> None:
    """Check what the file holds, make or bring up its tables when it is to be written, and lay views over them."""
    version = _check_schema(connection, path, create=create)
    if write:
        for statement in _BRING_UP[version] if version else _CREATE:
            connection.execute(statement).fetchall()
        version = SCHEMA_VERSION
    for statement in _VIEWS[version]:
        connection.execute(statement).fetchall()
