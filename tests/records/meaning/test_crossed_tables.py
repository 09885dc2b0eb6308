"""Tables crossed by days, places or classes: read by what their headings are, else left alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import RecordsError
from slidefit.records.read import read

PLACES = "Price comparison of three barns, week ended Friday, October 9, 2026, $/cwt\nClass,Weight,{0}\n"
ROWS = "Steers,400-450,431.25,428.5,425\n,450-500,412,409.75,405.5\nHeifers,400-450,391,388.5,--\n"


def prices(path: Path, text: str) -> list[tuple[str, str, str, float]]:
    path.write_text(text)
    told = read(path).records.sort_values(["sale_date", "market", "sex", "weight_lb"])
    days = told["sale_date"].dt.strftime("%Y-%m-%d")
    return list(zip(days, told["market"], told["sex"], told["price_cwt"], strict=True))


def test_places_across_stand_over_their_own_prices(tmp_path):
    told = prices(tmp_path / "a.csv", PLACES.format("Ketch Flat,Dry Fork,Osprey") + ROWS)
    assert told[:2] == [
        ("2026-10-09", "Dry Fork", "heifer", 388.5),
        ("2026-10-09", "Dry Fork", "steer", 428.5),
    ]
    assert len(told) == 8


@pytest.mark.parametrize(
    "names", ["This Wk,Prev Wk,Yr Ago", "Black Hided,Red Hided,Char Cross", "Ketch Flat,Dry Fork"]
)
def test_times_and_kinds_across_are_no_places(names, tmp_path):
    rows = ROWS if names.count(",") == 2 else ROWS.replace(",425\n", "\n").replace(",405.5\n", "\n")
    with pytest.raises(RecordsError, match="price"):
        prices(tmp_path / "a.csv", PLACES.format(names) + rows)


def test_days_across_take_their_year_from_the_title(tmp_path):
    text = "Osprey Sale Barn, fall 2026, $/cwt\nClass,Oct 1,Oct 15\nSteers 400-500 lb,421.5,418.25\n"
    assert [row[::3] for row in prices(tmp_path / "a.csv", text)] == [
        ("2026-10-01", 421.5),
        ("2026-10-15", 418.25),
    ]


def test_an_average_of_the_months_is_no_month_and_no_weight(tmp_path):
    text = (
        "Feeder steers 500-600 lb, $/cwt\nYear,Jan,Feb,Avg\n2024,288.25,282,285.1\n2025,337.5,343.5,340.5\n"
    )
    assert [row[3] for row in prices(tmp_path / "a.csv", text)] == [288.25, 282.0, 337.5, 343.5]


def test_a_class_in_the_corner_is_that_of_the_table(tmp_path):
    block = "{0},400-500,500-600\n9/10/2026,{1},{2}\nAvg,{1},{2}\n\n"
    text = block.format("STEERS", 421.5, 391) + block.format("HEIFERS", 381.5, 355)
    assert [row[2:] for row in prices(tmp_path / "a.csv", text)] == [
        ("heifer", 381.5),
        ("heifer", 355.0),
        ("steer", 421.5),
        ("steer", 391.0),
    ]


def test_a_pivot_holds_its_classes_over_their_weights(tmp_path):
    text = (
        "Average of Price ($/cwt),Column Labels,,\nRow Labels,2026-09-21,2026-10-05,Grand Total\n"
        "Heifers,374.25,367,370.6\n400-449,395,400.5,397.75\n450-499,384.75,380.25,382.5\nSteers,399.25,402.5,400.9\n"
        "400-449,436.5,441.75,439.1\nGrand Total,388.25,384.75,386.5\n"
    )
    told = prices(tmp_path / "a.csv", text)
    assert [row[::3] for row in told if row[2] == "steer"] == [("2026-09-21", 436.5), ("2026-10-05", 441.75)]
    assert len(told) == 6


def test_days_without_a_year_are_never_months(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("Osprey Sale Barn ($/cwt)\nClass,Weight,Oct 6,Oct 13\nSteers,400-500,421.5,419\n")
    with pytest.raises(RecordsError, match=r"none of its 2 rows .*no date of sale"):
        read(path)


def test_a_day_across_stands_over_several_measures_and_a_unit_in_the_corner_over_classes(tmp_path):
    text = "Osprey Sale Barn\nClass,Weight,10/6/2026 Head,10/6/2026 $/cwt\nSteers,400-500,21,421.5\n"
    assert prices(tmp_path / "a.csv", text)[0][::3] == ("2026-10-06", 421.5)
    text = "Osprey Sale Barn 10/13/2026,,\n$/cwt,400-500,500-600\nSteers,421.5,392.25\nHeifers,388,359.5\n"
    assert [row[3] for row in prices(tmp_path / "b.csv", text)] == [388.0, 359.5, 421.5, 392.25]


def test_years_across_are_of_the_month_in_the_title(tmp_path):
    text = "October average prices, feeder steers ($/cwt),,\nWeight,2024,2025\n400-499 lbs,311.25,391.75\n"
    assert [row[::3] for row in prices(tmp_path / "a.csv", text)] == [
        ("2024-10-01", 311.25),
        ("2025-10-01", 391.75),
    ]


def test_the_totals_of_a_wide_table_are_of_each_class(tmp_path):
    text = (
        "Osprey Sale Barn 10/13/2026,,,,,,\n,Steers,,,Heifers,,\nGroup,Hd,Wt,$/cwt,Hd,Wt,$/cwt\n"
        "400-499,10,450,420,12,440,385\n"
        "500-599,20,550,390,8,560,352\nEverything,30,516.7,398.71,20,488,369.85\n"
    )
    path = tmp_path / "a.csv"
    path.write_text(text)
    assert sorted(read(path).records["price_cwt"]) == [352, 385, 390, 420]


@pytest.mark.parametrize(
    ("title", "cells", "what"),
    [
        ("Calves sold by week 2026", ("121", "125"), "price"),
        ("Calf prices by week 2026", ("421", "425"), ""),
        ("Osprey 2026", ("421.5", "425"), ""),
    ],
)
def test_what_is_crossed_is_money_only_where_something_says_so(title, cells, what, tmp_path):
    text = f"{title}\nClass,Weight,Oct 6,Oct 13\nSteers,400-500,{','.join(cells)}\n"
    if what:
        with pytest.raises(RecordsError, match=what):
            prices(tmp_path / "a.csv", text)
    else:
        assert [row[3] for row in prices(tmp_path / "a.csv", text)] == list(map(float, cells))


def test_the_head_of_a_row_is_not_that_of_each_of_its_cells(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("saledate,auction,St400-500,Hf400-500,total_hd\n9/30/26,Rook Hill,432.50,403.50,1108\n")
    found = read(path).records
    assert list(found["sex"]) == ["steer", "heifer"] and found["head"].isna().all()


def test_a_mean_of_the_days_across_is_no_price_of_its_own(tmp_path):
    text = "$/cwt\nClass,2026-10-02,2026-10-09,2-wk mean\nSteers 450-500 lb,424.75,420.25,422.50\n"
    text += "Heifers 450-500 lb,392.50,398,395.25\n"
    assert [price for *_, price in prices(tmp_path / "a.csv", text)] == [392.5, 424.75, 398.0, 420.25]


def test_barns_over_days_across_the_top_are_their_places(tmp_path):
    rows = "400-450,445.98,434.59\n450-500,415.22,n/t\n500-550,393.56,393.90\n"
    told = prices(
        tmp_path / "a.csv", f"Steer averages,,\n,Ash Flat,Boone Mill\nWeight,10/19/2026,10/20/2026\n{rows}"
    )
    assert {each[:2] for each in told} == {("2026-10-19", "Ash Flat"), ("2026-10-20", "Boone Mill")}
    assert len(told) == 5
    told = prices(
        tmp_path / "b.csv", f"Steer averages,,\n,Morning,Evening\nWeight,10/19/2026,10/20/2026\n{rows}"
    )
    assert {each[1] for each in told} == {""}


def test_classes_of_weight_in_cells_and_places_over_days_in_a_text(tmp_path):
    text = (
        "AVERAGE PRICES AT TWO YARDS, $/CWT\n\n                 Ash Flat    Boone Mill\n"
        "               10/19/2026    10/20/2026\nSTEERS\n  400-450 lb        445.98        434.59\n"
        "  450-500 lb        415.22           n/t\nHEIFERS\n  400-450 lb        409.02        399.89\n"
    )
    told = prices(tmp_path / "a.txt", text)
    assert [each[1:] for each in told] == [
        ("Ash Flat", "heifer", 409.02),
        ("Ash Flat", "steer", 445.98),
        ("Ash Flat", "steer", 415.22),
        ("Boone Mill", "heifer", 399.89),
        ("Boone Mill", "steer", 434.59),
    ]
