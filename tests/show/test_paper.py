"""The printed tables: groups side by side, nothing lost on the way from the groups' own tables."""

from dataclasses import replace

import pytest
from example_comparison import DRY_LOT, PASTURE, a_group, lines

from slidefit.decision.results import Breakeven, BudgetLine
from slidefit.show import paper


def rows_of(table, kind="line"):
    return {row.label: row.cells for row in table.rows if row.kind == kind}


@pytest.fixture
def sheet():
    (made,) = paper.sheets_of([a_group(), a_group("Heifers", pasture=-60.0, lot=-80.0)])
    return made


def test_three_groups_stand_on_a_sheet():
    groups = [a_group(f"Group {n}") for n in range(7)]
    assert [[g.group for g in sheet.groups] for sheet in paper.sheets_of(groups)] == [
        ["Group 0", "Group 1", "Group 2"],
        ["Group 3", "Group 4", "Group 5"],
        ["Group 6"],
    ]


def test_every_option_of_every_group_has_its_cell(sheet):
    parts = [row.label for row in sheet.months.rows if row.kind == "part"]
    assert parts == [PASTURE, DRY_LOT]
    assert len(sheet.months.rows) == 2 + 2 * 6
    first = sheet.months.rows[1]
    assert first.label == "Nov 2026"
    assert first.cells == ("$378", "+$20", "-$166 to $219", "54%", "$378", "-$60", "-$246 to $139", "38%")


def test_the_best_month_is_marked_for_its_group_alone(sheet):
    starred = [cell for row in sheet.months.rows for cell in row.cells if cell.startswith("*")]
    assert starred == ["* +$130", "* +$50"]


def test_a_month_that_a_group_lacks_is_blank():
    short = a_group("Heifers")
    short = replace(
        short, keep=tuple(o for o in short.keep if (o.program, o.sale_month) != (DRY_LOT, "2027-04"))
    )
    (made,) = paper.sheets_of([a_group(), short])
    last = made.months.rows[-1]
    assert last.label == "Apr 2027" and last.cells[:4] != ("",) * 4 and last.cells[4:] == ("",) * 4


def test_budgets_keep_every_line_and_its_arithmetic(sheet):
    sell, keep = sheet.budgets
    assert sell.groups == ("Steers: Oct 14, 2026", "Heifers: Oct 14, 2026")
    assert rows_of(sell)["Feed"] == ("120 days x $1.10", "-39.90") * 2
    assert rows_of(keep)["value of gain"] == ("$ a pound gained", "1.62") * 2
    assert rows_of(keep, "total")["Net"] == ("", "2,060.00", "", "1,980.00")


def test_lines_that_only_one_group_has_stand_where_it_has_them():
    steers, heifers = a_group(), a_group("Heifers")
    own = BudgetLine("Pasture", "90 days x $1.00", -90.0, "cost")
    told = lines(2320.0, 390.0)
    heifers = replace(heifers, keep=tuple(replace(o, lines=(told[0], own, *told[1:])) for o in heifers.keep))
    (made,) = paper.sheets_of([steers, heifers])
    table = made.budgets[1]
    assert [row.label for row in table.rows][:3] == ["Calf sold", "Pasture", "Feed"]
    assert table.rows[1].cells == ("", "", "90 days x $1.00", "-90.00")


def test_two_lines_of_one_name_both_stay():
    twice = (BudgetLine("Hay", "one", -1.0, "cost"), BudgetLine("Hay", "two", -2.0, "cost"))
    group = a_group()
    (made,) = paper.sheets_of([replace(group, keep=tuple(replace(o, lines=twice) for o in group.keep))])
    assert [row.cells for row in made.budgets[1].rows][:2] == [("one", "-1.00"), ("two", "-2.00")]


def test_units_of_breakevens_stand_beside_their_names(sheet):
    told = rows_of(sheet.breakevens)
    assert told["Daily gain, lb a day"] == ("1.90", "1.21") * 2
    assert told["Price at the later sale/cwt"] == ("$352.00", "$331.25") * 2
    assert told["Death loss"] == ("1.5%", "nowhere") * 2


def test_an_unknown_breakeven_is_told_by_its_own_name():
    group = a_group()
    odd = (Breakeven("rail_miles", 12.0, 3.0),)
    (made,) = paper.sheets_of([replace(group, keep=tuple(replace(o, breakevens=odd) for o in group.keep))])
    assert rows_of(made.breakevens) == {"rail miles": ("3.00", "12.00")}


def test_a_group_with_nothing_to_compare_has_its_sale_alone():
    (made,) = paper.sheets_of([replace(a_group(), keep=())])
    assert made.months is None and made.breakevens is None and len(made.budgets) == 1


def test_notes_of_all_groups_are_said_once():
    told = paper.shared_notes([("Steers", ["No bid.", "Own."]), ("Heifers", ["No bid.", "Heifers: mine."])])
    assert told == ("No bid.", "Steers: Own.", "Heifers: mine.")
    assert paper.shared_notes([("Steers", ["Own."])]) == ("Own.",)
    assert paper.shared_notes([]) == ()
