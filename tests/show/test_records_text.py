"""What the terminal says of files read and of the sale book."""

import pytest

from slidefit.records.book import SaleBook
from slidefit.records.reading import read
from slidefit.show import records_text

LOTS = """Sale Date,Barn,Class,Grade,Head,Avg Wt,Price $/cwt
08/03/2026,[b]Birch[/b] Landing,Steers,ML 1,12,548,371.25
08/03/2026,[b]Birch[/b] Landing,Steers,ML 1,4,612,340.00
08/03/2026,[b]Birch[/b] Landing,Heifers,ML 1-2,7,505,338.50
08/03/2026,[b]Birch[/b] Landing,Holstein Steers,L 3,9,510,210.00
08/03/2026,[b]Birch[/b] Landing,Heifers,ML 1,7,520,
10/26/2026,[b]Birch[/b] Landing,Heifers,ML 1,7,520,344.00
"""


@pytest.fixture
def result(tmp_path):
    path = tmp_path / "lots.csv"
    path.write_text(LOTS)
    return read([path])


@pytest.fixture
def book(tmp_path):
    return SaleBook(tmp_path / "sales.duckdb")


def words(text):
    return [" ".join(line.split()) for line in text.splitlines()]


def test_add_text_accounts_for_every_row_and_says_how_to_undo(result, book):
    added = book.add(result)
    told = words(records_text.add_text(result, added))
    for line in ("rows read 6", "added 4", "already there 0", "set aside 2", "dairy 1", "missing price 1"):
        assert line in told, line
    assert f"Batch {added.batch}; to take it out again: slidefit undo {added.batch}" in told


def test_adding_again_says_that_nothing_is_new(result, book):
    book.add(result)
    told = words(records_text.add_text(result, book.add(result)))
    assert "added 0" in told and "already there 4" in told


def test_dry_run_shows_columns_first_rows_and_that_nothing_was_added(result):
    told = records_text.dry_run_text(result, width=140)
    assert "Avg Wt" in told and "weight_lb" in told and "price_cwt" in told
    assert "[b]Birch[/b] Landing" in told
    assert "6 rows seen, 4 would be read, 2 set aside. Nothing was added" in " ".join(told.split())


def test_book_text_tells_markets_gaps_and_batches(result, book):
    added = book.add(result)
    told = records_text.book_text(book.summary(), width=140)
    assert "4 records" in told and "Aug 3, 2026" in told and "Oct 26, 2026" in told
    assert "no sale in 2026-09" in told
    assert added.batch in told and "lots.csv" in told


@pytest.mark.parametrize("width", [60, 100])
def test_nothing_is_wider_than_the_terminal(result, book, width):
    added = book.add(result)
    for told in (
        records_text.add_text(result, added, width=width),
        records_text.dry_run_text(result, width=width),
        records_text.book_text(book.summary(), width=width),
    ):
        assert max(map(len, told.splitlines())) <= width
