import numpy as np
import pytest
from outlooks import certain, make_outlook
from plans import PASTURE, changed_group, changed_program, small_plan

from slidefit.decision.comparison import compare
from slidefit.plan.plan import Plan

FLOOR = {"shrink_pct": 3.0, "floor": {"floor_cwt": 330.0, "cost_cwt": 5.0}}
CONTRACT = {
    "shrink_pct": 3.0,
    "contract": {"price_cwt": 350.0, "base_weight_lb": 700.0, "slide_cwt": 8.0, "groups": ["bid"]},
}


def plan_of(draws: int = 16_384, **changes) -> Plan:
    """Three groups: one with a bid in hand, one weaned later, one of heifers; all are kept."""
    base = changed_group()[0]
    groups = [
        {**base, "name": "bid", "bid_cwt": 355.0},
        {**base, "name": "late", "head": 30, "weaning": "2026-11-02", "weight_lb": 480.0},
        {**base, "name": "heifers", "sex": "heifer", "head": 80, "weight_lb": 470.0},
    ]
    program = changed_program(cost_head_day=0.2, pasture={**PASTURE, "forage_lb_acre": 6000.0})
    dates = {"weaning": "2026-10-14", "sales": ["2026-12", "2027-03"]}
    plan = {"dates": dates, "groups": groups, "programs": program, "risk": {"draws": draws, "seed": 3}}
    return small_plan(**{**plan, **changes})


@pytest.mark.parametrize("selling", [{"shrink_pct": 3.0}, FLOOR, CONTRACT])
def test_the_herd_is_counted_in_the_groups_joint_draws(selling):
    """Four times the draws agree within three dollars a head, on a spread of some two hundred.

    Groups share the level on the day of sale, which one group's own outcome integrates over: the herd is counted in the
    joint draws, and a percentile counted over 16,384 is good to some two dollars, not to the one of a single group.
    """
    herds = [compare(make_outlook(), plan_of(selling=selling, draws=n)).herd for n in (16_384, 65_536)]
    for name in ("p10", "p50", "p90"):
        off = getattr(herds[0], name) - getattr(herds[1], name)
        assert abs(off) / herds[0].head < 3.0, name
    assert herds[0].odds == pytest.approx(herds[1].odds, abs=0.01)
    assert herds[0].gain == pytest.approx(herds[1].gain)


def test_a_herd_of_one_group_is_that_group():
    plan = small_plan(programs=changed_program(cost_head_day=0.5), risk={"draws": 16_384})
    comparison = compare(make_outlook(), plan)
    group = comparison.groups[0]
    best = next(o for o in group.keep if o.sale_date == group.best.sale_date)
    for name in ("p10", "p50", "p90"):
        assert getattr(comparison.herd, name) == pytest.approx(50 * getattr(best, name), abs=50 * 4.0)
    assert comparison.herd.odds == pytest.approx(best.odds, abs=0.006)


def test_a_herd_that_is_sold_gains_nothing():
    sold = compare(make_outlook(), plan_of(programs=changed_program(cost_head_day=9.0))).herd
    assert sold.gain == sold.odds == sold.p10 == sold.p90 == 0.0
    assert sold.sell_now > 0.0


def test_without_any_spread_the_herd_is_its_budget():
    still = compare(certain(), plan_of(risk={"draws": 200, "vary": []})).herd
    assert still.p10 == still.p50 == still.p90 == pytest.approx(still.gain, rel=1e-6)
    assert still.odds == 1.0


@pytest.mark.parametrize("weight", [350.0, 550.0])
def test_the_range_of_selling_now_holds_eight_in_ten_of_simulated_sales(weight):
    """Level, slide to the weight, sale, lot and calves, drawn from the outlook's own spreads: all are in the range."""
    outlook = make_outlook(slide_sd=0.03)
    plan = small_plan(groups=changed_group(weight_lb=weight, head=16))
    now = compare(outlook, plan).groups[0].sell_now
    rng = np.random.default_rng(5)
    lot_sd = np.sqrt(0.015**2 + 0.04**2 + 0.12**2 / 16)
    off = [sd * rng.standard_normal(40_000) for sd in (0.02, 0.03 * (weight - 550.0) / 100.0, lot_sd)]
    walked = (0.04**2 * 2 + 0.015**2 * 4 / 30.4) / 30.4  # two days from the last sale to weaning
    price = now.price_cwt * np.exp(sum(off) + np.sqrt(walked) * rng.standard_normal(40_000))
    came = 0.97 * price * now.pay_weight_lb / 100.0 - 5.0  # commission; yardage and checkoff
    assert np.mean(came < now.p10) == pytest.approx(0.10, abs=0.008)
    assert np.mean(came > now.p90) == pytest.approx(0.10, abs=0.008)
