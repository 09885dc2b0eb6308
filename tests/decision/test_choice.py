"""The best choice is called only where it can be told from the next."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outlooks import make_outlook
from plans import changed_program, small_plan

from slidefit.decision.choice import TOO_CLOSE_ODDS, best_of, chosen
from slidefit.decision.comparison import compare
from slidefit.decision.results import SELL_NOW

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
@settings(max_examples=40, deadline=None)
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
