"""The cards of sources beside a sale book: in the book itself, and each as a TOML file that a person may change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import duckdb
import pandas as pd

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Setting, Text
from slidefit.files import write_whole
from slidefit.records.book.book_file import opened
from slidefit.records.reading.source_card import SourceCard, card_from, card_toml, read_card
from slidefit.records.result import ReadResult

_SAME_SHARE = (
    0.8  # of the rows of a sale that stand in the book under another market's name (a choice of ours)
)
_FEWEST_SAME = 5
_HAS_TABLE = (
    "SELECT 1 FROM system.main.duckdb_tables() WHERE table_name = 'sources'"  # since version 3 of the book
)


def cards_folder(book: str | Path) -> Path:
    """Return the folder of a book's cards: ``sales.sources`` beside ``sales.duckdb``."""
    path = Path(book)
    return path.with_name(f"{path.stem}.sources")


def cards_of(book: str | Path) -> dict[str, SourceCard]:
    """Return the cards of a book by name; a TOML file beside it goes before the card kept in it.

    Raises
    ------
    DocumentError
        A file has a fault; the line is named.
    BookError
        The book can't be read.
    """
    cards = {name: card_from(text, f"card {name} in {book}") for name, text in _texts_of(book).items()}
    folder = cards_folder(book)
    for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
        card = read_card(path)
        cards[card.name] = card
    return dict(sorted(cards.items()))


def _texts_of(book: str | Path) -> dict[str, str]:
    if not Path(book).exists():
        return {}
    with opened(Path(book), write=False) as connection:
        there = connection.execute(_HAS_TABLE).fetchall()
        rows = connection.execute("SELECT name, card FROM main.sources").fetchall() if there else []
    return {str(name): str(text) for name, text in rows}


def put_cards(connection: duckdb.DuckDBPyConnection, cards: Iterable[SourceCard]) -> None:
    """Put cards into an open book, inside the caller's transaction; a card of the same name is replaced."""
    for card in cards:
        connection.execute("DELETE FROM main.sources WHERE name = ?", [card.name]).fetchall()
        connection.execute("INSERT INTO main.sources VALUES (?, ?)", [card.name, card_toml(card)]).fetchall()


def keep_cards(book: str | Path, cards: Sequence[SourceCard]) -> None:
    """Keep cards in the book and as files beside it; a card of the same name is replaced.

    Raises
    ------
    BookError, OutputError
        The book or the folder can't be written.
    """
    texts = {card.name: card_toml(card) for card in cards}
    kept = _texts_of(book)
    new = {name: text for name, text in texts.items() if kept.get(name) != text}
    if not texts or not Path(book).exists():
        return
    if new:
        with opened(Path(book), write=True) as connection:
            put_cards(connection, cards)
    folder = cards_folder(book)
    folder.mkdir(exist_ok=True)
    for name, text in texts.items():
        path = folder / f"{name}.toml"
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            write_whole(path, text)


def forget_card(book: str | Path, name: str) -> None:
    """Take a card out of the book and its file away.

    Raises
    ------
    RecordsError
        There is no card of that name.
    """
    known = cards_of(book)
    if name not in known:
        raise no_card(name, known)
    with opened(Path(book), write=True) as connection:
        connection.execute("DELETE FROM main.sources WHERE name = ?", [name]).fetchall()
    (cards_folder(book) / f"{name}.toml").unlink(missing_ok=True)


def no_card(name: str, known: Iterable[str]) -> RecordsError:
    """Return the error that there is no card of a name."""
    names = ", ".join(known)
    return RecordsError(
        f"there is no source {name!r}",
        where="source",
        remedy=f"The sources are: {names}."
        if names
        else "The book has no source yet; adding a file makes one.",
    )


@dataclass(frozen=True)
class SameSale:
    """A sale that stands in the book under another market's name, and how many of its rows do."""

    day: date
    market: str
    book_market: str
    rows: int
    same: int


def ask_about_same_sales(book: str | Path, read: ReadResult) -> None:
    """Ask about sales that the book holds under another market's name, where no name settles it.

    Raises
    ------
    QuestionError
        The remedy names both.
    """
    settled = {name for card in read.cards for name in card.market_names}
    for sale in same_sales(book, read.records):
        if sale.market in settled:
            continue
        raise QuestionError(
            f"the sale of {sale.day} at {sale.market or '(no name)'!r} stands in the book as that of "
            f"{sale.book_market or '(no name)'!r}: {sale.same} of {sale.rows} rows are the same",
            where=read.files[0].name if len(read.files) == 1 else "",
            remedy=Text(
                "Say that they are one market with ",
                Setting("market_names", f"{sale.market}={sale.book_market}"),
                ", or two with ",
                Setting("market_names", f"{sale.market}={sale.market}"),
                "; it is remembered.",
            ),
        )


def same_sales(book: str | Path, records: pd.DataFrame) -> tuple[SameSale, ...]:
    """Return the sales of tidy records that the book holds under another market's name: same day, same rows.

    A sale is one where at least five rows, and four in five of them, are equal in sex, head, weight and price.
    """
    if not Path(book).exists():
        return ()
    told = records[["sale_date", "market", "sex", "head", "weight_lb", "price_cwt"]]
    with opened(Path(book), write=False) as connection:
        connection.register("just_read", told)
        rows = connection.execute(
            "WITH fresh AS (SELECT *, count(*) OVER (PARTITION BY sale_date, market) AS size FROM just_read), "
            "there AS (SELECT DISTINCT sale_date, market, sex, head, weight_lb, price_cwt FROM sales "
            "WHERE sale_date IN (SELECT DISTINCT sale_date FROM just_read)) "
            "SELECT f.sale_date, f.market, t.market, any_value(f.size), count(*) FROM fresh f JOIN there t "
            "ON f.sale_date = t.sale_date AND f.market <> t.market AND f.sex = t.sex AND f.weight_lb = t.weight_lb "
            "AND f.price_cwt = t.price_cwt AND f.head IS NOT DISTINCT FROM t.head "
            "GROUP BY 1, 2, 3 HAVING count(*) >= ? AND count(*) >= ? * any_value(f.size) ORDER BY 1, 2",
            [_FEWEST_SAME, _SAME_SHARE],
        ).fetchall()
    return tuple(
        SameSale(day.date() if hasattr(day, "date") else day, new, old, int(size), int(same))
        for day, new, old, size, same in rows
    )
