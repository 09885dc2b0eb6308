"""What the terminal says of what would flip an answer, and of sorting."""

from dataclasses import replace

import pytest
from example_flips import SWINGS, a_flip, a_grid, a_sorting

from slidefit.report import report_content
from slidefit.report.render.terminal import document_text


def words(text):
    return [" ".join(line.split()) for line in text.splitlines()]


def test_swings_show_both_ends_and_where_the_answer_flips():
    told = words(document_text(report_content.flips_content([a_flip()]), width=110))
    assert (
        "What would change the answer: Steers on Dry lot, sold Mar 15, 2027 (+$35 a head as planned)" in told
    )
    assert "Price at sale $295/cwt $350/cwt -$180 +$260 $316/cwt" in told
    assert "Death loss 0.0% 4.0% +$60 +$5" in told
    assert "This alone changes the answer: price at sale at $316/cwt (planned $320/cwt)." in told


def test_an_answer_that_nothing_flips_is_said():
    assert "No single number changes the answer within its likely range." in document_text(
        report_content.flips_content([a_flip(SWINGS[1])])
    )


def test_grid_shows_ends_and_where_it_comes_out_even():
    told = words(document_text(report_content.grid_content(a_grid(5, 5)), width=110))
    assert "$0.00/head-day -$50 $0 +$50 +$100 +$150" in told
    assert told[0].endswith("Steers on Dry lot, sold Mar 15, 2027; daily gain across")
    assert any(
        line.startswith("Breakeven: 1.50 lb/day with feed and pasture $0.00/head-day") for line in told
    )


def test_a_fine_grid_is_thinned_but_keeps_its_ends():
    told = words(document_text(report_content.grid_content(a_grid(21, 21)), width=120))
    rows = [line.split() for line in told if line.startswith("$") and "head-day" in line]
    assert [row[0] for row in (rows[0], rows[-1])] == ["$0.00/head-day", "$2.00/head-day"]
    assert {len(row) for row in rows} == {report_content.GRID_COLUMNS + 1}
    assert rows[0][1] == "-$50" and rows[-1][-1] == "+$50"


def test_a_grid_of_one_sign_says_nothing_of_even():
    assert "Breakeven" not in document_text(report_content.grid_content(a_grid(level=-9.0)))


def test_sorting():
    told = " ".join(document_text(report_content.sorting_content(a_sorting())).split())
    assert "keep calves lighter than 565 lb at weaning (about 27 head), sell the rest" in told
    assert "worth $19 a head" in told
    assert "500 lb Dry lot, sold Mar 15, 2027 +$41" in told and "600 lb sell now -$22" in told


def test_sorting_without_a_threshold():
    assert "every weight has the same best choice" in document_text(
        report_content.sorting_content(a_sorting(None))
    )


@pytest.mark.parametrize("width", [60, 100])
def test_nothing_is_wider_than_the_terminal(width):
    for told in (
        document_text(report_content.flips_content([a_flip()]), width=width),
        document_text(report_content.grid_content(a_grid(4, 4)), width=width),
        document_text(report_content.sorting_content(a_sorting()), width=width),
    ):
        assert max(map(len, told.splitlines())) <= width


def test_the_sentence_names_three_at_most():
    many = [replace(SWINGS[0], label=f"input {n}") for n in range(5)]
    told = " ".join(document_text(report_content.flips_content([a_flip(*many)])).split())
    assert (
        "Any one of these alone changes the answer: input 0 at $316/cwt" in told and "; and 2 more." in told
    )
    assert "input 3 at $316/cwt" not in told
