"""The printed tables: groups side by side, nothing lost on the way from the groups' own tables.

Tables in the terminal."""

from dataclasses import replace

import pandas as pd
import pytest
from example_comparison import DRY_LOT, PASTURE, a_comparison, a_group, lines

from slidefit.decision.results import Breakeven, BudgetLine
from slidefit.report import answer_tables, market_content, report_content
from slidefit.report.document import TypedTable, document
from slidefit.report.render.terminal import document_text


def rows_of(table, kind="line"):
    return {
        texts[0]: tuple(texts[1:])
        for texts, row in zip(table.texts(), table.rows, strict=True)
        if row.kind == kind
    }


TWO = (a_group(), a_group("Heifers", pasture=-60.0, lot=-80.0))


def test_three_groups_stand_on_a_sheet():
    groups = [a_group(f"Group {n}") for n in range(7)]
    assert [[g.group for g in sheet] for sheet in answer_tables.sheets_of(groups)] == [
        ["Group 0", "Group 1", "Group 2"],
        ["Group 3", "Group 4", "Group 5"],
        ["Group 6"],
    ]


def test_every_option_of_every_group_has_its_cell():
    months = answer_tables.months_side_by_side(TWO)
    parts = [row.cells[0].value for row in months.rows if row.kind == "part"]
    assert parts == [PASTURE, DRY_LOT]
    assert len(months.rows) == 2 + 2 * 6
    assert months.bands() == ("Steers", "Heifers")
    label, *first = months.texts()[1]
    assert label == "Nov 2026"
    assert first == ["$378", "+$20", "-$166 to $219", "54%", "$378", "-$60", "-$246 to $139", "38%"]


def test_a_lone_group_shows_its_weights_and_its_best_month_as_a_strong_row():
    months = answer_tables.months_side_by_side(TWO[:1])
    assert [column.heading for column in months.columns] == [
        "Sold",
        "Weight",
        "$/cwt",
        "Gain",
        "Range",
        "Odds",
    ]
    assert [
        texts[0] for texts, row in zip(months.texts(), months.rows, strict=True) if row.kind == "total"
    ] == ["Apr 2027"]


def test_the_best_month_is_marked_for_its_group_alone():
    months = answer_tables.months_side_by_side(TWO)
    starred = [text for texts in months.texts() for text in texts if text.startswith("*")]
    assert starred == ["* +$130", "* +$50"]


def test_a_month_that_a_group_lacks_is_blank():
    short = a_group("Heifers")
    short = replace(
        short, keep=tuple(o for o in short.keep if (o.program, o.sale_month) != (DRY_LOT, "2027-04"))
    )
    label, *last = answer_tables.months_side_by_side([a_group(), short]).texts()[-1]
    assert label == "Apr 2027" and last[:4] != [""] * 4 and last[4:] == [""] * 4


def test_budgets_keep_every_line_and_its_arithmetic():
    sell, keep = answer_tables.budgets_side_by_side(TWO)
    assert sell.bands() == ("Steers: Oct 14, 2026", "Heifers: Oct 14, 2026")
    assert rows_of(sell)["Feed"] == ("120 days x $1.10", "-39.90") * 2
    assert rows_of(keep)["value of gain"] == ("$ a pound gained", "1.62") * 2
    assert rows_of(keep, "total")["Net"] == ("", "2,060.00", "", "1,980.00")


def test_lines_that_only_one_group_has_stand_where_it_has_them():
    steers, heifers = a_group(), a_group("Heifers")
    own = BudgetLine("Pasture", "90 days x $1.00", -90.0, "cost")
    told = lines(2320.0, 390.0)
    heifers = replace(heifers, keep=tuple(replace(o, lines=(told[0], own, *told[1:])) for o in heifers.keep))
    made = answer_tables.budgets_side_by_side([steers, heifers])[1].texts()
    assert [texts[0] for texts in made][:3] == ["Calf sold", "Pasture", "Feed"]
    assert made[1][1:] == ["", "", "90 days x $1.00", "-90.00"]


def test_two_lines_of_one_name_both_stay():
    twice = (BudgetLine("Hay", "one", -1.0, "cost"), BudgetLine("Hay", "two", -2.0, "cost"))
    group = replace(a_group(), keep=tuple(replace(o, lines=twice) for o in a_group().keep))
    made = answer_tables.budgets_side_by_side([group])[1].texts()
    assert [texts[1:] for texts in made][:2] == [["one", "-1.00"], ["two", "-2.00"]]


def test_units_of_breakevens_stand_beside_their_names():
    told = rows_of(answer_tables.breakevens_side_by_side(TWO))
    assert told["Daily gain, lb a day"] == ("1.90", "1.21") * 2
    assert told["Price at the later sale/cwt"] == ("$352.00", "$331.25") * 2
    assert told["Death loss"] == ("1.5%", "nowhere") * 2


def test_an_unknown_breakeven_is_told_by_its_own_name():
    odd = (Breakeven("rail_miles", 12.0, 3.0),)
    group = replace(a_group(), keep=tuple(replace(o, breakevens=odd) for o in a_group().keep))
    assert rows_of(answer_tables.breakevens_side_by_side([group])) == {"rail miles": ("3.00", "12.00")}


def test_cash_by_month_ends_with_the_most_that_is_out():
    cash = answer_tables.cash_side_by_side(TWO)
    assert cash.bands() == ("Steers", "Heifers")
    assert rows_of(cash)["Dec 2026"] == ("$3,750",) * 2


def test_weights_the_herd_and_acres_stand_side_by_side():
    told = rows_of(answer_tables.figures_side_by_side(TWO))
    assert told["Gain, all kept"] == ("+$7,800", "+$3,000")
    assert told["Head kept"] == ("60", "60")
    assert told["Acres needed"] == ("118", "118")


def test_a_group_with_nothing_to_compare_has_its_sale_alone():
    alone = [replace(a_group(), keep=())]
    assert answer_tables.kept_of(alone) == [] and len(answer_tables.budgets_side_by_side(alone)) == 1


def test_notes_of_all_groups_are_said_once():
    told = report_content.shared_notes(
        [("Steers", ["No bid.", "Own."]), ("Heifers", ["No bid.", "Heifers: mine."])]
    )
    assert told == ("No bid.", "Steers: Own.", "Heifers: mine.")
    assert report_content.shared_notes([("Steers", ["Own."])]) == ("Own.",)
    assert report_content.shared_notes([]) == ()


SLIDES = pd.DataFrame(
    {
        "sex": ["steer", "steer"],
        "from_lb": [500.0, 500.0],
        "to_lb": [600.0, 600.0],
        "month": pd.array([None, 3], dtype="Int64"),
        "percent_per_cwt": [11.64, 12.9],
        "percent_low": [9.9, 11.0],
        "percent_high": [13.2, 14.7],
        "dollars_per_cwt_per_cwt": [46.1, 49.25],
    }
)


def cells(table: TypedTable) -> list[list[str]]:
    return [list(column) for column in zip(*table.texts(), strict=True)]


def test_the_comparison_says_whether_the_records_are_enough():
    told = " ".join(
        document_text(report_content.comparison_content(replace(a_comparison(), verdict="good"))).split()
    )
    assert "Records behind the prices: good." in told
    assert "behind the prices" not in document_text(report_content.comparison_content(a_comparison()))


def test_slide_table():
    sex, low, high, month, percent, interval, dollars = cells(market_content.slide_table(SLIDES))
    assert (sex, low, high) == (["steer"] * 2, ["500"] * 2, ["600"] * 2)
    assert month == ["year", "Mar"]
    assert percent == ["11.6%", "12.9%"]
    assert interval == ["9.9% to 13.2%", "11.0% to 14.7%"]
    assert dollars == ["$46.10", "$49.25"]


def test_todays_slide_is_quoted_first_with_the_records_mean_beside_it():
    today = SLIDES.assign(
        percent_today=13.0, percent_today_low=12.1, percent_today_high=13.9, dollars_today=52.3
    )
    made = market_content.slide_table(today)
    assert [column.title for column in made.columns][4:] == [
        "Slide today, % per cwt", "95% interval", "$/cwt per cwt", "All records, %",
    ]  # fmt: skip
    *_, percent, interval, dollars, mean = cells(made)
    assert (percent[0], interval[0], dollars[0], mean[0]) == ("13.0%", "12.1% to 13.9%", "$52.30", "11.6%")
    assert "last sales" in made.caption


def test_season_table():
    season = pd.DataFrame(
        {"month": [3, 10], "index": [105.24, 95.1], "low": [103.0, 93.0], "high": [107.5, 97.0]}
    )
    assert cells(market_content.season_table(season)) == [
        ["March", "October"],
        ["105.2", "95.1"],
        ["103.0 to 107.5", "93.0 to 97.0"],
    ]


def test_month_table_marks_the_best_and_keeps_the_calendar():
    group = a_group()
    columns = cells(answer_tables.month_table(group))
    assert [len(column) for column in columns] == [12] * 8
    assert columns[0][0] == "Nov 2026" and columns[0][-2:] == ["Apr 2027 *", "Apr 2027"]
    assert columns[5][-2] == "+$130" and columns[6][-2] == "-$176 to $465" and columns[7][-2] == "76%"


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_is_wider_than_the_terminal_and_no_number_is_lost(width):
    told = document_text(document(answer_tables.month_table(a_group())), width=width)
    assert max(map(len, told.splitlines())) <= width
    assert "+$130" in told and "76%" in told
    assert "…" not in told


def test_brackets_in_a_name_are_shown_as_they_stand():
    group = a_group("[bold]Steers[/bold] [link=x]")
    assert "[bold]Steers[/bold] [link=x]" in document_text(
        document(answer_tables.month_table(group)), width=120
    )


def test_no_color_codes():
    assert "\x1b" not in document_text(report_content.comparison_content(a_comparison()))


def test_budget_lines_show_their_arithmetic_and_add_up():
    option = a_group().keep[0]
    label, how, amount = cells(answer_tables.budget_table("Keep", option.lines))
    assert label[0] == "Calf sold" and how[2] == "vaccine and wormer"
    dollars = [float(cell.replace("$", "").replace(",", "")) for cell in amount]
    assert sum(dollars[:-1]) == pytest.approx(dollars[-1], abs=0.01)


def test_detail_shows_both_budgets_breakevens_cash_and_pasture():
    group = a_group()
    told = " ".join(document_text(report_content.option_content(group, group.keep[5])).split())
    for part in (
        "sell now, Oct 14, 2026", "sell Apr 15, 2027 (183 days)", "Gain from keeping: +$130.00 a head",
        "Value of gain $1.62 a pound", "Price at the later sale", "November 2026", "$3,750", "118 acres needed",
    ):  # fmt: skip
        assert part in told, part


def test_the_whole_answer_ends_with_what_is_left_out_and_the_cautions():
    told = " ".join(document_text(report_content.comparison_content(a_comparison())).split())
    for part in ("Steers: keep.", "Not compared: dry lot", "All 120 head", "selling: checkoff_head",
                 "land (no rent is charged)", "grass tetany", "not a promise"):  # fmt: skip
        assert part in told, part
    assert told.index("land (no rent is charged)") > told.index("All 120 head")


def test_one_group_needs_no_herd_line():
    assert "each group at its best choice" not in document_text(
        report_content.comparison_content(a_comparison(a_group()))
    )


def test_add_account_adds_up():
    words, counts = cells(market_content.add_account(6769, 12, 166, {"dairy": 160, "missing_price": 6}))
    assert words == ["rows read", "added", "already there", "set aside", "  dairy", "  missing price"]
    assert counts == ["6,947", "6,769", "12", "166", "160", "6"]


def test_reasons_are_ranked():
    words, counts = cells(
        market_content.add_account(0, 0, 44, {"dairy": 2, "not_feeder": 40, "duplicate": 2})
    )
    assert (words[4:], counts[4:]) == (["  not feeder", "  dairy", "  duplicate"], ["40", "2", "2"])


def test_counts_table():
    counts = pd.DataFrame(
        {
            "market": ["Birch Landing"],
            "year": [2025],
            "first_sale": [pd.Timestamp("2025-01-06")],
            "lots": [1234],
        }
    )
    assert cells(market_content.counts_table(counts)) == [
        ["Birch Landing"],
        ["2025"],
        ["Jan 6, 2025"],
        ["1,234"],
    ]


def test_preview_shows_blanks_as_blanks():
    records = pd.DataFrame(
        {"sale_date": [pd.Timestamp("2026-10-05"), pd.NaT], "head": [4.0, float("nan")], "sex": ["steer", ""]}
    )
    assert cells(market_content.preview_table(records, ["sale_date", "head", "sex"])) == [
        ["2026-10-05", ""],
        ["4", ""],
        ["steer", ""],
    ]


def test_months_text_names_the_best_program_of_each_month_and_ends_with_the_cautions():
    comparison = replace(a_comparison(a_group()), notes=(), cautions=("Markets can move.",))
    told = document_text(report_content.months_content(comparison), width=120)
    lines = [" ".join(line.split()) for line in told.splitlines()]
    assert sum("autumn-sown cereal pasture" in line for line in lines) == 6
    assert any(line.startswith("Apr 2027 *") and "+$130" in line for line in lines)
    assert lines[-1] == "Markets can move."
