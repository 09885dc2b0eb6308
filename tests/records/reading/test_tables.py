"""Tables inside a grid of cells: headings, rows and the lines around them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from slidefit.records.columns import TextColumn
from slidefit.records.read import read
from slidefit.records.reading.tables import (
    MOST_CELL,
    Grid,
    Table,
    cut_short,
    few_blanks,
    find_tables,
    is_number,
)

HEADING = ["Sale Date", "Class", "Head", "Avg Wt", "Price $/cwt"]
LOT = ["10/03/2023", "Steers", "12", "512", "251.25"]


def found(*rows: list[str]) -> list[Table]:
    return find_tables(Grid("a.csv", rows, range(1, len(rows) + 1)))[0]


def test_titles_heading_and_rows_come_apart_with_their_row_numbers() -> None:
    (table,) = found(["Hollow Creek Livestock Auction"], [], HEADING, LOT, [], [*LOT[:3], "604", "233.50"])
    assert [heading.field for heading in table.headings] == ["date", "sex", "head", "weight", "price"]
    assert table.rows.tolist() == [4, 6] and table.said["market"] == "Hollow Creek Livestock Auction"
    assert table.columns[3].texts().tolist() == ["512", "604"]


def test_a_line_between_rows_says_the_class_of_those_below() -> None:
    heading, lot = [HEADING[0], *HEADING[2:]], [LOT[0], *LOT[2:]]
    (table,) = found(heading, ["Steers"], lot, ["Heifers"], lot)
    assert len(table.rows) == 2 and table.rows.tolist() == [3, 5]
    cells = {text for column in table.columns for text in column.distinct()}
    assert {"Steers", "Heifers"} <= cells


def test_a_second_heading_begins_a_second_table() -> None:
    first, second = found(HEADING, LOT, [], ["Date", "Sex", "Hd", "Weight", "Price/lb"], LOT)
    assert (first.headings[-1].unit, second.headings[-1].unit) == ("$/cwt", "$/lb")


@pytest.mark.parametrize(("size", "marked"), [(MOST_CELL, False), (MOST_CELL + 1, True)])
def test_a_cell_of_a_pasted_page_is_cut_and_its_row_marked(size: int, marked: bool) -> None:
    column = TextColumn.of(["short", "y" * MOST_CELL, "x" * size])
    table = cut_short(Table("a.csv", (), (column,), np.array([4, 7, 9])))
    assert max(map(len, table.columns[0].values)) == MOST_CELL
    assert table.marked == ({"too_long": frozenset({9})} if marked else {})


def test_blanks_are_shortened_in_long_cells_alone_and_years_are_no_numbers() -> None:
    assert few_blanks("a" + " " * 99) == "a" + " " * 99 and few_blanks("a" + " " * 100) == "a  "
    assert is_number("$251.25*") and not is_number("2023") and not is_number("n/q")


def test_an_upper_heading_stands_over_the_next_columns_only_where_these_need_it() -> None:
    rows = [
        ["Date", "", "Hd", "Weight"],
        ["Sold", "Sex", "Count", "per head"],
        ["9/12/26", "Steer", "48", "373"],
    ]
    (table,), _ = find_tables(Grid("a", rows, [1, 2, 3]))
    assert [heading.field for heading in table.headings] == ["date", "sex", "head", "weight"]


@pytest.mark.parametrize("units", [["", "", "kg", "R/kg", "R"], ["dd/mm/yy", "", "(lb)", "$/cwt", "$"]])
def test_a_row_of_units_is_joined_to_the_headings_and_a_text_over_a_whole_row_is_not(
    units: list[str],
) -> None:
    names, row = ["Date", "Number", "Mass", "Price", "Turnover"], ["03/09/26", "48", "373", "390.25", "9999"]
    (table,), _ = find_tables(Grid("a", [names, units, row], [1, 2, 3]))
    assert [heading.field for heading in table.headings] == ["date", "head", "weight", "price", ""]
    (table,), _ = find_tables(
        Grid("a", [["", "hd", "lb", "$/cwt"], ["Steers"] * 4, ["1", "9", "512", "390"]], [1, 2, 3])
    )
    assert table.columns[-1].texts().tolist() == ["Steers"] and not any(h.pins for h in table.headings)


def test_a_class_with_its_grade_over_rows_is_a_line_and_no_heading(tmp_path: Path) -> None:
    block = (
        "  Hd   Weights    Avg     Price          Avg\n"
        "  7   413-435    425   429.78-445.28   439.08\n 33   460-494    479   411.35-424.85   415.65\n"
    )
    path = tmp_path / "report.txt"
    path.write_text(
        "ROOK HILL LIVESTOCK\nSale held Thursday, October 15, 2026\n\n"
        "FEEDER STEERS   Medium and Large Frame, Muscle 1\n"
        f"{block}\nFEEDER HEIFERS   Medium and Large Frame, Muscle 1\n{block}"
    )
    found = read(path).records
    assert list(found["sex"]) == ["steer", "steer", "heifer", "heifer"]
    assert list(found["weight_lb"][:2]) == [425, 479] and list(found["price_cwt"][:2]) == [439.08, 415.65]


def test_a_sale_day_in_merged_cells_is_a_title_and_years_over_classes_are_headings() -> None:
    day = [
        ["Sale 10/27/2026", "", "", "by the cwt"],
        ["Hd", "Class", "Wt", "Avg"],
        ["9", "Str", "512", "390.25"],
    ]
    (table,), _ = find_tables(Grid("a", day, [1, 2, 3]))
    assert [heading.text for heading in table.headings] == ["Hd", "Class", "Wt", "Avg"]
    assert (table.said["date"], table.said["price_unit"]) == ("Sale 10/27/2026; by the cwt", "$/cwt")
    years = [
        ["Month", "2024", "2024", "2025"],
        ["", "Strs", "Hfrs", "Strs"],
        ["Oct", "299.5", "255.75", "372.5"],
    ]
    (table,), _ = find_tables(Grid("a", years, [1, 2, 3]))
    assert [h.pins.get("year") for h in table.headings] == [None, "2024", "2024", "2025"]


def test_a_title_of_no_known_class_takes_the_place_of_the_class_before_it() -> None:
    block = [["hd", "lb", "price"], ["9", "512", "390.25"], []]
    rows = [["Steers, M&L 1"], *block, ["Curlews"], *block, ["(continued)"], *block]
    tables, _ = find_tables(Grid("a", rows, range(1, len(rows) + 1)))
    assert [table.said.get("category") for table in tables] == ["Steers, M&L 1", "Curlews", "Steers, M&L 1"]
