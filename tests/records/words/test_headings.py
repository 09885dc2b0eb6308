"""Headings that are in no list, read word by word."""

from __future__ import annotations

import pytest

from slidefit.records.words.fields import field_by_words
from slidefit.records.words.headings import parse_heading, parse_headings


@pytest.mark.parametrize(
    ("text", "field", "unit"),
    [
        ("Avg live weight (kg)", "weight", "kg"),
        ("Average liveweight (kg/head)", "weight", "kg"),
        ("Mean Live Wt", "weight", ""),
        ("Est. Wt", "weight", ""),
        ("Approx. weight, lbs per head", "weight", "lb"),
        ("Avg. Weight Per Head", "weight", ""),
        ("Sold weight (lb/hd)", "weight", "lb"),
        ("Live Wt Range (kg)", "weight_range", "kg"),
        ("Lowest live weight", "weight_low", ""),
        ("Heaviest weight sold (lb)", "weight_high", "lb"),
        ("Total Wt of Lot (lbs)", "lot_weight", "lb"),
        ("Gross liveweight kg", "lot_weight", "kg"),
        ("Avg c/kg", "price", "cents/kg"),
        ("Average sold price ($/cwt)", "price", "$/cwt"),
        ("Lowest price, c/kg lwt", "price_low", "cents/kg"),
        ("Max. price c/kg", "price_high", "cents/kg"),
        ("Range of bids, $/cwt", "price_range", "$/cwt"),
        ("Typical price per calf", "price_head", "$/head"),
        ("Av. $/hd", "price_head", "$/head"),
        ("Number of calves sold", "head", ""),
        ("Total no. of cattle", "head", ""),
        ("Actual sale date", "date", ""),
        ("Sale Dt", "date", ""),
        ("Avg Price CDN$/cwt", "price", "$/cwt"),
        ("\u20ac je kg", "price", "$/kg"),
        ("\u00d8 Preis je Tier (\u20ac)", "price_head", "$/head"),
        ("Cours moyen", "price", ""),
        ("LbsEach", "weight", "lb"),
        ("EXT_AMT", "amount", ""),
        ("N\u00ba de cabezas", "head", ""),
        ("Strate de poids (lb)", "weight_range", "lb"),
        ("Avg value per head", "price_head", "$/head"),
        ("D.O.B. month", "unused", ""),
        ("Age, days", "unused", ""),
        ("Location Sold", "market", ""),
        ("PRWTDAVG", "price", ""),
        ("WTLOW", "weight_low", ""),
        ("Liveweight range kg", "weight_range", "kg"),
        ("EUR/Stück", "price_head", "$/head"),
        ("Nb de têtes", "head", ""),
        ("Day of Sale", "date", ""),
        ("Sale Week Ending", "date", ""),
        ("Month/Year", "date", ""),
        ("Yr-Mo", "date", ""),
        ("Auction Mkt", "market", ""),
        ("Sale Barn Name", "market", ""),
        ("Gender Code", "sex", ""),
        ("Class/Sex", "sex", ""),
        ("Steer or Heifer", "sex", ""),
        ("Frame/Muscle Score", "grade", ""),
        ("Frame Sz", "frame", ""),
        ("Remarks/Notes", "remarks", ""),
        ("Cattle Sold", "head", ""),
        ("CWT $", "price", "$/cwt"),
        ("Price Per Hundred", "price", "$/cwt"),
        ("Hundredweight Price", "price", "$/cwt"),
        ("Price Rng", "price_range", ""),
        ("Wt Rng", "weight_range", ""),
        ("Gross $", "amount", ""),
        ("Lot price, $/cwt", "price", "$/cwt"),
        ("Lot Wt (lbs)", "lot_weight", "lb"),
    ],
)
def test_a_heading_in_other_words(text, field, unit):
    heading = parse_heading(text)
    assert (heading.field, heading.unit) == (field, unit)


@pytest.mark.parametrize(
    "text",
    [
        "Change in price",
        "Price last year",
        "Gain lb/day",
        "Price by weight",
        "Weight carcase pct",
        "Lot",
        "From",
        "Storage",
        "Heading",
    ],
)
def test_a_word_that_is_not_understood_leaves_the_heading_alone(text):
    assert field_by_words(text) == ""


@pytest.mark.parametrize(
    ("text", "sex"), [("St400-500", "St"), ("Hf400-500", "Hf"), ("S 500-600", "S"), ("Oak 400-500", None)]
)
def test_a_code_of_sex_before_a_weight_is_the_class(text, sex):
    pins = parse_heading(text).pins
    assert pins.get("category") == sex and pins["weight_range"].endswith("00")
    assert ("market" in pins) == (sex is None)


def test_a_place_and_a_day_across_the_top() -> None:
    told = parse_headings(["Ox Bend Oct. 12", "Parlin Oct. 16", "Price Oct. 16", "Avg 10/16/2026"])
    assert [heading.pins.get("market", "") for heading in told] == ["Ox Bend", "Parlin", "", ""]
    assert told[0].pins["date"] == "Oct. 12"
