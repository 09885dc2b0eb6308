import numpy as np
import pytest

from slidefit.decision.held_price import HeldCurves
from slidefit.decision.points import even_points, normals_at
from slidefit.decision.spread import PriceCurves, spread_of_gain

FIGURES = ("p10", "p50", "p90", "mean", "worst5_mean")


def normals(rows, draws, seed):
    return normals_at(even_points(np.random.default_rng(seed), rows, draws))


def drawn(draws, *, floor=None, contract=False, bid=False, seed=5):
    """A check of about $2,000; selling now brings about $1,800 with a lot's own luck unless a bid is in hand."""
    known, costs, lot, price, now = normals(5, draws, seed)
    sd, start_sd = 0.08, 0.0 if bid else 0.05
    market = PriceCurves(np.log(2000.0) + 0.04 * known, np.zeros(draws), sd)
    start = PriceCurves(np.log(1800.0) + 0.02 * now, 100.0 + 30.0 * costs, start_sd)
    check = np.exp(market.worth + sd * price)
    base = start.base + np.exp(start.worth + start_sd * lot)
    if contract:
        least = 1950.0 + 25.0 * known
        return least - base, HeldCurves(None, least, base, None if bid else start)
    least = np.full(draws, float(floor))
    market = PriceCurves(market.worth, base, sd)
    return np.maximum(check, least) - base, HeldCurves(market, least, base, None if bid else start)


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
    gains, _ = drawn(2**19, **case)
    counted = spread_of_gain(gains, None, 40.0)
    spread = spread_of_gain(*drawn(16_384, **case), 40.0)
    for name in FIGURES:
        assert getattr(spread, name) == pytest.approx(getattr(counted, name), abs=0.8), name
    assert spread.odds == pytest.approx(counted.odds, abs=0.003)
    assert spread.odds_big_loss == pytest.approx(counted.odds_big_loss, abs=0.003)


@pytest.mark.parametrize("case", [{"floor": 1900.0}, {"contract": True}])
def test_it_is_far_steadier_than_a_count(case):
    seeds = [drawn(4096, seed=seed, **case) for seed in range(6)]
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
    gains, held = drawn(4096, floor=100.0)
    assert spread_of_gain(gains, held, 40.0).p10 == pytest.approx(
        spread_of_gain(gains, held.market, 40.0).p10, abs=0.5
    )
    gains, held = drawn(4096, floor=9000.0)
    alone = HeldCurves(None, held.least, held.base, held.start)
    at = np.array([7000.0, 7100.0, 7200.0])
    assert held.share_below(at)[0] == pytest.approx(alone.share_below(at)[0], abs=1e-6)
