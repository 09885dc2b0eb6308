from datetime import date

import numpy as np
import pytest
from outlooks import certain, make_outlook
from plans import PASTURE, changed_group, changed_program, raw_plan, small_plan

from slidefit.decision.choices import find_option
from slidefit.decision.comparison import compare
from slidefit.decision.risk.answer_changes import flip, flip_grid
from slidefit.decision.risk.breakevens import INPUTS
from slidefit.errors import SlidefitError
from slidefit.plan.plan_file import build_plan

FED = changed_program(cost_head_day=0.5, pasture=PASTURE)


def test_every_input_swings_and_the_widest_comes_first():
    (result,) = flip(make_outlook(), small_plan(programs=FED))
    assert {swing.name for swing in result.swings} == set(INPUTS)
    widths = [swing.swing for swing in result.swings]
    assert widths == sorted(widths, reverse=True)
    best = compare(make_outlook(), small_plan(programs=FED)).groups[0].keep
    option = max(best, key=lambda each: each.gain_herd)
    assert result.gain_per_head == pytest.approx(option.gain_per_head)
    assert result.sale_date == option.sale_date
    for swing in result.swings:
        assert swing.low <= swing.planned <= swing.high
        assert swing.reason
        if swing.flips:
            assert swing.low <= swing.flip_at <= swing.high


def test_an_end_of_a_swing_is_the_budget_with_that_input():
    outlook = make_outlook()
    plan = small_plan(programs=FED)
    (result,) = flip(outlook, plan, sale_month="2027-01")
    swings = {swing.name: swing for swing in result.swings}

    def gain(**changes):
        return find_option(
            compare(outlook, build_plan(raw_plan(**changes))), "steers", None, "2027-01"
        ).gain_per_head

    death = changed_program(cost_head_day=0.5, pasture=PASTURE, death_loss_pct=4.0)
    assert swings["death_loss"].gain_high == pytest.approx(gain(programs=death))
    money = {"interest_pct": 10.0}
    assert swings["interest"].gain_high == pytest.approx(gain(programs=FED, money=money))
    poor = {**PASTURE, "forage_lb_acre": swings["forage_yield"].low}
    dry = changed_program(cost_head_day=0.5, pasture=poor)
    assert swings["forage_yield"].gain_low == pytest.approx(gain(programs=dry))
    faster = changed_program(cost_head_day=0.5, pasture=PASTURE, gain_lb_day=swings["gain"].high)
    assert swings["gain"].gain_high == pytest.approx(gain(programs=faster))
    shrunk = changed_program(cost_head_day=0.5, pasture=PASTURE, shrink_pct=4.0)
    assert swings["shrink"].gain_high == pytest.approx(gain(programs=shrunk))
    planned = swings["slide"].planned
    assert planned == pytest.approx(100 * (1 - np.exp(-0.10)))
    assert swings["slide"].gain_high < swings["slide"].gain_low
    dates = {"weaning": "2026-10-14", "sales": ["2027-01"], "sale_day": 1}
    assert swings["days"].gain_low == pytest.approx(gain(programs=FED, dates=dates))


def test_flips_agree_with_the_breakevens():
    outlook = make_outlook()
    option = find_option(compare(outlook, small_plan()), "steers")
    even = {each.name: each.value for each in option.breakevens}
    swings = {swing.name: swing for swing in flip(outlook, small_plan())[0].swings}
    for name, key in (("sale_price", "sale_price_cwt"), ("gain", "gain_lb_day"), ("bid", "bid_cwt")):
        if swings[name].flips:
            assert swings[name].flip_at == pytest.approx(even[key], rel=0.002)
    assert swings["sale_price"].flips


@pytest.mark.parametrize(("x", "y"), [("gain", "feed_cost"), ("days", "sale_price"), ("slide", "sale_price")])
def test_on_the_flip_line_keeping_and_selling_are_even(x, y):
    outlook = make_outlook()
    plan = small_plan(programs=changed_program(cost_head_day=1.2))
    grid = flip_grid(outlook, plan, x, y, sale_month="2027-01")
    gains = np.array(grid.gains)
    assert gains.shape == (len(grid.y_values), len(grid.x_values))
    assert grid.flip_line
    for at, even in grid.flip_line:
        column = grid.x_values.index(at)
        near = np.interp(even, grid.y_values, gains[:, column])
        assert near == pytest.approx(0.0, abs=1e-6)
    middle = find_option(compare(outlook, plan), "steers", None, "2027-01").gain_per_head
    k, j = (
        grid.y_values.index(min(grid.y_values, key=lambda v: abs(v - grid.y.planned))),
        grid.x_values.index(min(grid.x_values, key=lambda v: abs(v - grid.x.planned))),
    )
    assert gains[k, j] == pytest.approx(middle, abs=12)


def test_transposed_grids_agree():
    outlook, plan = make_outlook(), small_plan()
    one, two = flip_grid(outlook, plan, "gain", "feed_cost"), flip_grid(outlook, plan, "feed_cost", "gain")
    assert np.allclose(np.array(one.gains), np.array(two.gains).T)


def test_inputs_without_a_part_are_not_shown():
    contract = {"price_cwt": 300.0, "base_weight_lb": 700.0, "slide_cwt": 8.0}
    plan = small_plan(selling={"contract": contract}, programs=changed_program(gain_sd_lb_day=0.0))
    names = {swing.name for swing in flip(certain(), plan)[0].swings}
    assert names.isdisjoint({"sale_price", "slide", "forage_yield"})


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"x": "gian", "y": "slide"}, "Did you mean 'gain'"),
        ({"x": "gain", "y": "gain"}, "given twice"),
        ({"x": "gain", "y": "forage_yield"}, "no part"),
        ({"x": "gain", "y": "slide", "group": "steer"}, "Did you mean 'steers'"),
        ({"x": "gain", "y": "slide", "program": "lot"}, "no program"),
        ({"x": "gain", "y": "slide", "sale_month": "2029-01"}, "no month"),
    ],
)
def test_wrong_words(asked, said):
    with pytest.raises(SlidefitError, match=said):
        flip_grid(make_outlook(), small_plan(), **asked)


def test_nothing_to_flip_is_told():
    plan = small_plan(programs=changed_program(latest_off="2026-10-20"), groups=changed_group())
    with pytest.raises(SlidefitError, match="nothing can be compared"):
        flip(make_outlook(), plan)


@pytest.mark.parametrize("weight", [360.0, 550.0])
def test_after_a_bid_the_sale_prices_range_is_what_the_bid_leaves_open(weight):
    """Simulated markets: what the later price varies by once the day's bid is known (the one regressed on the other).

    A bid on light calves tells of level and slide together, so that the two are no longer independent.
    """
    outlook = make_outlook(slide_sd=0.04, as_of=date(2026, 10, 14))
    plan = small_plan(groups=changed_group(weight_lb=weight, bid_cwt=390.0))
    option = find_option(compare(outlook, plan), "steers", None, "2027-01")
    (result,) = flip(outlook, plan, sale_month="2027-01")
    span = next(each for each in result.swings if each.name == "sale_price")
    rng = np.random.default_rng(8)
    level, slide, step, trend, quality, now, then = rng.standard_normal((7, 60_000))
    lot, months = np.sqrt((0.04**2 + 0.12**2 / 50) / 2.0), option.days / (365.25 / 12.0)
    day_sd = np.hypot(lot, 0.015)
    bid = 0.02 * level + 0.04 * slide * (weight - 550.0) / 100.0 + lot * quality + day_sd * now
    later = 0.02 * level + 0.04 * slide * (option.weight_lb - 550.0) / 100.0 + lot * quality + day_sd * then
    later = later + 0.04 * np.sqrt(months) * step + 0.015 * months * trend
    left = np.std(later - bid * (later @ bid) / (bid @ bid))
    for low, high in ((span.low, span.high), (option.price_low_cwt, option.price_high_cwt)):
        assert np.log(high / low) / (2.0 * 1.2816) == pytest.approx(left, rel=0.01)
