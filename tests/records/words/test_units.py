"""Weight classes, weights, prices, units and money as cells write them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from slidefit.records.read import read
from slidefit.records.words.units import (
    PRICE_FACTORS,
    WEIGHT_FACTORS,
    currency_of,
    is_province,
    names_province,
    parse_head,
    parse_price,
    parse_weight,
    parse_weight_class,
    row_price_unit,
)


@pytest.mark.parametrize(
    ("text", "code"),
    [("C$/cwt", "CAD"), ("$/cwt", ""), ("pesos por kg", "MXN"), ("R$ 8,50", "BRL"), ("US$", "USD")],
)
def test_money_by_its_name(text: str, code: str) -> None:
    assert currency_of(text) == code


def test_provinces_are_no_states() -> None:
    assert all(map(is_province, ("AB", "Saskatchewan", "QC", "Québec", "BC")))
    assert not any(map(is_province, ("MT", "ND", "NSW", "Alberta Springs", "")))
    assert names_province("Alder Coulee, Alberta") and not names_province("Sale on Monday, MB")


@pytest.mark.parametrize(
    ("places", "said", "wanted"),
    [
        (("AB", "SK"), None, ["CAD", "CAD"]),
        (("MT", "SK"), None, ["USD", "CAD"]),
        (("MT", "ND"), None, ["USD", "USD"]),
        (("AB", "SK"), "USD", ["USD", "USD"]),
    ],
)
def test_money_by_province(
    tmp_path: Path, places: tuple[str, str], said: str | None, wanted: list[str]
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "date,state,class,head,wt,price\n"
        f"2023-10-03,{places[0]},Steers,40,560,352\n2023-10-03,{places[1]},Steers,35,565,349\n"
    )
    result = read(path, currency=said)
    assert result.records["currency"].tolist() == wanted
    assert any("taken as CAD" in note for note in result.notes) == ("CAD" in wanted)


KG_PER_LB = 0.45359237  # exact (NIST Special Publication 811, appendix B.8)


@pytest.mark.parametrize(
    ("text", "low", "high", "open_ended"),
    [
        ("500-550", 500, 550, False),
        ("400- 450", 400, 450, False),
        ("1,004-1,042", 1004, 1042, False),
        ("739-739", 739, 739, False),
        ("5-600", 500, 600, False),
        ("553 to 561 lbs.", 553, 561, False),
        ("600lbs", 600, 600, False),
        ("462#", 462, 462, False),
        ("400+", 400, 400, True),
        ("901 +", 901, 901, True),
        ("900 plus", 900, 900, True),
        ("over 900 lbs", 900, 900, True),
        ("600-up", 600, 600, True),
        ("0-200", 0, 200, True),
    ],
)
def test_weight_classes(text: str, low: float, high: float, open_ended: bool) -> None:
    found = parse_weight_class(text)
    assert found is not None
    assert (found.low, found.high, found.open_ended) == (low, high, open_ended)


def test_a_calf_brings_the_same_money_in_every_unit() -> None:
    """$250/cwt is $2.50/lb, 250 cents/lb, $5.5116/kg: each way the check of 500 lb is $1,250."""
    per_unit = {
        "$/cwt": 250.0,
        "$/lb": 2.5,
        "cents/lb": 250.0,
        "$/kg": 2.5 / KG_PER_LB,
        "cents/kg": 250 / KG_PER_LB,
    }
    for unit, price in per_unit.items():
        assert price * PRICE_FACTORS[unit] * 500 / 100 == pytest.approx(1250), unit
    assert 500 * KG_PER_LB * WEIGHT_FACTORS["kg"] == pytest.approx(500)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [("6-May", 5, 6), ("May-6", 5, 6), ("2026-05-06", 5, 6), ("7-May", None, None), ("2026-10-11", 10, 11)],
)
def test_a_weight_class_that_a_spreadsheet_took_for_a_date(
    text: str, low: float | None, high: float | None
) -> None:
    """5-6 hundredweight becomes the sixth of May; no class is two hundredweight wide."""
    found = parse_weight_class(text)
    assert (found and found.unit) == (None if low is None else "cwt")
    assert (found and found.low, found and found.high) == (low, high)


@pytest.mark.parametrize(
    ("text", "given", "unit"),
    [
        ("$250.00 PO", False, ""),  # passed out
        ("bid 240", False, ""),
        ("240 est.", False, ""),
        ("250.00*", True, ""),
        ("$2.50/lb", True, "$/lb"),
        ("825 ea", True, "$/head"),
        ("-5", False, ""),
        ("=B2*2", False, ""),
    ],
)
def test_a_bid_is_no_price(text: str, given: bool, unit: str) -> None:
    cell = parse_price(text)
    assert (cell.given, cell.unit if given else "") == (given, unit)


def test_nothing_weighs_nothing() -> None:
    assert math.isnan(parse_weight("0").low) and math.isnan(parse_head("0"))
    assert parse_weight("1").low == parse_head("1") == 1.0
    assert [row_price_unit(text) for text in ("per head", "by weight", "dollars")] == ["$/head", "$/cwt", ""]
