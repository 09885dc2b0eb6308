"""How far the slide wanders from sale to sale."""

import numpy as np
import pytest

from slidefit.market.coding import lots_of
from slidefit.market.drift import DEFAULT_DRIFT_CWT, slide_drift
from slidefit.market.gates import recipe_for
from slidefit.market.within import fit_within
from tests.market.simulate import Truth, simulate


def drift_of(seed=1, sales=200, lots=20, **truth):
    found = lots_of(simulate(seed, truth=Truth(**truth), sales=sales, lots=lots, days_between=14).records)
    return slide_drift(fit_within(found, recipe_for(found, kind="quadratic", harmonics=1, level=True)))


@pytest.mark.parametrize("drift", [0.008, 0.016, 0.03])
def test_a_true_drift_is_found(drift):
    found = np.mean([drift_of(seed, drift_sd=drift, drift_ar=0.0) for seed in range(4)])
    assert found == pytest.approx(drift, rel=0.12)


def test_a_slow_drift_is_found_less_what_the_fit_takes_for_season_and_level():
    found = np.mean([drift_of(seed, drift_sd=0.016, drift_ar=0.9) for seed in range(4)])
    assert 0.7 * 0.016 < found < 1.05 * 0.016


def test_no_drift_is_near_none():
    assert np.mean([drift_of(seed) for seed in range(4)]) < 0.004


def test_under_forty_sales_it_is_the_usual_one():
    assert drift_of(sales=39) == DEFAULT_DRIFT_CWT
    assert drift_of(sales=45, drift_sd=0.03) != DEFAULT_DRIFT_CWT
