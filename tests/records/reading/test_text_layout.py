"""Columns held apart by blanks: the edges decide which cell is missing, groups stand over their columns."""

from __future__ import annotations

from slidefit.records.reading.text_layout import aligned_grid

ROWS = """Class      Head   Wt     Price
Steers      12    512    251.25
Heifers            498    228.00
Bulls        4    566    231.50
"""


def test_a_missing_cell_is_found_by_the_edges_of_its_column() -> None:
    grid = aligned_grid(ROWS, "a")
    assert grid is not None
    assert [list(row) for row in grid.cells[:4]] == [
        ["Class", "Head", "Wt", "Price"],
        ["Steers", "12", "512", "251.25"],
        ["Heifers", "", "498", "228.00"],
        ["Bulls", "4", "566", "231.50"],
    ]


def test_groups_stand_over_the_columns_that_repeat_below_them() -> None:
    lines = ["          STEERS           HEIFERS", "Weight  Head  Price   Head  Price"]
    text = "\n".join(
        [*lines, *(f"{450 + 50 * row}     {row + 2}    251.25   {row + 1}    231.00" for row in range(4))]
    )
    grid = aligned_grid(text, "a")
    assert grid is not None and list(grid.cells[0]) == ["", "STEERS", "", "HEIFERS", ""]


def test_prose_is_no_aligned_text() -> None:
    assert aligned_grid("Steers sold well.\nHeifers did not.\n", "a") is None
