"""Quotes in the book: kept whole, corrected by later ones, taken out again with their batch."""

from dataclasses import replace
from datetime import date

import pytest

from slidefit.errors import BookError
from slidefit.futures_contracts import FuturesQuote
from slidefit.records.futures_quotes import QuoteFile
from slidefit.records.sale_book import SaleBook

NOV4, NOV11 = date(2026, 11, 4), date(2026, 11, 11)
FIRST = QuoteFile("nov4.csv", (FuturesQuote("2027-01", 332.1, NOV4), FuturesQuote("2027-03", 331.4, NOV4)))
SECOND = QuoteFile("nov11.csv", (FuturesQuote("2027-01", 333.0, NOV4), FuturesQuote("2027-01", 329.8, NOV11)))


@pytest.fixture
def book(tmp_path):
    return SaleBook(tmp_path / "sales.duckdb")


def test_quotes_come_back_as_they_went_in(book):
    added = book.add_quotes(FIRST)
    assert (added.added, added.already_there, added.corrected, added.rejected) == (2, 0, 0, 0)
    assert (added.contracts, added.first, added.last) == (("2027-01", "2027-03"), NOV4, NOV4)
    assert book.quotes() == FIRST.quotes


def test_the_same_quotes_again_leave_no_batch(book):
    first = book.add_quotes(FIRST)
    again = book.add_quotes(replace(FIRST, name="again.csv"))
    assert (again.batch, again.added, again.already_there) == ("", 0, 2)
    assert [batch.batch for batch in book.summary().batches] == [first.batch]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_later_settlements_count_and_any_batch_can_be_undone(book, order):
    batches = [book.add_quotes(FIRST), book.add_quotes(SECOND)]
    assert (batches[1].added, batches[1].corrected) == (2, 1)
    both = (FuturesQuote("2027-01", 333.0, NOV4), FIRST.quotes[1], SECOND.quotes[1])
    assert book.quotes() == both
    assert [batch.records for batch in book.summary().batches] == [2, 2]
    left = {0: SECOND.quotes, 1: FIRST.quotes}
    assert book.undo(batches[order[0]].batch) == 2
    assert book.quotes() == left[order[0]]
    book.undo(batches[order[1]].batch)
    assert book.quotes() == ()


def test_a_book_that_is_not_there_is_told(book):
    with pytest.raises(BookError):
        book.quotes()
