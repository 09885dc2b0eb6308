"""The reading of a bid against the closed form of a Gaussian posterior, and against simulation."""

from datetime import date

import numpy as np
import pytest
from outlooks import certain, make_outlook

from slidefit.decision.price_state import Held, PriceState, StateGroup, slide_run

WEANING, LATER = date(2026, 10, 14), date(2027, 2, 15)


def calves(outlook, bid=None, bid_is="", weight=520.0, sex="steer"):
    run = float(slide_run(outlook, sex, weight))
    expected = np.log(360.0)
    lot_var = outlook.lot_sd**2 + outlook.calf_sd**2 / 50.0
    log_bid = None if bid is None else expected + bid
    return StateGroup(sex, WEANING, run, expected, log_bid, bid_is, lot_var, outlook.sale_sd**2)


def test_one_bid_moves_each_part_by_its_share_of_the_variance():
    # Normal with known variances: E[part | sum] = cov(part, sum) / var(sum) x (sum - its mean).
    outlook = make_outlook()
    each = calves(outlook, bid=-0.05)
    level = float(outlook.index_cov([WEANING])[0, 0])
    both = float(outlook.index_cov([WEANING, LATER])[0, 1])
    whole = level + each.run**2 + each.quality_var + each.day_var
    state = PriceState(outlook, (each,))
    point = state.point(0, LATER)
    assert point.mean == pytest.approx(-0.05 * (both + each.quality_var) / whole)
    assert point.slide_mean == pytest.approx(-0.05 * each.run / whole)
    of_later = float(outlook.index_cov([LATER])[0, 0]) + each.quality_var
    assert point.var == pytest.approx(of_later - (both + each.quality_var) ** 2 / whole)
    reading = state.reading(0)
    assert reading.to_market == pytest.approx((level + each.run**2) / whole)
    assert reading.to_calves == pytest.approx(each.quality_var / whole)
    assert reading.to_market + reading.to_calves + reading.to_buyer == pytest.approx(1.0)
    assert state.carried(0, LATER)[0] == pytest.approx((both + each.quality_var) / whole)


def test_the_spread_after_a_bid_is_that_of_simulated_markets_with_such_a_bid():
    outlook = make_outlook(level_sd=0.04)
    each = calves(outlook, bid=0.03)
    rng = np.random.default_rng(3)
    index = rng.multivariate_normal([0, 0], outlook.index_cov([WEANING, LATER]), 400_000)
    slide, quality = rng.standard_normal(400_000), rng.normal(0, each.quality_var**0.5, 400_000)
    bid = index[:, 0] + each.run * slide + quality + rng.normal(0, each.day_var**0.5, 400_000)
    near = np.abs(bid - 0.03) < 0.002
    run = float(slide_run(outlook, "steer", 720.0))
    later = (index[:, 1] + quality + run * slide + rng.normal(0, each.day_var**0.5, 400_000))[near]
    point = PriceState(outlook, (each,)).point(0, LATER)
    assert point.mean + point.slide_mean * run == pytest.approx(
        later.mean(), abs=4 * later.std() / near.sum() ** 0.5
    )
    assert np.sqrt(point.variance(run)) == pytest.approx(later.std(), rel=0.03)


@pytest.mark.parametrize(
    ("bid_is", "carried"), [("market", 1.0), ("these calves", 1.0), ("this buyer", 0.0), ("", None)]
)
def test_what_the_user_says_of_a_bid_is_taken(bid_is, carried):
    outlook = make_outlook(drift=0.0)
    state = PriceState(outlook, (calves(outlook, -0.08, bid_is), calves(outlook, weight=560.0)))
    mean = state.point(0, LATER).mean
    if carried is None:
        assert -0.08 < mean < 0.0
    else:
        assert mean == pytest.approx(-0.08 * carried, abs=1e-6)
    other = state.point(1, LATER).mean
    assert other == pytest.approx(-0.08 if bid_is == "market" else 0.0, abs=1e-6) or (
        bid_is == "" and other < 0
    )


def test_an_old_level_is_moved_more_by_a_bid():
    shares = []
    for as_of in (date(2026, 10, 13), date(2026, 9, 1), date(2026, 7, 1)):
        outlook = make_outlook(as_of=as_of)
        shares.append(PriceState(outlook, (calves(outlook, 0.05),)).reading(0).to_market)
    assert shares[0] < shares[1] < shares[2]


def test_where_nothing_is_uncertain_a_bid_is_the_market_and_what_is_held_is_not_drawn():
    outlook = certain()
    assert PriceState(outlook, (calves(outlook, 0.05),)).point(0, LATER).mean == pytest.approx(0.05)
    outlook = make_outlook()
    each = calves(outlook, 0.05)
    still = PriceState(outlook, (each,), Held(False, False, False)).point(0, LATER)
    assert still.mean == pytest.approx(PriceState(outlook, (each,)).point(0, LATER).mean)
    assert still.variance(0.02) == pytest.approx(0.0, abs=1e-15)
