"""What is said of futures and of past odds."""

from datetime import date

import numpy as np
import pytest

from slidefit.futures_contracts import FuturesQuote
from slidefit.market.futures import FuturesView
from slidefit.market.past_record import OURS, PastRecord, SaidCame
from slidefit.records.futures_book import QuotesAdded
from slidefit.records.futures_quotes import QuoteFile, RejectedQuote
from slidefit.report import futures_content
from slidefit.report.json_answers import json_of, quotes_added_answer, quotes_answer
from slidefit.report.render.terminal import document_text

NOV4 = date(2026, 11, 4)
CONTRACTS = (("2027-01", 332.1), ("2027-03", 331.4))
BASIS = np.log1p(np.array([0.031, 0.0, -0.012, *np.zeros(9)]))


def test_the_sentence_names_share_day_contracts_and_basis():
    told = futures_content.futures_line(FuturesView(NOV4, CONTRACTS, 0.5, BASIS))
    assert told == (
        "Half of the expected price is from futures of Nov 4, 2026: Jan 332.10, Mar 331.40; "
        "basis +3.1% in January, -1.2% in March at 750 lb."
    )


@pytest.mark.parametrize(
    ("why", "said"), [("too_old", "60 days"), ("short_basis", "a year of past"), ("expired", "has ended")]
)
def test_quotes_set_aside_are_told_with_the_reason(why, said):
    told = futures_content.futures_line(FuturesView(NOV4, CONTRACTS, 0.0, BASIS, set_aside=why))
    assert told.startswith("The futures of Nov 4, 2026 were not used") and said in told


@pytest.mark.parametrize(
    ("share", "said"), [(0.5, "Half"), (0.44, "44 percent"), (0.75, "Three quarters"), (1.0, "All")]
)
def test_shares_have_words(share, said):
    assert futures_content.share_words(share) == said


def test_the_document_holds_the_same():
    told = json_of(FuturesView(NOV4, CONTRACTS, 0.5, BASIS))
    assert told["contracts"][0] == {"contract": "2027-01", "settlement": 332.1}
    assert (told["share"], told["basis_pct"][:3], told["set_aside"]) == (0.5, [3.1, 0.0, -1.2], None)


def test_past_odds_are_counted_in_words_with_where_they_are_from():
    rows = tuple(
        SaidCame(months, low, low + 20.0, 40, came)
        for months in (1, 2, 5)
        for low, came in ((20.0, 45.0), (40.0, 70.0))
    )
    own = PastRecord("records", "2019-09", "2023-11", 40, rows, ())
    told = futures_content.said_came_line(own)
    assert told.startswith("In your records, 2019-09 to 2023-11")
    assert "paid 36 of 80 times at odds near 30%; 56 of 80 times at odds near 50%" in told
    assert "New Mexico" in futures_content.said_came_line(
        OURS
    ) and "too short" in futures_content.said_came_line(OURS)
    assert futures_content.said_came_line(PastRecord("records", "", "", 0, (), ())) == ""
    text = document_text(futures_content.document(futures_content.said_came_table(own)))
    assert "45%" in text and "70%" in text


def test_an_addition_tells_every_row_that_was_not_read():
    quotes = (FuturesQuote("2027-01", 332.1, NOV4),)
    read = QuoteFile(
        "q.csv", quotes, tuple(RejectedQuote(k, f"row {k}", "price") for k in range(2, 9)), 1, "lb"
    )
    added = QuotesAdded("b123", 1, 0, 0, 7, ("2027-01",), NOV4, NOV4)
    text = " ".join(document_text(futures_content.quotes_added_content(read, added)).split())
    assert "1 settlements added" in text and "7 rows not read" in text and "and 2 more rows" in text
    assert "dollars a pound" in text and "Batch b123" in text
    assert json_of(quotes_added_answer(read, added))["rejected"][0]["reason"] == "price"


def test_the_newest_contracts_are_shown():
    quotes = tuple(FuturesQuote(name, price, NOV4) for name, price in CONTRACTS)
    text = document_text(futures_content.quotes_content(quotes, quotes))
    assert "Jan 2027" in text and "332.10" in text and "2 settlements" in text
    assert "no futures yet" in document_text(futures_content.quotes_content((), ()))
    assert quotes_answer((), ())["quotes"] == 0
