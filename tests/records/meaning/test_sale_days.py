"""Where the day of sale stands: titles, columns of deliveries, months of sheets."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

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
