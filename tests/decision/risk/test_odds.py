import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from slidefit.decision.risk.draws import even_points, normals_at
from slidefit.decision.risk.odds import ContractFloorCurves, PriceCurves, percentile, spread_of_gain

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
    assert spread.mean == pytest.approx(mean - 1900.0, abs=1e-6)
    assert spread.worst5_mean == pytest.approx(mean * ndtr(ndtri(0.05) - sd) / 0.05 - 1900.0, abs=0.3)


def test_curves_settle_where_a_count_of_many_draws_settles():
    gains, _ = drawn(draws=2**20)
    exact = spread_of_gain(gains, None, 100.0)
    spread = spread_of_gain(*drawn(draws=8192), 100.0)
    for name in ("p10", "p50", "p90", "mean", "worst5_mean"):
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
    assert spread.p10 == spread.p50 == spread.p90 == spread.mean == spread.worst5_mean == 7.0
    assert spread.odds == 1.0
    assert spread.odds_big_loss == spread.draw_error == 0.0


def test_counted_draws_of_a_normal_gain():
    gains = 20.0 + 100.0 * normals(1)[0]
    spread = spread_of_gain(gains, None, 50.0)
    assert spread.p10 == pytest.approx(20.0 + 100.0 * ndtri(0.1), abs=0.2)
    assert spread.worst5_mean == pytest.approx(20.0 - 100.0 * TAIL, abs=0.5)
    assert spread.draw_error == pytest.approx(100.0 / np.sqrt(8192))
    assert percentile(np.array([1.0, 2.0, 4.0]), 0.75) == 3.0


FIGURES = ("p10", "p50", "p90", "mean", "worst5_mean")


def normals_of_held_price(rows, draws, seed):
    return normals_at(even_points(np.random.default_rng(seed), rows, draws))


def drawn_of_held_price(draws, *, floor=None, contract=False, bid=False, seed=5):
    """A check of about $2,000; selling now brings about $1,800 with a lot's own luck unless a bid is in hand."""
    known, costs, lot, price, now = normals_of_held_price(5, draws, seed)
    sd, start_sd = 0.08, 0.0 if bid else 0.05
    market = PriceCurves(np.log(2000.0) + 0.04 * known, np.zeros(draws), sd)
    start = PriceCurves(np.log(1800.0) + 0.02 * now, 100.0 + 30.0 * costs, start_sd)
    check = np.exp(market.worth + sd * price)
    base = start.base + np.exp(start.worth + start_sd * lot)
    if contract:
        least = 1950.0 + 25.0 * known
        return least - base, ContractFloorCurves(None, least, base, None if bid else start)
    least = np.full(draws, float(floor))
    market = PriceCurves(market.worth, base, sd)
    return np.maximum(check, least) - base, ContractFloorCurves(market, least, base, None if bid else start)


@pytest.mark.parametrize(
    "case",
    [
        {"floor": 1900.0},
        {"floor": 1900.0, "bid": True},
        {"floor": 2300.0},
        {"floor": 900.0},
        {"contract": True},
    ],
)
def test_held_gains_settle_where_a_count_of_many_draws_settles(case):
    gains, _ = drawn_of_held_price(2**19, **case)
    counted = spread_of_gain(gains, None, 40.0)
    spread = spread_of_gain(*drawn_of_held_price(16_384, **case), 40.0)
    for name in FIGURES:
        assert getattr(spread, name) == pytest.approx(getattr(counted, name), abs=0.8), name
    assert spread.odds == pytest.approx(counted.odds, abs=0.003)
    assert spread.odds_big_loss == pytest.approx(counted.odds_big_loss, abs=0.003)


@pytest.mark.parametrize("case", [{"floor": 1900.0}, {"contract": True}])
def test_it_is_far_steadier_than_a_count(case):
    seeds = [drawn_of_held_price(4096, seed=seed, **case) for seed in range(6)]
    smooth, counted = (
        np.array(
            [
                [getattr(spread_of_gain(g, c if use else None, 40.0), name) for name in FIGURES]
                for g, c in seeds
            ]
        )
        for use in (True, False)
    )
    parts = [FIGURES.index(name) for name in ("p10", "p50", "p90")]
    assert np.all(smooth.std(axis=0)[parts] < 0.3 * counted.std(axis=0)[parts])


def test_a_floor_far_below_changes_nothing_and_one_far_above_is_a_contract():
    gains, held = drawn_of_held_price(4096, floor=100.0)
    assert spread_of_gain(gains, held, 40.0).p10 == pytest.approx(
        spread_of_gain(gains, held.market, 40.0).p10, abs=0.5
    )
    gains, held = drawn_of_held_price(4096, floor=9000.0)
    alone = ContractFloorCurves(None, held.least, held.base, held.start)
    at = np.array([7000.0, 7100.0, 7200.0])
    assert held.share_below(at)[0] == pytest.approx(alone.share_below(at)[0], abs=1e-6)
