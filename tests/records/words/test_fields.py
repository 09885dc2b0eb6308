"""What a heading can mean: one list, many spellings."""

from __future__ import annotations

import pytest

from slidefit.records.words import fields
from slidefit.records.words.fields import FIELD_NAMES, MAP_ALIASES, field_of, normal


@pytest.mark.parametrize(
    "spellings",
    [
        ("Sale Date", "sale_date", "SaleDate", "SALE-DATE", " sale  date ", "saledate"),
        ("Avg Wt", "avg. wt.", "AvgWt", "AVG_WT", "avgwt"),
        ("No.", "#", "no"),
        ("Lot #", "Lot No."),
        ("No. Head", "# Head", "no head"),
        ("categoria", "Categoría"),
    ],
)
def test_spellings_of_one_heading_mean_one_field(spellings: tuple[str, ...]) -> None:
    found = {field_of(text) and field_of(text)[0] for text in spellings}
    assert len(found) == 1 and None not in found


def test_the_first_phrase_of_a_field_is_the_surest() -> None:
    for field in fields.FIELDS:
        ranks = [rank for phrase in field.phrases if (found := field_of(phrase)) for rank in [found[1]]]
        assert ranks == sorted(ranks), field.name


def test_groups_and_other_names_are_of_fields_that_there_are() -> None:
    groups = (fields.MEASURE_FIELDS, fields.DATE_FIELDS, fields.IGNORED_FIELDS, fields.MANY_FIELDS)
    assert set().union(*groups, MAP_ALIASES.values()) <= set(FIELD_NAMES)
    assert not set(MAP_ALIASES) & set(FIELD_NAMES)


def test_words_come_apart_where_small_letters_meet_capitals() -> None:
    assert normal("LotWgt") == "lot wgt" and normal("PRICE") == "price" and normal("Buyer's #") == "buyers #"
