"""The spread of lots by head, from sums over any sets of sales."""

import numpy as np
import pytest

from slidefit.market.lot_spread import Spread, spread_of, spread_sums


def estimated(error, head, sale):
    """The spread from sums over two halves of the sales."""
    now = Spread(0.04, 0.12)
    halves = (sale < np.median(sale), sale >= np.median(sale))
    return spread_of([spread_sums(error[h], head[h], sale[h], now) for h in halves], now)


def test_the_spread_of_lots_by_head():
    rng = np.random.default_rng(2)
    head = rng.choice([1.0, 3.0, 10.0, 40.0, 100.0], 60_000)
    sale = np.repeat(np.arange(3_000), 20)
    error = rng.normal(size=60_000) * np.sqrt(0.05**2 + 0.11**2 / head)
    error -= (np.bincount(sale, error) / 20)[sale]
    found = estimated(error, head, sale)
    assert found.lot_sd == pytest.approx(0.05, abs=0.002)
    assert found.calf_sd == pytest.approx(0.11, abs=0.004)


def test_a_spread_that_cannot_be_split_goes_to_the_lots():
    error = np.array([0.03, -0.03, 0.05, -0.05])
    found = estimated(error, np.full(4, 15.0), np.array([0, 0, 1, 1]))
    assert found == Spread(pytest.approx(np.sqrt(2 * np.mean(error**2))), 0.0)
    alone = estimated(error, np.full(4, 15.0), np.arange(4))
    assert alone == Spread(0.04, 0.12)


def test_an_unknown_head_counts_as_fifteen_and_no_variance_is_nil():
    spread = Spread(0.04, 0.12)
    assert spread.variance(np.array([np.nan, 15.0])).tolist() == [0.04**2 + 0.12**2 / 15.0] * 2
    assert Spread(0.0, 0.0).variance(np.array([10.0])) == pytest.approx([0.01**2])
