"""Dates read from tables of twelve mid-month values."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.market.months import month_weights


@settings(max_examples=50, deadline=None)
@given(st.dates(date(2020, 1, 1), date(2031, 12, 31)))
def test_month_shares_sum_to_one_and_lie_side_by_side(day):
    row = month_weights([day])[0]
    assert row.sum() == pytest.approx(1.0) and (row >= 0.0).all()
    seen = np.flatnonzero(row > 1e-12)
    assert len(seen) <= 2
    if len(seen) == 2:
        assert (seen[1] - seen[0]) in (1, 11)


@settings(max_examples=50, deadline=None)
@given(st.dates(date(2020, 1, 1), date(2031, 12, 30)))
def test_the_season_moves_little_from_one_day_to_the_next(day):
    step = month_weights([day + timedelta(days=1)]) - month_weights([day])
    assert np.abs(step).sum() < 0.35  # over the end of a 28-day February, four days' worth


def test_the_middle_of_a_month_is_that_month():
    shares = month_weights([date(2026, m, 15) for m in range(1, 13)])
    np.testing.assert_allclose(shares, np.eye(12), atol=1e-12)


def test_a_day_between_two_middles_is_read_in_proportion_over_the_turn_of_the_year() -> None:
    """December 30 is 15 of 30.4 days past the middle of December: 49 in 100 of the way to January's."""
    row = month_weights([date(2026, 12, 30), date(2026, 1, 1)])
    assert row[0, [11, 0]] == pytest.approx([1 - 15 / 30.4375, 15 / 30.4375])
    assert row[1, [11, 0]] == pytest.approx([14 / 30.4375, 1 - 14 / 30.4375])
