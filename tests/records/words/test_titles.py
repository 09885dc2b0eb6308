"""What the lines around a table say for all of its rows."""

from __future__ import annotations

import pytest

from slidefit.records.words.report_days import date_in, year_in
from slidefit.records.words.titles import (
    LONGEST_NAME,
    footnotes,
    market_in,
    read_titles,
    told_around,
    weights_in,
)
from slidefit.records.words.units import refuses_prices


def test_a_report_says_place_day_class_grade_and_units_once() -> None:
    above = [
        "Hollow Creek Livestock Auction",
        "Sale of October 3, 2023        Printed 10/5/2023",
        "Feeder Steers Medium and Large 1-2, 500-600 lbs",
        "Dollars per hundredweight",
    ]
    said = read_titles(above, below=["Prices are Canadian dollars", "Yardage $4.00 per head"])
    assert said["market"] == "Hollow Creek Livestock Auction"
    assert (said["grade"], said["weight_range"], said["price_unit"]) == ("ML 1-2", "500-600 lbs", "$/cwt")
    assert said["currency"] == "CAD"


def test_fees_are_no_unit_of_price() -> None:
    assert "price_unit" not in read_titles(["Commission $15 per head"])
    assert read_titles(["Calves under 300 lb are sold per head"])["per_head_below"] == "300"
    assert read_titles(["Calves over 300 lb are sold per head"])["per_head_above"] == "300"


def test_the_day_of_sale_goes_before_other_days() -> None:
    assert date_in(["Published October 5, 2023", "Sale of October 3, 2023"]) == "Sale of October 3, 2023"
    assert date_in(["Printed 10/5/2023"]) == ""
    assert (year_in(["Fall 2023"]), year_in(["2022 and 2023"])) == ("2023", "")


@pytest.mark.parametrize(
    ("line", "refused"),
    [("Feeder cattle receipts by week", True), ("Feeder steer prices", False), ("Futures settlement", True)],
)
def test_numbers_that_are_no_prices_are_refused(line: str, refused: bool) -> None:
    assert refuses_prices([line]) is refused


def test_names_and_notes() -> None:
    name = "Ro" + "o" * (LONGEST_NAME - 10) + " Auction"
    assert market_in(name) == name and market_in(f"R{name}") == ""
    assert footnotes(["p = preliminary, r = revised"]) == {"p": "preliminary", "r": "revised"}
    assert weights_in(["Heifers 450 to 500 lb"]) == "450 to 500 lb"


@pytest.mark.parametrize(
    ("title", "market"),
    [
        ("Sale Report: Rook Hill Stockyards 10/8/26", "Rook Hill Stockyards"),
        ("Results from Rook Hill Livestock Commission Co., Thursday", "Rook Hill Livestock Commission Co."),
        ("Auction Yard: Rook Hill", "Rook Hill"),
        ("Fall Special Calf Sale - Rook Hill Livestock", "Rook Hill Livestock"),
        ("Special calf sale", ""),
        ("Thursday calf sale - Rook Hill", "Rook Hill"),
        ("Rook Hill Livestock Thursday (Oct 8)", "Rook Hill Livestock"),
        ("Subject: FW: Rook Hill Livestock, sale of 10/8/26", "Rook Hill Livestock"),
        ("From: Rook Hill Livestock office", ""),
        ("Market steady to firm on all weights", ""),
        ("Mercado de Ganado de Alta Rueda", "Mercado de Ganado de Alta Rueda"),
    ],
)
def test_a_name_stands_without_the_words_around_it(title: str, market: str) -> None:
    assert market_in(title) == market


def test_a_place_keeps_the_code_of_its_state_and_stands_beside_a_day() -> None:
    for line, market in (
        ("Gull Coulee Auction Mart, AB", "Gull Coulee Auction Mart, AB"),
        ("Wren Crossing, MB, 14 September 2026", "Wren Crossing, MB"),
        ("Barn prices", ""),
        ("Calves 10/3/2026", ""),
        ("Special 10/3/2026", ""),  # one word is no name
    ):
        assert read_titles([line]).get("market", "") == market
    assert read_titles(["NOVILLOS"])["category"] == "NOVILLOS"
    for line, market in (
        ("9/28/26 Cold Spring", "Cold Spring"),
        ("Cold Rill 9/28/26 Spring sale", "Cold Rill"),
        ("Ox Bend Livestock sold 1,212 feeder cattle on Oct 7, 2026", "Ox Bend Livestock"),
        ("We hauled to Ox Bend on Oct. 7, 2026", "Ox Bend"),
        (
            "At the Ox Bend Livestock Auction on Monday, Nov. 2, against 1,980 a week earlier",
            "Ox Bend Livestock Auction",
        ),
        ("Regular cattle sale, Thursday, October 8, 2026", ""),
    ):
        assert read_titles([line]).get("market", "") == market


def test_the_whole_name_of_a_place_beats_its_beginning() -> None:
    assert (
        read_titles(["Rook Hill Auction", "Rook Hill Auction Company, Nov 3"])["market"]
        == "Rook Hill Auction Company"
    )
    assert read_titles(["Rook Hill Auction", "Fen Creek Auction"])["market"] == "Rook Hill Auction"


@pytest.mark.parametrize(
    ("days", "day"),
    [
        (("Issue 45, November 18, 2026", "sold on Thursday, November 5"), "2026-11-05"),
        (("November 18, 2026", "sold on Thursday, November 5"), "2026-11-05"),
        (
            ("November 19, 2026", "sold on Thursday, November 5"),
            "November 19, 2026",
        ),  # 14 days: of another sale
        (("November 5, 2026", "The next sale is on November 12"), "November 5, 2026"),
        (("Sale of November 18, 2026", "sold on Thursday, November 5"), "Sale of November 18, 2026"),
        (("Date: Thu, 05 Nov 2026 20:31:07 -0600",), None),
        (("No sale on November 26, 2026",), None),
        (
            ("County news, November 2026", "Sale at Ox Bend, October 20, 2026"),
            "Sale at Ox Bend, October 20, 2026",
        ),
    ],
)
def test_a_day_that_a_sentence_calls_that_of_the_sale_beats_the_papers(
    days: tuple[str, ...], day: str | None
) -> None:
    assert read_titles(days).get("date") == day


def test_a_commission_company_is_no_fee() -> None:
    said = read_titles(["Fen Creek Commission Co.: prices in $/cwt (Canadian dollars)"])
    assert (said["currency"], said["price_unit"]) == ("CAD", "$/cwt")
    assert "price_unit" not in read_titles(["Commission is $4.00 per cwt"])


@pytest.mark.parametrize(
    ("titles", "market"),
    [
        (["Cold Rill Weekly Wrap"], ""),  # rill is no kind of land that is known
        (["COLD RIDGE WEEKLY MARKET WRAP"], "COLD RIDGE"),
        (["Cold Ridge: Average prices by weight, $/cwt"], "Cold Ridge"),
        (["Consignment results, Cold Ridge"], "Cold Ridge"),
        (["Calf prices at Cold Ridge, fall 2026 (average $/cwt)"], "Cold Ridge"),
        (["All sold at Cold Ridge Auction. Price is cents per pound."], "Cold Ridge Auction"),
        (["Cold Ridge"], ""),  # a name with nothing around it
        (["Dana Hill", "Feeder prices"], ""),
        (["Cold Ridge Ranch calves, prices by weight"], ""),
        (["Cold Ridge Bulletin", "Feeder prices"], ""),
        (["Supper at Cold Ridge after the sale"], ""),
        (["Calves sold at Cold Ridge", "Calves sold at Ox Bend"], ""),
        (["LOST MULE, Thursday Oct. 29, 2026"], "LOST MULE"),
        (["BRED COWS, Thursday Oct. 29, 2026"], ""),
        (["## Ox Bend Livestock, Oct 28 2026"], "Ox Bend Livestock"),
        (["Marché du mercredi 14 octobre 2026", "Foirail de Lieu-le-Haut"], "Foirail de Lieu-le-Haut"),
        (["Rook Hill Auction Yards: average prices by month ($ per cwt)"], "Rook Hill Auction Yards"),
        (["Average prices, steers and heifers, Rook Hill Livestock ($/cwt)"], "Rook Hill Livestock"),
        (["The Cold Ridge sale on October 13, 2026 drew a crowd"], "Cold Ridge"),
        (["The Holiday Calf sale on October 13, 2026 drew a crowd"], ""),
        (["Sold at Cold Rill Commission Co. on October 13, 2026."], "Cold Rill Commission Co."),
        (["At **Ox Bend Sale Pavilion** on Thursday, November 5, 2026"], "Ox Bend Sale Pavilion"),
        (["AVERAGE PRICES AT THREE YARDS"], ""),
        (["PRESORT MAPLE CALF SALE", "Ox Bend Auction Mart"], "Ox Bend Auction Mart"),
    ],
)
def test_the_place_of_sale_in_titles(titles: list[str], market: str) -> None:
    assert read_titles(titles).get("market", "") == market


def test_a_bare_name_of_land_is_a_place_where_it_may_be() -> None:
    assert read_titles(["Feeder prices", "Cold Ridge"], bare=["Cold Ridge"])["market"] == "Cold Ridge"
    for bare in (["Dana Hill"], ["Cold Ridge", "Ox Bend"], ["Fall Draw"], ["Cold Ridge Ranch"]):
        assert "market" not in read_titles(bare, bare=bare)
    assert (
        read_titles(["Rook Hill Auction", "Cold Ridge"], bare=["Cold Ridge"])["market"] == "Rook Hill Auction"
    )


def test_a_bare_name_between_rows_is_a_place_where_there_is_one_only() -> None:
    assert told_around([], ["STEERS", "Cold Ridge", "Cold Ridge"], [], {}) == {"market": "Cold Ridge"}
    assert told_around([], ["Cold Ridge", "Ox Bend"], [], {}) == {}  # consignors, perhaps
    assert told_around([], ["Cold Ridge"], [], {"market": "Rook Hill"}) == {}


def test_a_sentence_below_a_table_tells_its_day_and_place() -> None:
    sold = "The pens were sold on Friday, October 2, at Ox Bend Livestock, whom we thank."
    assert told_around([], [], ["Dues by December 1.", sold], {"year": "2026"}) == {
        "date": "2026-10-02",
        "market": "Ox Bend Livestock",
    }
    assert told_around(["2026"], [], [sold, "The rest were sold on October 9."], {}) == {}
    assert told_around([], [], ["The supper will be held on December 5, 2026"], {}) == {}
