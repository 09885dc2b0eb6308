"""What past forecasts teach: shares and scales by hand, and odds that keep their word where forecasts are honest."""

import numpy as np
import pytest

from slidefit.market.past_record import PRIOR_OUTCOMES, learned_scale, learned_share, said_came


def test_a_share_leans_on_one_half_by_six_outcomes():
    """Two months ahead over eight months are four outcomes: (4 x share + 6 x .5) / 10."""
    walk, futures = np.zeros((8, 2)), np.full((8, 2), 0.1)
    actual = np.full((8, 2), 0.08)
    only_second = np.zeros((8, 2), dtype=bool)
    only_second[:, 1] = True
    assert learned_share(walk, futures, actual, only_second) == pytest.approx((4 * 0.8 + 6 * 0.5) / 10)
    assert PRIOR_OUTCOMES == 6.0


@pytest.mark.parametrize(("actual", "share"), [(1.0, 1.0), (-1.0, 0.0)])
def test_a_share_stays_within_none_and_all(actual, share):
    every = np.ones((500, 1), dtype=bool)
    assert (
        learned_share(np.zeros((500, 1)), np.full((500, 1), 0.1), np.full((500, 1), actual), every) == share
    )


def test_what_is_not_known_yet_teaches_nothing():
    rng = np.random.default_rng(1)
    known = np.arange(20)[:, None] + np.arange(1, 4) <= 12
    walk, futures, actual, miss = (rng.normal(size=(20, 3)) for _ in range(4))
    later = np.where(known, 0.0, 5.0)
    assert learned_share(walk, futures, actual, known) == learned_share(walk, futures, actual + later, known)
    assert np.array_equal(learned_scale(miss**2, known), learned_scale(miss**2 + later, known))
    assert learned_share(walk, np.full_like(walk, np.nan), actual, known) == 0.5
    assert (learned_scale(np.full((20, 3), np.nan), known) == 1.0).all()


def test_honest_forecasts_keep_their_scale_and_their_word():
    z = np.random.default_rng(2).normal(size=(4000, 2, 2))
    scale = learned_scale((z**2).mean(axis=2), np.ones((4000, 2), dtype=bool))
    assert scale == pytest.approx([1.0, 1.0], abs=0.02)
    rows = said_came(z)
    assert [(row.months, row.said_low, row.said_high, row.decisions) for row in rows[:3]] == [
        (1, 20.0, 40.0, 4000),
        (1, 40.0, 60.0, 4000),
        (1, 60.0, 80.0, 4000),
    ]
    for row in rows:
        assert row.came_pct == pytest.approx(0.5 * (row.said_low + row.said_high), abs=1.5)


def test_far_ranges_lean_on_near_ones_and_all_on_what_they_were():
    """Ranges twice too wide at one month, nothing known of nine: that is narrowed too, less where little is known."""
    misses = np.full((400, 9), np.nan)
    misses[:, 0] = 0.25
    many = learned_scale(misses, np.ones((400, 9), dtype=bool))
    few = learned_scale(misses[:6], np.ones((6, 9), dtype=bool))
    assert many == pytest.approx(np.full(9, 0.5), abs=0.02)
    assert few[1:] == pytest.approx(np.full(8, np.sqrt((6 * 0.25 + 6) / 12)))
    assert few[0] ** 2 == pytest.approx((6 * 0.25 + 6 * few[1] ** 2) / 12)


def test_a_rising_market_comes_higher_than_was_said():
    """Errors of half a standard error: the chance of clearing the upper quantile q is Phi(.5 - z_(1-q))."""
    from scipy.stats import norm

    z = np.random.default_rng(3).normal(0.5, 1.0, size=(6000, 1, 1))
    middle = said_came(z)[1]
    odds = np.linspace(0.4, 0.6, 2001)
    assert middle.came_pct == pytest.approx(100.0 * norm.cdf(0.5 + norm.ppf(odds)).mean(), abs=1.5)


def test_months_without_a_sale_count_for_nothing():
    z = np.full((3, 2, 2), np.nan)
    z[:2, 0, 0] = 9.0
    rows = said_came(z)
    assert {row.months for row in rows} == {1} and {row.decisions for row in rows} == {2}
    assert [row.came_pct for row in rows] == [100.0, 100.0, 100.0]


def test_errors_below_the_noise_narrow_a_range_no_further_than_none():
    """A month's mean square less its noise can fall below zero; a scale is a number all the same."""
    known = np.ones((50, 3), dtype=bool)
    below, none = (learned_scale(np.full((50, 3), miss), known) for miss in (-4.0, 0.0))
    assert np.array_equal(below, none) and (below > 0.0).all()
