"""Columns held apart by blanks: the edges decide which cell is missing, groups stand over their columns."""

from __future__ import annotations

from slidefit.records.reading.contents import text_tables
from slidefit.records.reading.market_text import market_text
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.text_layout import aligned_grid, in_reading_order

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


def test_the_left_half_is_read_before_the_right_one() -> None:
    left, right = "14 hd. 395 lbs. .... 450.00", "9 hd. 388 lbs. .... 422.50"
    block = "\n".join([f"{'STEERS':40}HEIFERS", *[f"{left:40}{right}"] * 3])
    table, _, residue = market_text(f"Sage Flat Auction, Nov 7, 2026\n\n{block}", "a")
    assert table is not None and not residue.not_understood
    sexes = next(c for h, c in zip(table.headings, table.columns, strict=True) if h.field == "sex")
    assert sexes.texts().tolist() == ["STEERS"] * 3 + ["HEIFERS"] * 3


def test_two_lots_that_stand_at_no_common_place_are_no_halves() -> None:
    lines = ["14 hd 395 lbs 450.00    9 hd 388 lbs 422.50", "8 hd 500 lbs 390.00         3 hd 510 lbs 360.00"]
    assert [line for _, line in in_reading_order("\n".join(lines))[0]] == lines


def test_a_quoted_sale_counts_only_where_the_letter_tells_none_of_its_own() -> None:
    quoted = "> 12 hd strs 550 lbs $350.00\n> 8 hd strs 610 lbs $331.00"
    table, _, residue = market_text(f"From Oct 8, 2026\n{quoted}", "a")
    assert table is not None and len(table.rows) == 2
    own = "12 hd strs 550 lbs $350.00\n9 hd strs 720 lbs $320.00"
    table, _, residue = market_text(f"Sale of Oct 8, 2026\n{own}\n{quoted}", "a")
    assert table is not None and len(table.rows) == 2
    assert residue.not_understood == [(5, "> 8 hd strs 610 lbs $331.00")] and residue.not_sales == 1


def test_columns_that_all_rows_of_numbers_hold_apart_may_be_blank_in_any_of_them() -> None:
    text = """                          ---- Pounds ----  --- Dollars ---
Frame & muscle      Cnt   from   to   mean    from      mean  Flesh
Med 1                10    520   551   529   386.00   388.44  thin
                     12    692   708   697   343.25   345.50
                      5    867   898   882   291.75   294.13  thin
Med 1-2               8    333   350   336   444.00   449.41
"""
    grid = aligned_grid(text, "a")
    assert grid is not None
    assert list(grid.cells[0]) == ["", "", *["---- Pounds ----"] * 3, *["--- Dollars ---"] * 2, ""]
    assert list(grid.cells[3]) == ["", "12", "692", "708", "697", "343.25", "345.50", ""]


def test_a_line_out_of_line_fills_one_column_with_one_cell() -> None:
    rows = "".join(
        f"     {450 + 50 * row} up     {row + 3}      {460 + 50 * row}     35{row}.25\n" for row in range(4)
    )
    grid = aligned_grid(f"     Class      Head   Wt      Price\n{rows}All     18   535         355.50\n", "a")
    assert grid is not None and list(grid.cells[5]) == ["All", "18", "535", "355.50"]


def test_lots_between_commas_are_clauses_and_no_table() -> None:
    lots = "\n".join(f"{at} head, {500 + at} lbs, weaned {at} days, {390 - at}.25" for at in range(11, 17))
    text = f"Opal Run, Oct 9, 2026, results\nSteers, medium and large 1, per cwt\n{lots}"
    (table,) = text_tables(text, "a", ReadOptions()).tables
    assert [heading.field for heading in table.headings][:2] == ["date", "market"] and len(table.rows) == 6


def test_columns_of_a_paper_are_read_one_after_the_other_and_a_table_of_lots_is_none() -> None:
    left = [
        "Our fall sale was held at",
        "Rook Hill Auction on Nov 7, 2026.",
        "Steers:",
        *["26 head, 453 lbs., $428.25"] * 4,
    ]
    right = ["The rains came late but they came and", "a bred heifer sale follows on February 6"] * 4
    page = "\n".join(f"{one:45}{other}" for one, other in zip(left, right, strict=False))
    lines = [line for _, line in in_reading_order(page)[0]]
    assert lines[0].startswith("Our fall sale was held at Rook Hill Auction on Nov 7, 2026.")
    assert lines[2].strip() == left[3] and lines[-1].startswith("The rains")
    lots = [f"{'Sorrel Ranch of the far hills':40}12 mix strs   568 lbs.  @  $393.00"] * 8
    assert [line for _, line in in_reading_order("\n".join(lots))[0]] == lots


def test_marks_of_a_quoted_letter_are_no_part_of_its_columns() -> None:
    rows = [
        "kind    hd   wt    cwt",
        "steers  10   728   346.25",
        "heifers 29   625   334.50",
        "bulls   27   559   373.25",
    ]
    quoted = "\n".join(["See below", "", *(f"> {row}" for row in rows)])
    grid = aligned_grid(quoted, "a")
    assert grid is not None and grid.cells[4] == ["heifers", "29", "625", "334.50"]
    own = "\n".join(["steers  12   550   350.00", *quoted.split("\n")])
    grid = aligned_grid(own, "a")
    assert grid is None or ["heifers", "29", "625", "334.50"] not in grid.cells
