import numpy as np
import pytest
from scipy.special import ndtri

from slidefit.decision.draws import stratified_normals
from slidefit.decision.spread import Drivers, percentile, spread_of_gain, stand_in

COV = np.array([[0.04, 0.01], [0.01, 0.02]])


def drawn(seed, n=2000):
    rng = np.random.default_rng(seed)
    root = np.linalg.cholesky(COV)
    normal = root @ stratified_normals(rng, 2, n)
    return normal, Drivers(normal[0], normal[1:], COV)


def test_a_normal_gain_is_read_off_nearly_exactly():
    for seed in range(5):
        normal, drivers = drawn(seed)
        gains = 20.0 + 300.0 * normal[0] - 100.0 * normal[1]
        sd = np.sqrt(300**2 * 0.04 + 100**2 * 0.02 - 2 * 300 * 100 * 0.01)
        spread = spread_of_gain(gains, drivers, 50.0)
        assert spread.p10 == pytest.approx(20 + sd * ndtri(0.1), abs=0.6)
        assert spread.p50 == pytest.approx(20, abs=0.6)
        assert spread.p90 == pytest.approx(20 + sd * ndtri(0.9), abs=0.6)
        assert spread.mean == pytest.approx(20, abs=0.01)
        assert stand_in(gains, drivers).sd == pytest.approx(sd, rel=0.03)


def test_the_stand_in_steadies_percentiles_and_does_not_move_them():
    plain, steady = [], []
    for seed in range(60):
        normal, drivers = drawn(seed)
        noise = np.random.default_rng(1000 + seed).binomial(50, 0.02, 2000)
        gains = 2000.0 * np.exp(normal[0]) - 2000.0 * np.exp(normal[1]) - 20.0 * noise
        spread = spread_of_gain(gains, drivers, 50.0)
        steady.append([spread.p10, spread.p50, spread.p90, 1000 * spread.odds])
        ordered = np.sort(gains)
        plain.append([percentile(ordered, p) for p in (0.1, 0.5, 0.9)] + [1000 * np.mean(gains > 0)])
    plain, steady = np.array(plain), np.array(steady)
    assert np.all(steady.std(axis=0) < 0.75 * plain.std(axis=0))
    errors = plain.std(axis=0) / np.sqrt(60)
    assert np.all(np.abs(steady.mean(axis=0) - plain.mean(axis=0)) < 4 * errors)


def test_without_a_spread_everything_is_the_one_number():
    gains = np.full(100, 7.0)
    spread = spread_of_gain(gains, Drivers(np.zeros(100), np.zeros((1, 100)), np.zeros((2, 2))), 50.0)
    assert spread.p10 == spread.p50 == spread.p90 == spread.mean == spread.worst5_mean == 7.0
    assert spread.odds == 1.0
    assert spread.odds_big_loss == spread.draw_error == 0.0
