"""Cards are kept in the book and beside it; a sale told under two names is asked about."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import DocumentError, QuestionError, RecordsError
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from slidefit.records.source_book import ask_about_same_sales, cards_folder, cards_of, forget_card, keep_cards
from tests.records.test_known_sources import file, taught


def test_a_card_is_in_the_book_and_beside_it(tmp_path: Path) -> None:
    book, _ = taught(tmp_path)
    path = cards_folder(book) / "rook-hill.toml"
    assert '1 = "steer"' in path.read_text()
    path.write_text(path.read_text().replace('2 = "heifer"', '2 = "bull"'))
    assert cards_of(book)["rook-hill"].values["sex"]["2"] == "bull"  # the file goes before the book
    path.unlink()
    assert cards_of(book)["rook-hill"].values["sex"]["2"] == "heifer"
    path.write_text("name = 'rook-hill'\nprize = 1\n")
    with pytest.raises(DocumentError, match="line 2"):
        cards_of(book)
    path.unlink()
    forget_card(book, "rook-hill")
    assert cards_of(book) == {}
    with pytest.raises(RecordsError, match="no source 'rook-hill'"):
        forget_card(book, "rook-hill")


def test_keeping_the_same_cards_leaves_the_book_as_it_is(tmp_path: Path) -> None:
    book, result = taught(tmp_path)
    before = book.read_bytes()
    keep_cards(book, result.cards)
    assert book.read_bytes() == before


def test_the_same_sale_under_another_name_is_asked_about(tmp_path: Path) -> None:
    book, _ = taught(tmp_path)
    path = file(tmp_path, "two.csv")
    path.write_text(path.read_text().replace("Rook Hill", "Rook Hill LLC"))
    cards = cards_of(book)
    with pytest.raises(QuestionError, match="6 of 6 rows are the same"):
        ask_about_same_sales(book, read(path, cards=cards))
    for name in ("Rook Hill", "Rook Hill LLC"):
        settled = read(path, cards=cards, market_names={"Rook Hill LLC": name})
        ask_about_same_sales(book, settled)
        assert set(settled.records["market"]) == {name}
    assert SaleBook(book).add(read(path, cards=cards, market_names={"Rook Hill LLC": "Rook Hill"})).added == 0
