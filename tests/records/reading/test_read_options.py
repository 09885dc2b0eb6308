"""What a user says beside a file: checked before anything is read."""

from __future__ import annotations

from datetime import date

import pytest

from slidefit.errors import RecordsError
from slidefit.records.reading.read_options import ReadOptions, checked_mapping, checked_units, checked_values


def test_other_names_of_fields_and_units_are_taken_in_our_spelling() -> None:
    assert checked_mapping({" Wgt  of calf ": "Weight_LB"}) == {"Wgt of calf": "weight"}
    assert checked_units("USD/cwt", "Pounds", "dmy") == ("$/cwt", "lb", "dmy")
    assert checked_units(None, None, None) == ("", "", "")
    assert checked_values({"class": {" 1 ": " steer "}}) == {"sex": {"1": "steer"}}


@pytest.mark.parametrize(
    ("units", "words"),
    [
        (("bushel", None, None), ("'bushel' is not a unit of price", "$/cwt", "$/head")),
        ((None, "stone", None), ("'stone' is not a unit of weight", "lb, kg, cwt")),
        ((None, None, "ydm"), ("'ydm' is not an order of dates", "mdy", "dmy")),
    ],
)
def test_what_is_no_unit_is_told_with_those_there_are(
    units: tuple[str | None, ...], words: tuple[str, ...]
) -> None:
    with pytest.raises(RecordsError) as caught:
        checked_units(*units)
    assert caught.value.where and all(word in caught.value.text() for word in words)


def test_a_field_or_meaning_that_is_none_is_told_with_its_setting() -> None:
    with pytest.raises(RecordsError, match="'colour' is not a field of a sale record") as caught:
        checked_mapping({"Hide": "colour"})
    assert "Hide" in caught.value.where and "remarks" in caught.value.remedy
    with pytest.raises(RecordsError, match="'stear' is not a meaning of sex") as caught:
        checked_values({"sex": {"1": "stear"}})
    assert "1" in caught.value.where and "steer" in caught.value.remedy


def test_a_request_is_the_same_on_another_day_and_another_where_words_are_taught() -> None:
    asked = ReadOptions(market="Fen", today=date(2026, 11, 1))
    assert asked.key() == ReadOptions(market="Fen", today=date(2026, 11, 2)).key()
    others = [ReadOptions(market="Fern"), ReadOptions(market="Fen", values={"sex": {"1": "steer"}})]
    others += [
        ReadOptions(market="Fen", sale_day="title"),
        ReadOptions(market="Fen", market_names={"F": "Fen"}),
    ]
    assert len({asked.key(), *(each.key() for each in others)}) == 5
