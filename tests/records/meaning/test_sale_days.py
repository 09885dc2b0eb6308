"""Where the day of sale stands: titles, columns of deliveries, months of sheets."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.read import read
from tests.records.meaning.test_rival_columns import TODAY, lots


@pytest.mark.parametrize(("first", "sold"), [("10/13/2026", True), ("10/12/2026", False)])
def test_days_over_three_days_after_the_titles_day_are_deliveries(
    tmp_path: Path, first: str, sold: bool
) -> None:
    rows = ("Date,Class,Hd,Wt,Price", f"{first},Steer,18,556,389.75", "10/20/2026,Heifer,12,511,375.00")
    path = lots(tmp_path, *rows, title="Sale of 10/9/2026")
    days = read(path, today=TODAY).records["sale_date"].dt.date.tolist()
    assert (days == [date(2026, 10, 9)] * 2) is sold


def test_beside_days_of_the_month_a_sheet_of_a_month_is_no_day(tmp_path: Path) -> None:
    rows = ("Day,Class,Hd,Wt,Price", "3,Steer,18,556,389.75", "17,Heifer,12,511,375.00")
    path = lots(tmp_path, *rows, title="Fall 2026\nSept 26")
    assert [str(day)[:10] for day in read(path, today=TODAY).records["sale_date"]] == [
        "2026-09-03",
        "2026-09-17",
    ]


def test_a_line_of_a_month_and_a_day_begins_the_next_sale_of_the_titles_year(tmp_path: Path) -> None:
    heading, row = "Class,Hd,Wt,Price", "Steer,18,556,389.75"
    path = lots(
        tmp_path,
        "September 22 - Rill Auction,,,",
        heading,
        row,
        "October 7 - Fen Creek Auction,,,",
        heading,
        row,
        title="Fall 2026,,,",
    )
    found = read(path, today=TODAY).records
    assert [(str(day)[:10], name) for day, name in zip(found["sale_date"], found["market"], strict=True)] == [
        ("2026-09-22", "Rill Auction"),
        ("2026-10-07", "Fen Creek Auction"),
    ]


def test_a_day_with_its_months_name_in_the_files_name_is_the_last_resort(tmp_path: Path) -> None:
    path = lots(tmp_path, "Class,Hd,Wt,Price", "Steer,18,556,389.75").rename(tmp_path / "Rill_14Oct2026.csv")
    assert str(read(path, today=TODAY).records["sale_date"][0])[:10] == "2026-10-14"


@pytest.mark.parametrize(
    ("name", "cells", "days"),
    [
        ("calves 2025.csv", ("Oct 14", "Oct 15"), ["2025-10-14", "2025-10-15"]),
        ("calves 2025.csv", ("10/14", "10/21"), ["2025-10-14", "2025-10-21"]),
        (
            "calves 2015.csv",
            ("Oct 14", "Oct 15"),
            ["2014-10-01", "2015-10-01"],
        ),  # the year may be that of a cell
        ("calves 2015-2025.csv", ("Oct 14", "Oct 15"), ["2014-10-01", "2015-10-01"]),  # two years are none
    ],
)
def test_days_without_a_year_are_of_the_one_year_in_the_files_name(
    name: str, cells: tuple[str, str], days: list[str], tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_text(
        "".join(f"{line}\n" for line in ("Date,Class,Hd,Wt,Price", *(f"{c},Steer,18,556,389" for c in cells)))
    )
    assert [str(day)[:10] for day in read(path, today=TODAY).records["sale_date"]] == days


def test_a_day_that_no_file_tells_is_asked_for_and_taken(tmp_path: Path) -> None:
    path = lots(tmp_path, "Class,Hd,Wt,Price", "Steer,18,556,389.75", title="Printed 10/9/2026")
    with pytest.raises(
        QuestionError,
        match=r"of something else in its lines: 2026-10-09\. Say the day of sale: sale_day='YYYY-MM-DD'\.$",
    ):
        read(path, today=TODAY)
    for day in ("2026-10-08", str(TODAY)):
        assert str(read(path, today=TODAY, sale_day=day).records["sale_date"][0])[:10] == day
    for wrong in ("2026-13-08", "Thursday", str(TODAY + timedelta(days=1))):
        with pytest.raises(RecordsError, match="is not a day of sale"):
            read(path, today=TODAY, sale_day=wrong)


def test_a_day_said_goes_before_that_of_a_text_not_before_a_column(tmp_path: Path) -> None:
    text = tmp_path / "note.txt"
    text.write_text(
        "Rook Hill, Oct 9, 2026. 12 steers 550 lbs $390; 8 heifers 510 lbs $371; 9 steers 600 lbs $377.\n"
    )
    days = read(text, today=TODAY, sale_day="2026-10-08").records["sale_date"]
    assert set(days.astype(str)) == {"2026-10-08"}
    path = lots(tmp_path, "Date,Class,Hd,Wt,Price", "10/9/2026,Steer,18,556,389.75")
    assert str(read(path, today=TODAY, sale_day="2026-10-08").records["sale_date"][0])[:10] == "2026-10-09"


def test_a_day_is_of_one_file_and_stays_out_of_its_card(tmp_path: Path) -> None:
    path = lots(tmp_path, "Class,Hd,Wt,Price", "Steer,18,556,389.75")
    assert [
        card.sale_day for card in read(path, today=TODAY, sale_day="2026-10-08", source="notes").cards
    ] == [""]
