"""The level's unseen trend: none in a walk, some in a cycle, the usual where little is known."""

import numpy as np
import pytest

from slidefit.market.index import PriceIndex
from slidefit.market.season import DRIFT_PRIOR_MONTHS, USUAL_DRIFT_SD, drift_sd

WALK = 0.03


def index_of(log):
    months = np.arange(len(log)) + 564
    return PriceIndex(
        sale_day=np.zeros(0, dtype=np.int64),
        sale_log=np.zeros(0),
        market_offset=np.zeros(1),
        month=months,
        month_log=np.asarray(log, dtype=float),
        month_var=np.zeros(len(log)),
        month_sales=np.ones(len(log), dtype=np.int64),
        sale_sd=0.02,
    )


def found(log, season=0.0):
    return drift_sd(index_of(log), np.full(12, season), WALK)


def walk(seed, months=400):
    return np.cumsum(np.random.default_rng(seed).normal(0.0, WALK, months))


def test_a_walk_has_hardly_any():
    least = USUAL_DRIFT_SD * np.sqrt(DRIFT_PRIOR_MONTHS / (400 + DRIFT_PRIOR_MONTHS))
    drifts = [found(walk(seed)) for seed in range(12)]
    assert min(drifts) >= least - 1e-12
    assert np.mean(drifts) < 0.008


def test_a_cycle_has_its_own():
    """Thirty percent up and down over ten years: the mean square of its monthly slope is (.3 x 2 pi / 120)^2 / 2."""
    cycle = 0.30 * np.sin(2.0 * np.pi * np.arange(400) / 120.0)
    drifts = [found(walk(seed) + cycle) for seed in range(12)]
    assert np.mean(drifts) == pytest.approx(0.30 * 2.0 * np.pi / 120.0 / np.sqrt(2.0), rel=0.25)


def test_a_steady_climb_counts_as_trend():
    drifts = [found(0.02 * np.arange(400) + walk(seed)) for seed in range(12)]
    assert np.mean(drifts) == pytest.approx(0.02, rel=0.15)


def test_months_without_a_sale_are_stepped_over():
    log = walk(2)
    log[100:130] = np.nan
    assert found(log) == pytest.approx(found(walk(2)), abs=0.004)


def test_little_known_is_the_usual():
    assert found(walk(3, months=10)) == USUAL_DRIFT_SD
