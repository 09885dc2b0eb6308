"""One sale as quoted: whose a class behind it is, and which of two prices is by weight."""

from __future__ import annotations

import pytest

from slidefit.records.quoted_lots import Lot, counts_head, price_by_weight, settle_classes


def test_what_a_lot_has() -> None:
    assert not Lot(0, weight="512").priced and Lot(0, weight="512", none=True).priced


def test_steers_and_heifers_are_both_and_another_word_between_them_keeps_them_apart() -> None:
    assert Lot(0, words=["steers", "and", "heifers", "thin"]).told() == ("steers and heifers", "thin")
    assert Lot(0, words=["steers", "weaned", "heifers"]).told() == ("steers", "weaned heifers")


@pytest.mark.parametrize(
    ("lots", "classes", "below"),
    [
        ([("strs", "hfrs"), ("", "")], ["strs", "hfrs"], ""),
        ([("strs", ""), ("", "thin hfrs"), ("", "")], ["strs", "", "hfrs"], ""),
        ([("", "strs"), ("", "hfrs")], ["strs", "hfrs"], ""),
        ([("", ""), ("", "hfrs"), ("", "")], ["", "", "hfrs"], ""),
        ([("strs", ""), ("", "HEIFERS")], ["strs", ""], "HEIFERS"),
        ([("strs", "cows"), ("", "")], ["strs", "cows"], ""),
        ([("hfrs", "bred"), ("", "")], ["hfrs", ""], ""),
        ([("strs", "hfrs"), ("bulls", "")], ["strs", "bulls"], ""),
    ],
)
def test_whose_a_class_behind_a_lot_is(lots: list[tuple[str, str]], classes: list[str], below: str) -> None:
    made = [Lot(0, before=front.split(), tail=behind.split()) for front, behind in lots]
    assert settle_classes(made) == below
    assert [" ".join(lot.before + lot.words) for lot in made] == classes


@pytest.mark.parametrize(
    ("weight", "prices", "wanted"),
    [
        ("418 lbs", ("$1,860", "(445.00)"), ("(445.00)", "$/cwt")),
        ("277kg", ("487", "$1349"), ("487", "cents/kg")),
        ("277 kg", ("$1349", "4.87"), ("4.87", "$/kg")),
        ("500 lb", ("$4.10", "$2050"), ("$4.10", "$/lb")),
        ("500 lb", ("400.00", "2019"), ("400.00", "$/cwt")),  # within 1 %
        ("500 lb", ("400.00", "2021"), ("", "")),
        ("500-550 lb", ("400.00", "2100"), ("", "")),
        ("500 lb", ("400.00-410.00", "2020"), ("", "")),
    ],
)
def test_the_price_by_weight_is_that_whose_product_is_the_other(
    weight: str, prices: tuple[str, str], wanted: tuple[str, str]
) -> None:
    assert price_by_weight(weight, prices) == wanted


def test_a_number_in_brackets_far_from_the_price_counts_head() -> None:
    assert counts_head("(115)", "430.50") and not counts_head("(412)", "430.50")
