import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from slidefit.decision.risk.draws import even_points, normals_at
from slidefit.decision.risk.odds import PriceCurves, percentile, spread_of_gain

TAIL = float(np.exp(-0.5 * ndtri(0.05) ** 2) / np.sqrt(2 * np.pi)) / 0.05


def normals(rows, draws=8192, seed=5):
    return normals_at(even_points(np.random.default_rng(seed), rows, draws))


def drawn(draws=8192, seed=5, sd=0.08):
    """A check of $2,000 with two sources of spread beside the price, and $1,900 to cover."""
    known, costs, price = normals(3, draws, seed)
    curves = PriceCurves(np.log(2000.0) + 0.04 * known, 1900.0 + 30.0 * costs, sd)
    return np.exp(curves.worth + sd * price) - curves.base, curves


def test_a_lognormal_gain_is_read_off_exactly():
    """Nothing but the price varies: each figure has a closed form."""
    sd, n = 0.1, 4096
    curves = PriceCurves(np.full(n, np.log(2000.0)), np.full(n, 1900.0), sd)
    gains = 2000.0 * np.exp(sd * normals(1, n)[0]) - 1900.0
    spread = spread_of_gain(gains, curves, 100.0)
    for share, got in ((0.1, spread.p10), (0.5, spread.p50), (0.9, spread.p90)):
        assert got == pytest.approx(2000.0 * np.exp(sd * ndtri(share)) - 1900.0, abs=0.2)
    assert spread.odds == pytest.approx(ndtr(np.log(2000.0 / 1900.0) / sd), abs=2e-4)
    assert spread.odds_big_loss == pytest.approx(ndtr(np.log(1800.0 / 2000.0) / sd), abs=2e-4)
    mean = 2000.0 * np.exp(0.5 * sd**2)
    assert spread.bad_year == pytest.approx(mean * ndtr(ndtri(0.1) - sd) / 0.1 - 1900.0, abs=0.3)
    assert spread.worst5_mean == pytest.approx(mean * ndtr(ndtri(0.05) - sd) / 0.05 - 1900.0, abs=0.3)


def test_curves_settle_where_a_count_of_many_draws_settles():
    gains, _ = drawn(draws=2**20)
    exact = spread_of_gain(gains, None, 100.0)
    spread = spread_of_gain(*drawn(draws=8192), 100.0)
    for name in ("p10", "p50", "p90", "bad_year", "worst5_mean"):
        assert getattr(spread, name) == pytest.approx(getattr(exact, name), abs=0.6)
    assert spread.odds == pytest.approx(exact.odds, abs=0.001)
    assert spread.odds_big_loss == pytest.approx(exact.odds_big_loss, abs=0.001)


def test_curves_are_many_times_steadier_than_a_count():
    names = ("p10", "p50", "p90", "worst5_mean", "odds")
    seeds = [drawn(draws=4096, seed=seed) for seed in range(8)]
    smooth, counted = (
        np.array(
            [[getattr(spread_of_gain(g, c if use else None, 50.0), name) for name in names] for g, c in seeds]
        )
        for use in (True, False)
    )
    assert np.all(smooth.std(axis=0) < 0.15 * counted.std(axis=0))


def test_a_loss_of_all_head_is_borne():
    n = 512
    curves = PriceCurves(np.full(n, np.log(1e-9)), np.full(n, 500.0), 0.1)
    spread = spread_of_gain(np.full(n, -500.0), curves, 50.0)
    assert spread.odds == 0.0
    assert spread.odds_big_loss == 1.0
    assert spread.p50 == pytest.approx(-500.0)


def test_without_a_spread_everything_is_the_one_number():
    spread = spread_of_gain(np.full(100, 7.0), None, 50.0)
    assert spread.p10 == spread.p50 == spread.p90 == spread.bad_year == spread.worst5_mean == 7.0
    assert spread.odds == 1.0
    assert spread.odds_big_loss == spread.draw_error == 0.0


def test_counted_draws_of_a_normal_gain():
    gains = 20.0 + 100.0 * normals(1)[0]
    spread = spread_of_gain(gains, None, 50.0)
    assert spread.p10 == pytest.approx(20.0 + 100.0 * ndtri(0.1), abs=0.2)
    assert spread.worst5_mean == pytest.approx(20.0 - 100.0 * TAIL, abs=0.5)
    assert spread.draw_error == pytest.approx(100.0 / np.sqrt(8192))
    assert percentile(np.array([1.0, 2.0, 4.0]), 0.75) == 3.0
