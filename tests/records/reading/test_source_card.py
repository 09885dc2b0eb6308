"""The card of a source as TOML: written, read back the same, checked with the line of each fault."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import DocumentError, RecordsError
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.source_card import SourceCard, card_from, card_toml, read_card

CARD = SourceCard(
    "rook-hill",
    ("Sale Dat", 'Avg "Wt"', "Sx"),
    mapping={"Sale Dat": "date", 'Avg "Wt"': "weight"},
    values={"sex": {"1": "steer", "Génisses": "heifer"}, "price_unit": {"X": "$/head"}},
    market_names={"Rook Hill LLC": "Rook Hill"},
    market="Rook Hill",
    price_unit="$/cwt",
    sale_day="title",
    skip_rows=2,
    understood={"grade": {"L1": "L 1"}},
    ranges={"price_cwt": (150.0, 320.5)},
)


def test_a_card_comes_back_as_it_went_out(tmp_path: Path) -> None:
    path = tmp_path / "rook.toml"
    path.write_text(card_toml(CARD), encoding="utf-8")
    assert read_card(path) == CARD
    assert card_from(card_toml(SourceCard("a")), "a") == SourceCard("a")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("prize_unit = '$/cwt'", ("line 2", "prize_unit", "Did you mean price_unit")),
        ("price_unit = 'bushel'", ("line 2", "'bushel' is not a unit of price")),
        ("sale_day = 'monday'", ("line 2", "title or column")),
        ("skip_rows = -1", ("line 2", "whole number")),
        ("headings = 'Head'", ("line 2", "list of texts")),
        ("[columns]\nWt = 'heaviness'", ("line 3", "not a field")),
        ("[values.sex]\n1 = 'stear'", ("line 3", "steer, heifer")),
        ("[ranges]\nprice_cwt = [9, 1]", ("line 3", "lowest and highest")),
        ("name = 'twice'", ("line 2",)),
        ("headings = " + "[" * 2000, ("rook.toml", "nested too deep")),
    ],
)
def test_a_fault_is_told_with_its_line(line: str, words: tuple[str, ...]) -> None:
    with pytest.raises(DocumentError) as fault:
        card_from(f"name = 'rook'\n{line}\n", "rook.toml")
    assert all(word in fault.value.text() for word in words), fault.value.text()


def test_there_is_no_such_card(tmp_path: Path) -> None:
    with pytest.raises(RecordsError, match="no such file"):
        read_card(tmp_path / "none.toml")


def test_what_is_said_now_goes_before_the_card() -> None:
    told = CARD.completes(ReadOptions(market="Dry Ford", values={"sex": {"1": "bull"}}))
    assert told.market == "Dry Ford" and told.price_unit == "$/cwt"
    assert told.values["sex"] == {"1": "bull", "Génisses": "heifer"}
