"""Autocorrelation, changing spread and heavy tails of the season's errors, in words."""

import numpy as np
import pytest

from slidefit.market.residual_checks import check_notes, check_residuals
from tests.market.simulate import autoregression

RNG = np.random.default_rng


def spells(n=400):
    rng = RNG(3)
    out, spread = np.zeros(n), 1.0
    for i in range(1, n):
        spread = 0.3 + 0.65 * out[i - 1] ** 2
        out[i] = rng.normal(0, np.sqrt(spread))
    return out


@pytest.mark.parametrize(
    ("errors", "said"),
    [
        (RNG(1).normal(size=120), "no autocorrelation, no changing spread and no heavy tails"),
        (autoregression(RNG(1), 200, 1.0, 0.6), "in the same direction"),
        (autoregression(RNG(1), 200, 1.0, -0.6), "in the opposite direction"),
        (spells(), "calm and wild spells"),
        (RNG(2).standard_t(2, size=300), "kurtosis"),
    ],
)
def test_each_fault_has_its_words(errors, said):
    assert any(said in note for note in check_notes(check_residuals(errors)))


def test_months_without_a_sale_are_stepped_over():
    errors = RNG(1).normal(size=120)
    holed = np.insert(errors, [10, 50, 50], np.nan)
    assert check_residuals(holed) == check_residuals(errors)


def test_few_months_are_not_judged():
    assert check_residuals(RNG(1).normal(size=29)) is None
    assert check_residuals(np.zeros(50)) is None
    assert check_notes(None) == ()


def test_the_false_alarm_rate_is_that_of_the_level():
    """Three tests at one percent each: at most a few of 120 right models are called wrong."""
    rng = RNG(4)
    alarms = sum(
        "no autocorrelation" not in check_notes(check_residuals(rng.normal(size=96)))[0] for _ in range(120)
    )
    assert alarms < 14


def test_a_fit_hands_its_errors_over(fitted):
    errors = fitted.season_fit.innovations
    assert len(errors) == len(fitted.index.month)
    assert np.isnan(errors[0])
    assert 0.7 < np.nanstd(errors) < 1.3
