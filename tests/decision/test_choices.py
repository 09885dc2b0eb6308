"""The best choice is called only where it can be told from the next."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outlooks import make_outlook
from plans import changed_program, small_plan

from slidefit.decision.choices import TOO_CLOSE_ODDS, best_of, chosen, find_option, months_of
from slidefit.decision.comparison import compare
from slidefit.decision.results import SELL_NOW
from slidefit.errors import SlidefitError

WEANING = date(2026, 10, 14)
OPTION = compare(make_outlook(), small_plan(risk={"draws": 200})).groups[0].keep[0]


def option(gain, odds=0.9, **changes):
    return replace(OPTION, gain_per_head=gain, gain_herd=gain * 50, head_kept=50, odds=odds, **changes)


@pytest.mark.parametrize(("odds", "close"), [(0.55, True), (0.5999, True), (0.601, False), (0.95, False)])
def test_keeping_against_selling_is_too_close_just_below_the_odds_told(odds, close):
    best = best_of([option(20.0, odds)], [np.ones(10)], WEANING)
    assert best.choice == OPTION.program
    assert best.odds_beats_selling == odds
    assert best.too_close == close


@pytest.mark.parametrize(("odds", "close"), [(0.45, True), (0.39, False)])
def test_selling_against_keeping_too(odds, close):
    best = best_of([option(-20.0, odds)], [-np.ones(10)], WEANING)
    assert best.choice == SELL_NOW
    assert best.odds_beats_runner_up == pytest.approx(1.0 - odds)
    assert best.too_close == close


@given(share=st.integers(0, 100))
@settings(max_examples=20, deadline=None)
def test_two_dates_are_too_close_where_neither_wins_often_enough(share):
    first, second = np.full(100, 30.0), np.where(np.arange(100) < share, 0.0, 60.0)
    later = replace(option(29.0), sale_date=date(2027, 3, 15))
    best = best_of([option(30.0), later], [first, second], WEANING)
    assert best.odds_beats_runner_up == pytest.approx(share / 100)
    assert best.month_too_close == (share / 100 < TOO_CLOSE_ODDS)
    assert not best.too_close


def test_a_dearer_twin_is_told_apart_and_a_true_twin_is_not():
    yard = changed_program(cost_head_day=0.5)[0]
    for more, close in ((0.05, False), (0.0, True)):
        twin = {**yard, "name": "twin", "cost_head_day": 0.5 + more}
        group = compare(make_outlook(), small_plan(programs=[yard, twin])).groups[0]
        pair = [each for each in group.keep if each.sale_date == group.best.sale_date]
        gains = [np.full(100, each.gain_per_head) for each in pair]
        assert best_of(pair, gains, WEANING).month_too_close == close


def test_the_call_turns_from_keep_to_too_close_to_sell_as_feed_grows_dearer():
    calls = []
    for cost in (0.6, 1.45, 1.6, 1.75, 4.5):
        best = (
            compare(make_outlook(), small_plan(programs=changed_program(cost_head_day=cost))).groups[0].best
        )
        calls.append("close" if best.too_close else "sell" if best.choice == SELL_NOW else "keep")
    assert calls[0] == "keep"
    assert calls[-1] == "sell"
    assert "close" in calls[1:-1]


def test_nothing_to_keep_is_sold():
    best = best_of([], [], WEANING)
    assert best.choice == SELL_NOW
    assert best.runner_up is None
    group = compare(make_outlook(), small_plan(programs=changed_program(cost_head_day=9.0))).groups[0]
    assert chosen(group) is None


TWO = [*changed_program(), *changed_program(name="cheap", cost_head_day=0.4, latest_off="2027-01-01")]


@pytest.fixture(scope="module")
def comparison():
    return compare(make_outlook(unseen=(12,)), small_plan(programs=TWO))


def test_each_month_shows_its_best_program(comparison):
    rows = months_of(comparison.groups[0])
    assert [row.sale_month for row in rows] == ["2026-11", "2027-01", "2027-02", "2027-03"]
    assert rows[0].program == "cheap"
    assert {row.program for row in rows[1:]} == {"yard"}
    assert all(row.later_bid_cwt is not None for row in rows)


def test_an_option_is_found_by_name(comparison):
    option = find_option(comparison, "steers", "yard", "2027-02")
    assert (option.program, option.sale_month) == ("yard", "2027-02")
    assert find_option(comparison, "steers").gain_herd == max(k.gain_herd for k in comparison.groups[0].keep)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("steer",), "Did you mean 'steers'"),
        (("steers", "yrd"), "Did you mean 'yard'"),
        (("steers", "yard", "2026-12"), "no sale in December"),
        (("steers", "cheap", "2027-02"), "the program ends"),
        (("steers", "yard", "2031-02"), "no month of sale"),
    ],
)
def test_wrong_words(comparison, asked, said):
    with pytest.raises(SlidefitError, match=said):
        find_option(comparison, *asked)
