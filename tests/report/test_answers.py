"""The answer in sentences."""

from dataclasses import replace

import pytest
from example_comparison import DRY_LOT, PASTURE, WEANED, a_comparison, a_group
from example_market import an_outlook

from slidefit.decision.results import SELL_NOW, Breakeven, EnergyCheck
from slidefit.report import answers

SELL = {"choice": SELL_NOW, "sale_date": WEANED, "gain_per_head": 0.0, "odds_beats_selling": None}


def test_keep_names_program_month_and_gain():
    told = answers.answer(a_group())
    assert told == (
        "Steers: keep. Autumn-sown cereal pasture to April 2027 should bring $130 a head more than selling now."
    )


def test_sell_now_names_the_nearest_other_choice():
    group = a_group(pasture=-200.0, lot=-150.0, **SELL)
    told = answers.answer(group)
    assert told.startswith("Steers: sell now.")
    assert f"{PASTURE} to April 2027" in told or f"{DRY_LOT} to April 2027" in told
    assert "$90 a head less" in told


@pytest.mark.parametrize("best", [{}, SELL])
def test_too_close_to_call_is_said_either_way(best):
    assert "too close to call" in answers.answer(a_group(too_close=True, **best))


def test_nothing_to_compare():
    group = replace(a_group(**SELL), keep=())
    assert answers.answer(group) == "Steers: nothing to compare with selling now."
    assert answers.how_sure(group) == []


def test_a_gain_of_nothing_is_neither_more_nor_less():
    group = replace(a_group(**SELL))
    flat = replace(group.keep[0], gain_per_head=0.3)
    assert "the same as selling now" in answers.answer(replace(group, keep=(flat,)))


def test_how_sure_gives_odds_range_and_worst():
    told = " ".join(answers.how_sure(a_group()))
    assert "about 8 times in 10 (76%)" in told
    assert "between -$176 and +$465 a head" in told
    assert "averaged): -$353 a head" in told
    assert "Too close to tell apart" in told


def test_how_sure_leaves_out_a_clear_month():
    told = " ".join(answers.how_sure(a_group(month_too_close=False)))
    assert "Too close to tell apart" not in told


def test_herd():
    comparison = a_comparison()
    assert answers.herd_answer(comparison) == (
        "All 120 head, each group at its best: $8,200 more than selling all now. Eight times in ten the herd's gain "
        "is between -$9,400 and +$27,100. It gains about 7 times in 10 (69%)."
    )
    sold = replace(comparison, herd=replace(comparison.herd, gain=0.0))
    assert "selling now is the best choice for every group" in answers.herd_answer(sold)


@pytest.mark.parametrize(
    ("breakeven", "row"),
    [
        (Breakeven("gain_lb_day", 1.214, 1.9), ("Daily gain", "1.90 lb a day", "1.21 lb a day")),
        (Breakeven("bid_cwt", 402.1, 390.0), ("Price today", "$390.00/cwt", "$402.00/cwt")),
        (Breakeven("slide_pct_cwt", 17.24, 12.0), ("Slide", "12.0% per cwt", "17.2% per cwt")),
        (Breakeven("days", None, 183.0, "pays at any"), ("Days kept", "183 days", "pays at any")),
        (Breakeven("some_new_thing", 2.0, 1.0), ("some new thing", "1.00", "2.00")),
    ],
)
def test_breakevens(breakeven, row):
    assert answers.breakeven_row(breakeven) == row


def test_what_it_rests_on_counts_lots_sales_and_draws():
    told = " ".join(answers.rests_on(a_comparison(), an_outlook().basis))
    for part in (
        "4,812 lots",
        "51,234 head",
        "412 sales",
        "Birch Landing",
        "Jan 8, 2018",
        "10,000 runs",
    ):
        assert part in told


def test_what_it_rests_on_says_whether_the_records_are_enough():
    basis = replace(an_outlook().basis, verdict="thin: 40 lots (add 260 more lots)")
    told = answers.rests_on(a_comparison(), basis)
    assert "Records behind the prices: thin: 40 lots (add 260 more lots)." in told
    assert not any(
        "behind the prices" in line for line in answers.rests_on(a_comparison(), an_outlook().basis)
    )


def test_the_next_best_is_named_in_words_or_as_given():
    assert f"next best, {PASTURE} to March 2027," in " ".join(answers.how_sure(a_group()))
    assert "next best, something else," in " ".join(answers.how_sure(a_group(runner_up="something else")))


def test_selling_now_is_not_said_to_beat_itself():
    told = " ".join(answers.how_sure(a_group(pasture=-200.0, odds_beats_runner_up=0.7, **SELL)))
    assert "next best" not in told


@pytest.mark.parametrize("hopeful", [True, False])
def test_a_plan_that_asks_more_than_its_feed_gives_is_told_beside_the_answer(hopeful):
    group = a_group()
    energy = EnergyCheck(1.4, 2.3, 11.0, hopeful)
    keep = tuple(replace(option, energy=energy) for option in group.keep)
    told = " ".join(answers.how_sure(replace(group, keep=keep)))
    assert ("supports 1.40 lb a day; the plan says 2.30 lb" in told) is hopeful


def test_room_for_a_part_of_the_group_is_said():
    group = a_group()
    some = replace(group, keep=tuple(replace(option, head_kept=41) for option in group.keep))
    assert "There is room to keep 41 of the 60 head" in " ".join(answers.how_sure(some))
    assert "room to keep" not in " ".join(answers.how_sure(group))
