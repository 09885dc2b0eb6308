"""Text for the terminal: whatever the width, no number is cut and no column goes without a word."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.report.document import Bar, Block, Column, Heading, Note, Sentence, document, table
from slidefit.report.render.terminal import LEFT_OUT, bar_lines, columns_of, document_text

MONTHS = table(
    "Steers, 60 head: gain from keeping, by month of sale",
    [Column("Sold"), Column("Program"), Column("Weight", "expected_weight", spare=2),
     Column("Price/cwt", "expected_price", spare=1), Column("Gain/head", "gain"),
     Column("8 in 10 between", "dollars"), Column("Odds", "chance")],
    [["Nov 2026", "autumn-sown cereal pasture", 580.0, 378.0, 20.0, (-1166.0, 1219.0), 0.54],
     ["Dec 2026 *", "dry lot, corn silage", 640.0, 369.0, 42.0, (-168.0, 268.0), 0.58]],
    caption="* best of the budget.",
)  # fmt: skip


def told(*parts, width=100):
    return document_text(document(*parts), width=width)


def test_a_table_as_it_stands():
    made = table(
        "Sorted", ["Choice", ("Gain/head", "gain")], [["keep", 20.0], ["sell now", -7.0]], caption="Sold."
    )
    assert told("Before.", made, "After.") == (
        "Before.\n\nSorted\n\n"
        " Choice     Gain/head\n ────────────────────\n keep            +$20\n sell now         -$7\nSold.\n\nAfter.\n"
    )


def test_a_column_empty_from_its_heading_on_takes_no_room():
    fresh = table("Regions", ["File", ""], [["fen.toml", ""]])
    assert [line.rstrip() for line in told(fresh).splitlines()[2:]] == [" File", " " + 11 * "─", " fen.toml"]


@pytest.mark.parametrize("width", [24, 40, 60, 80, 120])
def test_nothing_is_cut_at_any_width(width):
    text = told(MONTHS, width=width)
    assert max(map(columns_of, text.splitlines())) <= width
    joined = " ".join(text.split())
    for number in ("+$20", "+$42", "54%", "58%"):
        assert number in joined
    assert "-$1,166 to $1,219" in joined and "…" not in text
    for heading, number in (("Weight", "580 lb"), ("Price/cwt", "$378")):
        assert number in joined or (heading in joined.partition(LEFT_OUT)[2])


def test_columns_are_left_out_with_a_word_before_cards_are_made():
    assert LEFT_OUT not in told(MONTHS, width=120)
    assert f"{LEFT_OUT}Weight." in told(MONTHS, width=78)
    assert "  Weight: 580 lb" in told(MONTHS, width=40)


def test_bands_are_taken_apart_where_they_do_not_fit():
    wide = table(
        "Budgets",
        [Column("Line"), Column("$", "bare_cents", band="Steers"), Column("$", "bare_cents", band="Heifers")],
        [["Calf sold", 1987.0, 1500.0], ["Hay", None, -8.0]],
    )
    assert "Steers: Budgets" not in told(wide, width=60)
    narrow = told(wide, width=24)
    assert "Steers: Budgets" in narrow and "Heifers: Budgets" in narrow
    assert narrow.count("Hay") == 1


def test_parts_and_totals_have_rows_of_their_own():
    made = table("", ["Line", ("$", "bare_cents")], [["Care"], ["Vet", 3.0]], kinds={0: "part", 1: "total"})
    assert told(made).splitlines() == [" Line      $", " ───────────", " Care", " Vet    3.00"]


def test_letters_of_double_width_keep_the_columns_straight():
    lines = told(table("", ["A", ("B", "count")], [["牛", 1], ["ab", 22]])).splitlines()
    assert {columns_of(line) for line in lines} == {columns_of(lines[0])}


def test_brackets_and_line_breaks_stand_as_they_are():
    assert told("[bold]one[/bold]\ntwo") == "[bold]one[/bold]\ntwo\n"


def test_notes_blocks_and_headings():
    parts = (
        Heading("The answer"),
        Block("answer", (Sentence("Keep.", strong=True),)),
        Note("mind it"),
        "End.",
    )
    assert told(*parts) == "The answer\nKeep.\n\nNote: mind it\nEnd.\n"
    assert told(Note("mind it", "caution")) == "mind it\n"


def test_a_bar_has_its_marks_in_order_and_its_key_is_told_once():
    (line,) = bar_lines(Bar("", -100.0, 300.0, 80.0, -190.0, (-200.0, 400.0), "8 in 10."), 60)
    assert [mark for mark in line if mark in "x|o"] == ["x", "|", "o"]
    assert line.index("=") > line.index("x") and len(line) <= 60
    bar = Bar("", -100.0, 300.0, 80.0, -190.0, (-200.0, 400.0), "8 in 10.")
    assert told(bar, bar).count("a bad year") == 1


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.text("abc -/", max_size=40), st.integers(-(10**9), 10**9), st.text("xyz ,", max_size=60)
        ),
        max_size=4,
    ),
    st.integers(24, 130),
)
def test_any_table_at_any_width(rows, width):
    made = table("t", ["What", ("Head", "count"), ("Why", "text")], rows)
    text = told(made, width=width)
    assert all(columns_of(line) <= width for line in text.splitlines())
    for _, number, _ in rows:
        assert re.search(rf"(?<![\d,]){re.escape(f'{number:,}')}(?![\d,])", text)
