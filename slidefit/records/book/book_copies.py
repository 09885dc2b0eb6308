"""A whole copy of a sale book, and a copy put in the book's place."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from slidefit.errors import BookError
from slidefit.files import pieces_of, told_as_output, write_pieces
from slidefit.records.book.book_file import (
    check_file,
    journal_of,
    opened,
    refuse_journal,
    run,
    settled,
    spill_folder,
)
from slidefit.records.reading.source_card import card_toml
from slidefit.records.source_book import cards_of

_SUM = "SELECT count(*), max(sale_date), coalesce(bit_xor(hash(s)), 0), (SELECT count(*) FROM additions) FROM sales s"


@dataclass(frozen=True)
class BookCopy:
    """A copy of a book: where it stands, its records, batches and newest sale, and where the former book was kept."""

    path: Path
    records: int
    batches: int
    last: date | None
    former: Path | None = None


def back_up(book: str | Path, out: str | Path) -> BookCopy:
    """Copy a book and its source cards as they are between two changes, whole or not at all.

    Others may read the book meanwhile; a change that is under way is waited for.

    Raises
    ------
    BookError
        There is no book, or it can't be read.
    DocumentError
        A source card beside the book is at fault.
    OutputError
        The copy can't be written, or a file stands there.
    """
    with _copied(Path(book)) as (part, held):
        return BookCopy(write_pieces(out, pieces_of(part), new=True), *held)


def restore(source: str | Path, book: str | Path) -> BookCopy:
    """Put a copy in the place of a book, in one step; the book that stood there is kept beside it under a new name.

    Raises
    ------
    BookError
        The copy is missing, damaged, not a sale book, or of a later slidefit; or the book is in use.
    OutputError
        The book can't be written; it is then as it was before.
    """
    copy, place = Path(source), Path(book)
    check_file(place, must_exist=False)
    with _copied(copy) as (part, held):
        if not place.exists():
            refuse_journal(place)
            return BookCopy(write_pieces(place, pieces_of(part), new=True), *held)
        if place.samefile(copy):
            raise BookError("is the book itself", where=str(copy), remedy="Name a copy of it.")
        settled(place)
        former = next(path for path in _former_names(place) if not path.exists())
        with _kept(place, former):
            return BookCopy(write_pieces(place, pieces_of(part)), *held, former)


def _former_names(book: Path) -> Iterator[Path]:
    return (book.with_name(f"{book.name}.former-{number}") for number in range(1, 10_000))


@contextmanager
def _kept(book: Path, former: Path) -> Iterator[None]:
    """Keep a book, and the journal of a damaged one, under another name while its place is taken."""
    journal, kept = journal_of(book), journal_of(former)
    write_pieces(former, pieces_of(book), new=True)
    try:
        with told_as_output(book):
            if journal.exists():  # it must not be played into the book that is put in place
                journal.rename(kept)
        yield
    except BaseException:
        with suppress(OSError):
            former.unlink()
            kept.rename(journal)
        raise


@contextmanager
def _copied(book: Path) -> Iterator[tuple[Path, tuple[int, int, date | None]]]:
    """Give a copy of a book in the spill folder, and its records, batches and newest sale; it is gone afterwards.

    The copy is made row by row, so a book with a journal or with a damaged block never passes for whole.
    """
    part = spill_folder() / f"{secrets.token_hex(8)}.duckdb"
    cards = [(name, card_toml(card)) for name, card in cards_of(book).items()]
    try:
        with opened(book, write=False) as connection:
            before = run(connection, _SUM)
            ((name,),) = run(connection, "SELECT current_database()")
            run(connection, f"ATTACH '{part}' AS slidefit_copy (READ_WRITE)")
            run(connection, f'COPY FROM DATABASE "{name}" TO slidefit_copy')
            _put_cards(connection, cards)
            run(connection, "CHECKPOINT slidefit_copy")  # detaching says nothing of what it could not write
            run(connection, "DETACH slidefit_copy")
        with opened(part, write=False) as connection:
            ((records, last, *_, batches),) = after = run(connection, _SUM)
        if after != before:
            raise BookError(
                "the copy is not equal to the book",
                where=str(book),
                remedy="Check the disk for temporary files.",
            )
        yield part, (records, batches, last)
    finally:
        for leftover in (part, journal_of(part)):
            leftover.unlink(missing_ok=True)


def _put_cards(connection: duckdb.DuckDBPyConnection, cards: list[tuple[Any, ...]]) -> None:
    """Put the cards that count into the copy: one that was changed by hand stands beside the book only."""
    kept = "SELECT 1 FROM duckdb_tables() WHERE database_name = 'slidefit_copy' AND table_name = 'sources'"
    if cards and run(connection, kept):  # since version 3 of the book
        run(connection, "DELETE FROM slidefit_copy.sources")
        for card in cards:
            run(connection, "INSERT INTO slidefit_copy.sources VALUES (?, ?)", card)
