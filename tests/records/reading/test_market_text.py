"""The one reader of reports and lists as text: header lines, column lines, clauses, and what is left over."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from slidefit.errors import RecordsError
from slidefit.records.read import read
from slidefit.records.reading.market_text import Residue, market_text
from slidefit.records.reading.text_layout import joined_lines
from slidefit.records.words.animals import sex_of


def rows(text: str) -> list[dict[str, str]]:
    table, _, _ = market_text(text, "a report")
    assert table is not None
    fields = [heading.field for heading in table.headings]
    return [
        {name: column.values[column.codes[at]] for name, column in zip(fields, table.columns, strict=True)}
        for at in range(len(table.rows))
    ]


def test_the_day_of_sale_beats_the_dateline() -> None:
    text = (
        "VARNEY, ZZ (October 12, 2023) - Cold Spring Auction reported for its sale of Tuesday, October 10, 2023:\n"
        "Steers: 450-500 lbs 255.00-268.00; 550-600 lbs 233.00-241.00"
    )
    assert {row["date"] for row in rows(text)} == {"2023-10-10"}
    assert {row["market"] for row in rows(text)} == {"Cold Spring Auction"}


def test_a_day_without_a_year_takes_the_datelines_or_the_year_before() -> None:
    lots = "Steers: 6 head, 405 lbs., 171.50; 3 head, 512 lbs., 160.00"
    text = f"September 3, 2019 Ridge Livestock reported receipts of 900 head on Aug. 29, compared to Sept. 5.\n{lots}"
    assert rows(text)[0]["date"] == "2019-08-29"
    text = f"January 4, 2024 Ridge Livestock reported receipts of 900 head on Dec. 28.\n{lots}"
    assert rows(text)[0]["date"] == "2023-12-28"


@pytest.mark.parametrize(
    "said",
    [
        "Brookmere Auction sold 611 head Tuesday, compared to 702 a week ago",
        "Brookmere Auction reports 611 head for the sale Sept. 3, compared to 702 on Aug. 27",
        "Brookmere Auction: Tuesday's sale (Sept. 3), 611 head",
    ],
)
def test_the_day_of_sale_in_a_sentence_below_the_dateline(said: str) -> None:
    text = f"BROOKMERE, Sept. 6, 2019 - {said}.\nSteers: 4 head, 388 lbs., $171.50; 13 head, 466 lbs., $158."
    assert {row["date"] for row in rows(text)} == {"2019-09-03"}


@pytest.mark.parametrize("sex", ["Feeder steers", "Heifers"])
def test_an_age_or_a_color_keeps_the_sex_above(sex: str) -> None:
    text = (
        f"Sale 10/14/2024\n{sex}, medium and large 1: 9 head, 437 lbs., 268.00. Yearlings: 31 head, 688 lbs., 244.00.\n"
        "Calves: 6 hd mixed colors 588 lbs 251.50; 4 hd yearlings 702 lbs 240.00\n"
        "Mixed: 5 head, 420 lbs., 255.00. Cows: 3 head, 1180 lbs., 112.00"
    )
    found = [(sex_of(row["sex"]), row.get("grade", "")) for row in rows(text)]
    told = sex_of(sex)
    assert found == [(told, "ML 1")] * 4 + [("mixed", ""), ("", "")]


def test_class_grade_and_place_hold_until_they_change() -> None:
    text = (
        "Sale day October 10, 2023\n"
        "Steers at Tamarack Flat: Medium and large 1, 14 head, 512 lbs. 251.25; at Dry Ford: 9 head, 530 lbs. 246.00\n"
        "Heifers at Tamarack Flat: 11 head, 498 lbs. 228.00"
    )
    found = [(row["market"], row["sex"], row.get("grade", "")) for row in rows(text)]
    assert found == [
        ("Tamarack Flat", "Steers", "ML 1"),
        ("Dry Ford", "Steers", "ML 1"),
        ("Tamarack Flat", "Heifers", ""),
    ]


def test_sellers_before_a_lot_are_not_kept() -> None:
    text = "Sale 10/12/2023\nCrane Ranch, 24 blk strs, 563 lbs., 246.50\nTolland Family, 13 mx hfrs, 517 lbs., 226.00"
    kept = " ".join(value for row in rows(text) for value in row.values())
    assert "Crane" not in kept and "Tolland" not in kept


def test_a_sentence_that_runs_over_lines_is_one() -> None:
    text = "Sale 10/12/2023. Feeder steers, medium and large 1: 6 head, 412 to 440 lbs., 266.00 to\n272.00 (269.45)."
    assert rows(text)[0]["price_range"] == "266.00 to 272.00"


def test_residue_is_law() -> None:
    text = (
        "Sale 10/12/2023\nSteers: 400-450 lbs. $182.00-$196.00; 512 lbs. 250.00 and 240.00\n"
        "Heifers 500-550 lbs were 5.00 higher.\nSomething for $19.95\nSlaughter cows $78.00-$94.00"
    )
    table, _, residue = market_text(text, "a report")
    assert table is not None and len(table.rows) == 2
    assert residue.not_sales == 3  # the change, a price that is none of calves, and the cows without a weight
    assert [line for line, _ in residue.not_understood] == [2]
    assert Residue(0, [(1, "450 lbs 300 and 500 lbs 290"), (2, "thin 280")]).lost == 3


def test_a_lot_in_a_sentence_beside_a_list_of_another_shape_is_not_one_of_the_list() -> None:
    listed = "\n".join(f"{n} head 4{n}0-4{n}9 lbs (4{n}5) 425.26-448.26 (436.26)" for n in range(1, 6))
    told = "A load of 68 head 788 lb steers sold at 341.75."
    _, _, residue = market_text(f"{told}\nFeeder Steers\n{listed}", "a report")
    assert [row["head"] for row in rows(f"{told}\nFeeder Steers\n{listed}")] == [
        f"{n} head" for n in range(1, 6)
    ]
    assert residue.not_understood == [(1, told.rstrip("."))]
    assert (
        len(rows(f"{told}\nFeeder Steers\n{listed.rpartition(chr(10))[0]}")) == 5
    )  # of so few it may be one


def test_calves_of_another_sex_behind_a_lot_are_not_left_out() -> None:
    table, _, residue = market_text(
        "STEERS\n12 hd 512 lbs 350.00\n9 hd 455 lbs 380.00 off the heifers", "a report"
    )
    assert table is not None and len(table.rows) == 1 and len(residue.not_understood) == 1


def test_a_correction_that_names_no_lot_is_refused() -> None:
    lots = "[10/9/26, 5:02 PM] Jo: at Opal Run\n[10/9/26, 5:09 PM] Jo: 18 strs 562 lb 391\n"
    assert rows(lots)[0]["head"] == "18"
    with pytest.raises(RecordsError, match="line 3 tells of a correction"):
        market_text(f"{lots}[10/9/26, 5:11 PM] Jo: oops, 381 on the 562s", "a chat")


def test_names_before_days_part_the_sales_of_a_roundup() -> None:
    lots = "  Steers 400-500 lb: 430.50 (115)\n  Heifers 400-500 lb: 408.50 (28)"
    text = "Week of Oct 24, 2026"
    for barn in ("OPAL RUN -- Monday, Oct. 19   Head 1,185", "WREN GAP -- Oct. 21   Head 90"):
        text = f"{text}\n{barn}\n{lots}"
    assert [(row["market"], row["date"], row["head"]) for row in rows(text)][1:3] == [
        ("OPAL RUN", "2026-10-19", "28"),
        ("WREN GAP", "2026-10-21", "115"),
    ]


def test_a_cow_between_lots_is_not_the_class_of_the_next_line() -> None:
    text = "Opal Run Oct 8 2026\n9 blk strs 548 @ 3.96\nold cow 1310 @ 1.62\n21 red strs 611 @ 3.72"
    assert [row["sex"] for row in rows(text)] == ["blk strs", "old cow", "red strs"]


def test_a_text_without_sales_gives_no_table() -> None:
    assert market_text("There was no sale this week.", "a note")[0] is None


def test_a_unit_at_the_start_of_a_line_is_of_the_number_before_it() -> None:
    lines = [(1, "16 head, 444"), (2, "lbs, $434.75"), (3, "head  lbs  price")]
    assert joined_lines(lines) == [(1, "16 head, 444 lbs, $434.75"), (3, "head  lbs  price")]


def test_lines_that_never_end_are_joined_in_time_to_their_length() -> None:
    """Every line looks as if the one before runs on: reading the joined line again each time would take hours."""
    text = "\n".join(
        ["6 head of steers at about 412 lbs., 266.00 a hundredweight and then to the next,"] * 50_000
    )
    started = time.process_time()
    assert len(joined_lines(enumerate(text.split("\n"), 1))) == 1
    assert time.process_time() - started < 2.0


def test_a_sale_day_takes_the_year_of_the_dateline_and_the_barn_beside_it() -> None:
    text = """Far Hill, ZZ    Fri, Jan 2, 2026    ZZ Dept of Agriculture Market News
** Fen Gate Livestock Market, Fen Gate ZZ     Sale date: Monday Dec 29
   STEERS  Medium and Large 1
  Head   Wt Range   Avg Wt    Price Range    Avg Price
    12    537-564      552    385.82-398.82    392.82
** Stone Moor Auction Barn, Stone Moor ZZ     Sale date: Thursday Jan 1
   STEERS  Medium and Large 1
  Head   Wt Range   Avg Wt    Price Range    Avg Price
    18    589-616      604    367.32-380.32    374.32
"""
    table, _, _ = market_text(text, "a report")
    assert table is not None
    told = {
        each.text: list(column.distinct()) for each, column in zip(table.headings, table.columns, strict=True)
    }
    assert told["market"] == ["Fen Gate Livestock Market", "Stone Moor Auction Barn"]
    assert told["date"] == ["2025-12-29", "2026-01-01"]


def test_a_final_report_takes_the_place_of_the_preliminary_one_above_it(tmp_path: Path) -> None:
    blocks = [
        f"ROOK HILL STOCKYARDS\nThursday, November 12, 2026   {stage}\n\nSteers Medium and Large 1\n"
        f"  Head   Avg Wt   Avg Price\n     9      437      438.92\n    24      519      {price}\n"
        "    17      633      365.03\n"
        for stage, price in (("PRELIMINARY", "403.68"), ("FINAL", "405.10"))
    ]
    path = tmp_path / "report.txt"
    path.write_text("\n".join(blocks))
    result = read(path)
    assert result.records["price_cwt"].tolist() == [438.92, 405.10, 365.03]
    assert result.reasons == {"superseded": 3}


def test_a_place_told_for_later_lots_is_not_that_of_earlier_ones() -> None:
    text = "Oct 9, 2026. 12 steers 550 lbs $390; 8 heifers 510 lbs $371.\nRook Hill Auction\n9 steers 600 lbs $377.\n"
    table, _, _ = market_text(text, "a.txt")
    places = [heading.field for heading in table.headings].index("market")
    assert [table.columns[places].values[code] for code in table.columns[places].codes] == [
        "",
        "",
        "Rook Hill Auction",
    ]


@pytest.mark.parametrize(
    ("above", "first", "second"),
    [
        (
            "Week of October 26-31, 2026",
            "   -- Rook Hill Livestock, Monday Oct 26",
            "   -- Fen Creek Auction, Oct 28",
        ),
        ("Per cwt", "(Rook Hill Livestock, Oct. 26, 2026)", "(Fen Creek Auction, Oct. 28, 2026)"),
        ("Per cwt, 2026", "~ Rook Hill Livestock 10/26/2026", "~ Fen Creek Auction 10/28/2026"),
        (
            "In 2026",
            "That was Rook Hill Livestock on Oct 26, 2026.",
            "That was Fen Creek Auction on Oct 28, 2026.",
        ),
    ],
)
def test_lines_below_blocks_are_theirs_where_the_last_one_ends_the_text(
    above: str, first: str, second: str
) -> None:
    lots = "steers  9 hd  480 lb  410.00\nheifers  3 hd  543 lb  358.50\n"
    told = [("Rook Hill Livestock", "26"), ("Fen Creek Auction", "28")]
    for text in (
        f"{above}\n{lots}{first}\n\n{lots}{second}\n",
        f"{above}\n{first}\n{lots}\n{second}\n{lots}",
    ):
        found = rows(text)
        days = [row["date"].removesuffix("/2026")[-2:] for row in found]
        assert list(zip([row["market"] for row in found], days, strict=True)) == [told[0]] * 2 + [told[1]] * 2


def test_a_house_beats_its_sale_and_a_province_tells_the_money() -> None:
    title = "PRESORT MAPLE CALF SALE - Tuesday, Nov. 3, 2026"
    text = f"Rook Hill Auction Mart\nFen, {{}}\n\n{title}\nSteers 9 hd 480 lb $510.00\n"
    table, _, _ = market_text(text.format("Manitoba"), "a")
    assert table is not None and table.said["currency"] == "CAD"
    assert rows(text.format("Ohio"))[0]["market"] == "Rook Hill Auction Mart"
    assert rows(text.replace("Rook Hill Auction Mart", ""))[0]["market"] == "PRESORT MAPLE CALF SALE"


def test_a_section_has_its_own_day_and_not_the_end_of_the_week() -> None:
    section = (
        "{}\nSale of {}   Receipts 90\nFeeder steers\n  Head   Avg wt   Avg price\n  27   447   430.50\n"
    )
    text = "County prices\nweek ending Saturday October 10, 2026\n" + section.format(
        "ROOK HILL STOCKYARD", "Oct 6"
    )
    assert [row["date"] for row in rows(text + section.format("FEN CREEK AUCTION", "Oct 7"))] == [
        "2026-10-06",
        "2026-10-07",
    ]
