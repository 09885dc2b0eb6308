"""Days, weights and prices row by row."""

from __future__ import annotations

from pathlib import Path

from slidefit.records.read import read
from tests.records.sale_files import LOTS, read_lots


def test_a_missing_cell_is_not_filled_from_above(tmp_path: Path) -> None:
    result = read_lots(tmp_path / "a.csv", [*LOTS[:3], LOTS[3].replace("10/03/2023", ""), *LOTS[4:]])
    assert (result.accepted, result.reasons) == (6, {"missing_date": 1})


def test_what_the_day_of_a_month_in_the_title_is(tmp_path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    book.active.title = "Oct 2025"
    for row in (
        ["Day", "Sex", "Head", "Weight", "Price $/cwt"],
        [14, "Steer", 12, 512, 371.5],
        [4, "Heifer", 9, 498, 349],
    ):
        book.active.append(row)
    book.save(tmp_path / "a.xlsx")
    frame = read(tmp_path / "a.xlsx").records
    assert [str(day.date()) for day in frame["sale_date"]] == ["2025-10-14", "2025-10-04"]
    assert list(frame["date_precision"]) == ["day", "day"]
