"""A source is taught once: its card is found by the headings, applied, and asked about when the source changes."""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd
import pytest

from slidefit.errors import QuestionError
from slidefit.records.known_sources import check_level
from slidefit.records.read import read
from slidefit.records.reading.source_card import SourceCard
from slidefit.records.result import ReadResult
from slidefit.records.sale_book import SaleBook
from slidefit.records.source_book import cards_of, keep_cards

HEADING = "When,Where,What,How many,How heavy,How much"
MAPPING = {
    "When": "date",
    "Where": "market",
    "What": "sex",
    "How many": "head",
    "How heavy": "weight",
    "How much": "price",
}
VALUES = {"sex": {"1": "steer", "2": "heifer"}}


def file(
    folder: Path,
    name: str,
    day: str = "2023-10-03",
    *,
    heading: str = HEADING,
    factor: float = 1.0,
    words: str = "12",
) -> Path:
    rows = [
        f"{day},Rook Hill,{words[at % 2]},{10 + at},{500 + 10 * at},{factor * (250 - 2 * at):.4f}"
        for at in range(6)
    ]
    path = folder / name
    path.write_text("\n".join((heading, *rows)) + "\n")
    return path


def taught(folder: Path) -> tuple[Path, ReadResult]:
    book = folder / "sales.duckdb"
    result = read(file(folder, "one.csv"), mapping=MAPPING, values=VALUES)
    SaleBook(book).add(result)
    keep_cards(book, result.cards)
    return book, result


def test_six_columns_and_two_words_are_taught_once(tmp_path: Path) -> None:
    book, _ = taught(tmp_path)
    again = read(file(tmp_path, "two.csv", "2023-10-10"), cards=cards_of(book))
    assert again.accepted == 6 and again.files[0].source == "rook-hill"
    assert any("source 'rook-hill'" in note for note in again.notes)


def test_a_new_heading_is_asked_about(tmp_path: Path) -> None:
    book, _ = taught(tmp_path)
    path = file(tmp_path, "two.csv", "2023-10-10", heading=f"{HEADING},Wean days")
    path.write_text(path.read_text().replace("\n2023", "\n2023"))
    with pytest.raises(QuestionError, match="a new heading 'wean days'"):
        read(path, cards=cards_of(book), mapping=MAPPING)
    settled = read(path, cards=cards_of(book), source="rook-hill")
    assert settled.accepted == 6 and "Wean days" in settled.cards[0].headings


def test_a_new_word_is_asked_about_where_words_were_taught(tmp_path: Path) -> None:
    book, _ = taught(tmp_path)
    with pytest.raises(QuestionError, match=r"'3' \(3 rows\)"):
        read(file(tmp_path, "two.csv", "2023-10-10", words="13"), cards=cards_of(book))
    told = read(file(tmp_path, "two.csv", "2023-10-10", words="1B"), cards=cards_of(book))
    assert any("'B' as bull" in note for note in told.notes)


@pytest.mark.parametrize(
    ("factor", "asked"), [(0.01, True), (0.45, True), (0.55, False), (1.8, False), (2.2, True)]
)
def test_another_level_of_price_is_asked_about(tmp_path: Path, factor: float, asked: bool) -> None:
    book, result = taught(tmp_path)
    assert result.cards[0].ranges["price_cwt"] == pytest.approx((240.1, 249.9), abs=0.01)
    path = file(tmp_path, "two.csv", "2023-10-10", factor=factor)
    if not asked:
        assert read(path, cards=cards_of(book), price_unit="$/cwt").accepted == 6
        return
    cards = cards_of(book)
    card = cards["rook-hill"]
    given = {**cards, "rook-hill": SourceCard(**{**vars(card), "price_unit": "$/cwt"})}
    with pytest.raises(QuestionError, match="the unit may be another"):
        read(path, cards=given, source="rook-hill")


@pytest.mark.parametrize(("price", "asked"), [(10.0, False), (9.99, True), (1500.0, False), (1500.01, True)])
def test_prices_that_calves_never_brought_are_asked_about(price: float, asked: bool) -> None:
    def notes(*, money: str = "USD", settled: bool = False) -> list[str]:
        frame = pd.DataFrame({"currency": [money] * 3, "price_cwt": [price, 200.0, price]})
        return check_level(None, frame, "a.csv", unit_settled=settled)

    assert notes(money="MXN") == []
    assert bool(notes(settled=True)) is asked  # told, where the user said the unit
    if asked:
        with pytest.raises(QuestionError, match="which calves don't bring"):
            notes()
    else:
        assert notes() == []


def test_one_file_with_a_question_stops_no_other(tmp_path: Path) -> None:
    files = [file(tmp_path, "a.csv", words="SH"), file(tmp_path, "b.csv")]
    result = read(files, mapping=MAPPING)
    assert result.accepted == 6 and [part.file for part in result.parts] == ["a.csv"]
    assert len(result.questions) == 1 and "b.csv" in result.questions[0].text()
    with pytest.raises(QuestionError):
        read(files[1:], mapping=MAPPING)


def test_two_barns_with_one_format_have_two_cards(tmp_path: Path) -> None:
    heading = HEADING.replace("Where", "Notes")
    one = read(file(tmp_path, "a.csv", words="SH", heading=heading), mapping=MAPPING, market="Alder")
    cards = {card.name: card for card in one.cards}
    two = read(
        file(tmp_path, "b.csv", words="SH", heading=heading), mapping=MAPPING, market="Birch", cards=cards
    )
    cards |= {card.name: card for card in two.cards}
    assert {card.market for card in cards.values()} == {"Alder", "Birch"}
    path = file(tmp_path, "c.csv", "2023-10-10", words="SH", heading=heading)
    with pytest.raises(QuestionError, match="several sources"):
        read(path, mapping=MAPPING, cards=cards)
    assert set(read(path, cards=cards, source="birch").records["market"]) == {"Birch"}
    assert set(read(path, cards=cards, market="Alder", mapping=MAPPING).records["market"]) == {"Alder"}


def test_a_large_file_is_read_by_its_card_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("slidefit.records.large_files.STREAM_BYTES", 10)
    book, _ = taught(tmp_path)
    plan_made = []
    module = sys.modules["slidefit.records.read"]
    original = module.read_pieces
    monkeypatch.setattr(module, "read_pieces", lambda *args: (plan_made.append(args[1]), original(*args))[1])
    again = read(file(tmp_path, "two.csv", "2023-10-10"), cards=cards_of(book))
    assert len(plan_made) == 1 and again.accepted == 6
    assert again.records["sex"].tolist()[:2] == ["steer", "heifer"]
    with pytest.raises(QuestionError, match=r"'3' \(3 rows\)"):
        read(file(tmp_path, "three.csv", "2023-10-17", words="13"), cards=cards_of(book))
