"""What is said of the sources of files: their cards, the words of their columns, and questions left open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from slidefit.report import formatting as f
from slidefit.report.document import Column, Document, Note, TypedTable, document, notes, table

if TYPE_CHECKING:
    from slidefit.records.reading.source_card import SourceCard
    from slidefit.records.result import FileAccount, ReadResult
    from slidefit.records.sale_levels import WeightPrices

MOST_WORDS = 25
_MOST_HEADINGS = 6


def questions_of(read: ReadResult) -> tuple[Note, ...]:
    """Return what was asked of files that were left out while others were read."""
    return notes(
        (f"Not added, it waits for an answer: {fault.text()}" for fault in read.questions), "caution"
    )


def words_tables(account: FileAccount) -> list[TypedTable]:
    """Return the words of a file's columns, the least sure first; no table where there are none."""
    rows = [
        (word.field, word.text, word.rows, word.meaning or "not understood", word.left)
        for word in account.words[:MOST_WORDS]
    ]
    more = len(account.words) - MOST_WORDS
    caption = f"The least sure first; {more} more are not shown." if more > 0 else "The least sure first."
    columns = [
        Column("Column"),
        Column("Word"),
        Column("Rows", "count"),
        Column("Read as"),
        Column("Left over"),
    ]
    return [table("Words of the columns", columns, rows, caption=caption)] if rows else []


def sources_content(cards: Sequence[SourceCard]) -> Document:
    """Return the sources of a book's files, and how much was taught of each."""
    if not cards:
        return document("The book has no source yet; adding a file makes one.")
    rows = [
        (
            card.name,
            ", ".join(card.headings[:_MOST_HEADINGS])
            + (" ..." if len(card.headings) > _MOST_HEADINGS else ""),
            len(card.mapping),
            sum(map(len, card.values.values())),
        )
        for card in cards
    ]
    columns = [
        Column("Source"),
        Column("Known by"),
        Column("Columns taught", "count"),
        Column("Words taught", "count"),
    ]
    return document(table("Sources", columns, rows))


@dataclass(frozen=True)
class PriceRow:
    """Prices of a hundred pounds of weight as a picture and in words: places along the axis in percent.

    ``band``: nine in ten of the book's rows, none where the book has none; ``off``: the middle lies outside it.
    """

    label: str
    low: float
    high: float
    middle: float
    band: tuple[float, float] | None
    new: str
    book: str
    off: bool


def _rows(count: int, kind: str = "") -> str:
    return f"{f.count(count)} {kind}{'row' if count == 1 else 'rows'}"


def price_rows(prices: Sequence[WeightPrices]) -> tuple[PriceRow, ...]:
    """Return the prices of new rows by weight over the book's range, all on one axis for each money."""
    out = []
    for money in dict.fromkeys(each.currency for each in prices):
        mine = [each for each in prices if each.currency == money]
        ends = [end for p in mine for end in (p.low, p.high, p.book_low, p.book_high) if end == end]
        room = 0.03 * (max(ends) - min(ends)) or 1.0
        first, whole = min(ends) - room, max(ends) - min(ends) + 2.0 * room
        for p in mine:
            low, high, middle, *band = (
                round(100.0 * (value - first) / whole, 2)
                for value in (p.low, p.high, p.middle, *((p.book_low, p.book_high) if p.book_rows else ()))
            )
            label = f"{p.low_lb} to {p.low_lb + 99} lb" + (f", {money}" if money != "USD" else "")
            book = f"{f.price_cwt(p.book_low)} to {f.price_cwt(p.book_high)}" if p.book_rows else ""
            off = bool(p.book_rows) and not p.book_low <= p.middle <= p.book_high
            new = f"{f.price_cwt(p.middle)}, {_rows(p.rows)}"
            ends_of_band = (band[0], band[1]) if band else None
            out.append(PriceRow(label, low, high, middle, ends_of_band, new, book, off))
    return tuple(out)


def price_lines(prices: Sequence[WeightPrices]) -> list[str]:
    """Return a line for each weight: the prices of the new rows, and beside them the book's, where it has any."""
    return [
        f"{each.low_lb} to {each.low_lb + 99} lb: {f.price_cwt(each.middle)}/cwt in the middle of "
        f"{_rows(each.rows, 'new ')}, mostly {f.price_cwt(each.low)} to {f.price_cwt(each.high)} ({each.currency}); "
        + (
            f"the book's {_rows(each.book_rows)}: {f.price_cwt(each.book_low)} to {f.price_cwt(each.book_high)}"
            if each.book_rows
            else "the book has none"
        )
        for each in prices
    ]
