"""Opening and making a sale book: one thing at a time, locked, wholly or not at all."""

from __future__ import annotations

import atexit
import errno
import glob
import json
import os
import re
import secrets
import shutil
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any

import duckdb

from slidefit.errors import BookError
from slidefit.facts import Action, Setting, Text
from slidefit.files import DISK_FAULTS, put_new
from slidefit.records.book.book_schema import prepare

LOCK_SECONDS = 20.0
LOCK_PAUSE_SECONDS = 0.2
MEMORY_LIMIT = "1500MB"  # leaves room for the rest on a laptop of 4 GB


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
                "there is no sale book here",
                where=str(path),
                remedy=Text("Add records first: ", Action("add"), "."),
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


@cache
def spill_folder() -> Path:
    """Return this process's folder for what DuckDB can't hold in memory, and for what it writes out; gone at exit.

    Raises
    ------
    BookError
        No folder for temporary files can be written.
    """
    try:
        folder = Path(tempfile.mkdtemp(prefix="slidefit-book-"))
    except OSError as fault:
        raise BookError(
            f"no folder for temporary files can be written ({fault.strerror or fault})",
            remedy="Free some space, or set TMPDIR to a folder that you may write to.",
        ) from fault
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


_LOCKED = re.compile(r"\block\b|used by another process|different configuration", re.IGNORECASE)


def _connected(path: Path, *, read_only: bool) -> duckdb.DuckDBPyConnection:
    """Open the file; wait a while for another program that holds it.

    SQL that a foreign book may hold can read no other file and load no extension; beside the book itself, only the
    spill folder may be written.
    """
    config: dict[str, str | bool | int | float | list[str]] = {
        "memory_limit": MEMORY_LIMIT,
        "temp_directory": str(spill_folder()),
        "autoinstall_known_extensions": "false",
        "autoload_known_extensions": "false",
        "allow_community_extensions": "false",
        "preserve_insertion_order": "true" if read_only else "false",  # rows are told apart by source_row
    }
    until = time.monotonic() + LOCK_SECONDS
    while True:
        try:
            connection = duckdb.connect(str(path), read_only=read_only, config=config)
            connection.execute(
                "SET enable_external_access = false"
            ).fetchall()  # for good: nothing can turn it on again
            connection.execute(
                "SET enable_progress_bar = false"
            ).fetchall()  # nothing but our own words may be printed
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
                    code="busy",
                ) from fault
        time.sleep(LOCK_PAUSE_SECONDS)


def _words(fault: Exception) -> str:
    return str(fault).replace(
        "fsync failed", os.strerror(errno.EIO)
    )  # DuckDB keeps no number of a failed sync


def _first_line(fault: Exception) -> str:
    """Return the first line of a message of DuckDB's, the innermost where one holds another as JSON."""
    text = _words(fault).strip()
    with suppress(ValueError):
        text = str(json.loads(text[text.index("{") :]).get("exception_message", text))
    return text.split("\n")[0][:200]


def _fault(fault: duckdb.Error, path: Path) -> BookError:
    """Return what went wrong between the first and last statement, the cause named."""
    if isinstance(fault, duckdb.OutOfMemoryException):
        return BookError(
            f"this takes more than the {MEMORY_LIMIT} of memory that a sale book may use; it is as it was before",
            where=str(path),
            remedy="Give fewer files at a time.",
        )
    told = _first_line(fault)
    place = spill_folder() if str(spill_folder()) in told else path
    for code, (what, remedy) in DISK_FAULTS.items():  # DuckDB passes on the system's words, not its number
        if os.strerror(code).lower() in _words(fault).lower():
            return BookError(
                f"can't be written: {what}; the book is as it was", where=str(place), remedy=remedy
            )
    return BookError(
        f"the sale book could not be written or read ({told}); it is as it was before",
        where=str(path),
        remedy="Check the space on the disk and who may write there; if the file is damaged, restore a copy.",
    )


@contextmanager
def _one_thing(
    connection: duckdb.DuckDBPyConnection, path: Path, *, write: bool, new: bool = False
) -> Iterator[None]:
    """Hold what is done with a connection together: one transaction when writing, closed at the end, faults named.

    A new file is taken out of its journal before it is closed: closing says nothing of what it could not write.
    """
    done = False
    try:
        if write:
            connection.execute("BEGIN TRANSACTION").fetchall()
        yield
        if write:
            connection.execute("COMMIT").fetchall()
        if new:
            connection.execute("CHECKPOINT").fetchall()
        done = True
    except duckdb.ProgrammingError:
        raise  # a fault of the program
    except duckdb.Error as fault:
        raise _fault(fault, path) from fault
    finally:
        try:
            if write and not done:
                connection.execute("ROLLBACK").fetchall()
        except duckdb.Error:
            pass  # nothing was under way any more: the fault itself ended the transaction
        try:
            connection.close()
        except duckdb.Error as fault:
            if done:
                raise _fault(fault, path) from fault


@contextmanager
def opened(path: Path, *, write: bool, create: bool = False) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open a sale book for one thing and close it; writing is one transaction, undone on any fault.

    Parameters
    ----------
    create : bool
        Whether a file with nothing in it becomes a book.

    Raises
    ------
    BookError
        The book is missing, busy, damaged, not ours, of a later version, or can't be written.
    """
    check_file(path, must_exist=True)
    connection = _connected(path, read_only=not write)
    with _one_thing(connection, path, write=write):
        prepare(connection, path, write=write, create=create)
        yield connection


def settled(path: Path) -> None:
    """Play the journal of a book into it, and see that no other program uses it; a damaged book stays as it is.

    Raises
    ------
    BookError
        Another program is using the book.
    """
    try:
        connection = _connected(path, read_only=False)
    except BookError as fault:
        if fault.code == "busy":
            raise
        return
    with suppress(duckdb.Error), connection:
        connection.execute("CHECKPOINT").fetchall()


def journal_of(path: Path) -> Path:
    """Return where DuckDB keeps what was committed but is not in the book's own file yet."""
    return path.with_name(f"{path.name}.wal")


def refuse_journal(path: Path) -> None:
    """Refuse the journal of another book in the place of a new one: it would be played into it.

    Raises
    ------
    BookError
        There is one.
    """
    if journal_of(path).exists():
        raise BookError(
            "the journal of a sale book that is gone lies here",
            where=str(journal_of(path)),
            remedy="Put the book back beside it, or move the journal away.",
        )


_BEING_MADE: set[Path] = set()  # by this process, in which another thread may open them too


def _clear_births(path: Path) -> None:
    """Take away what a killed program left of a book that it was making; a book being made now stays."""
    for part in set(path.parent.glob(f".{glob.escape(path.name)}.*.part")) - _BEING_MADE:
        try:
            _connected(part, read_only=True).close()
        except BookError as fault:
            if fault.code == "busy":
                continue
        for leftover in (part, journal_of(part)):
            leftover.unlink(missing_ok=True)


class BookExistsError(Exception):
    """Another program has made the book in the meantime."""


@contextmanager
def new_book(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Make a book under a temporary name; it gets its own name once it is whole, and never takes another file's.

    Raises
    ------
    BookError
        The folder is missing, or the book can't be written; nothing is left.
    BookExistsError
        There is a file of that name now; what was written is gone, and is to be done again with that one.
    """
    check_file(path, must_exist=False)
    refuse_journal(path)
    _clear_births(path)
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    _BEING_MADE.add(part)
    try:
        connection = _connected(part, read_only=False)
        with _one_thing(connection, path, write=True, new=True):
            prepare(connection, path, write=True, create=True)
            yield connection
        try:
            placed = put_new(part, path)
        except OSError as fault:
            raise BookError(
                f"the sale book can't be put there ({fault.strerror})",
                where=str(path),
                remedy="Check the space on the disk and who may write there.",
            ) from fault
        if not placed:
            raise BookExistsError
    finally:
        _BEING_MADE.discard(part)
        for leftover in (part, journal_of(part)):
            leftover.unlink(missing_ok=True)


def run(
    connection: duckdb.DuckDBPyConnection, query: str, values: Sequence[object] = ()
) -> list[tuple[Any, ...]]:
    """Carry out a statement to its end and return its rows."""
    return connection.execute(query, list(values)).fetchall()
