"""What the terminal says of a fit.

What the terminal says of files read and of the sale book."""

import pytest
from example_market import an_outlook, some_records

from slidefit.market.market_fit import fit_market
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from slidefit.report import market_content
from slidefit.report.render.terminal import document_text


@pytest.fixture(scope="module")
def fit():
    records = some_records(an_outlook(), sales=30, lots=14)
    return fit_market(records.assign(date_precision="day", currency="USD", traits="", flags=""))


def flat(text):
    return " ".join(text.split())


def test_fit_text_tells_basis_slide_and_every_note(fit):
    told = flat(document_text(market_content.fit_content(fit, "slide.json")))
    assert "420 lots" in told and "30 sales at Birch Landing" in told
    assert "(chosen)" in told and "Saved: slide.json" in told
    for note in fit.notes:
        assert f"Note: {note}." in told
    steer = fit.slide("steer", 550.0).iloc[0]
    assert f"{steer['percent_per_cwt']:.1f}%" in told


def test_whether_the_records_are_enough_is_said_with_what_to_add(fit):
    assert fit.verdict.word == "thin" and "420 lots" in fit.verdict.reasons[0]
    told = flat(document_text(market_content.fit_content(fit, "slide.json")))
    assert "Records behind the prices: thin: 420 lots (add 580 more lots);" in told
    assert (
        flat(document_text(market_content.slide_content(fit, fit.slide()))).count(
            "Records behind the prices: thin"
        )
        == 1
    )


def test_what_thin_records_made_the_fit_do_without_stands_under_the_slide(fit):
    told = flat(document_text(market_content.slide_content(fit, fit.slide())))
    assert "carry a quadratic slide with no season" in told and "carried forward with no season" in told


def test_slide_text_names_the_month(fit):
    told = document_text(market_content.slide_content(fit, fit.slide("heifer", 550.0, [None, 3])))
    rows = [line.split() for line in told.splitlines() if line.split()[:1] == ["heifer"]]
    assert [row[3] for row in rows] == ["year", "Mar"]
    assert [row[1:3] for row in rows] == [["500", "600"]] * 2


def test_season_text_has_twelve_months_and_says_when_there_is_no_season(fit):
    told = document_text(market_content.season_content(fit))
    assert sum(line.split()[:1] != [] and line.split()[0] in ("January", "June", "December")
               for line in told.splitlines()) == 3  # fmt: skip
    assert "no season" in flat(told)


@pytest.mark.parametrize("width", [60, 100])
def test_nothing_is_wider_than_the_terminal(fit, width):
    for told in (
        document_text(market_content.fit_content(fit, "slide.json"), width=width),
        document_text(market_content.season_content(fit), width=width),
    ):
        assert max(map(len, told.splitlines())) <= width


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
    told = words(document_text(market_content.add_content(result, added)))
    for line in ("rows read 6", "added 4", "already there 0", "set aside 2", "dairy 1", "missing price 1"):
        assert line in told, line
    assert f"Batch {added.batch}; to take it out: slidefit undo {added.batch}" in told


def test_adding_again_says_that_nothing_is_new(result, book):
    book.add(result)
    told = words(document_text(market_content.add_content(result, book.add(result))))
    assert "added 0" in told and "already there 4" in told


def test_dry_run_shows_columns_first_rows_and_that_nothing_was_added(result):
    told = document_text(market_content.dry_run_content(result), width=140)
    assert "Avg Wt" in told and "weight_lb" in told and "price_cwt" in told
    assert "[b]Birch[/b] Landing" in told
    assert "6 rows seen, 4 would be read, 2 set aside. Nothing was added" in " ".join(told.split())


def test_book_text_tells_markets_gaps_and_batches(result, book):
    added = book.add(result)
    told = document_text(market_content.book_content(book.summary()), width=140)
    assert "4 records" in told and "Aug 3, 2026" in told and "Oct 26, 2026" in told
    assert "no sale in 2026-09" in told
    assert added.batch in told and "lots.csv" in told


@pytest.mark.parametrize("width", [60, 100])
def test_nothing_is_wider_than_the_terminal_of_records_text(result, book, width):
    added = book.add(result)
    for told in (
        document_text(market_content.add_content(result, added), width=width),
        document_text(market_content.dry_run_content(result), width=width),
        document_text(market_content.book_content(book.summary()), width=width),
    ):
        assert max(map(len, told.splitlines())) <= width
