"""The money of one option: its own budget, and its mean over a year that is not known."""

from __future__ import annotations

import numpy as np
import pytest
from outlooks import certain, make_outlook
from plans import changed_group, changed_program, small_plan

from slidefit.decision.money import (
    Moved,
    Option,
    cost_of_gain,
    expected,
    expected_lines,
    hermite,
    value_of_gain,
)
from slidefit.decision.options import build_option, group_case, sale_dates


def option(outlook=None, **changes) -> Option:  # type: ignore[no-untyped-def]
    plan, outlook = small_plan(**changes), outlook or make_outlook()
    case = group_case(outlook, plan, plan.groups[0])
    return build_option(plan, case, plan.programs[0], sale_dates(plan)[2])[0]


def test_pounds_must_be_put_on_to_have_a_value_and_a_cost() -> None:
    """Rasby, University of Nebraska, November 2015: $0.80 a pound; over 212.5 lb gained before shrink, less."""
    assert (
        value_of_gain(550, 230, 551, 230) == pytest.approx(2.30)
        and value_of_gain(550, 230, 550.9, 230) is None
    )
    assert value_of_gain(550, 230, 750, 190, 212.5) == pytest.approx(160 / 212.5)
    assert cost_of_gain(1.5, 1.0) == 1.5 and cost_of_gain(1.5, 0.99) is None


def test_the_points_of_gain_have_the_moments_of_a_normal() -> None:
    points, share = hermite(9)
    for power, moment in ((0, 1), (1, 0), (2, 1), (4, 3), (6, 15), (8, 105)):
        assert share @ points**power == pytest.approx(moment, abs=1e-9)


def test_without_any_spread_the_mean_is_the_plans_own_budget() -> None:
    plain = option(certain(), programs=changed_program(gain_sd_lb_day=0.0))
    assert float(expected(plain)) == pytest.approx(plain.plain["gain_per_head"], abs=1e-9)
    assert plain.sale_lb == pytest.approx(520 + 1.8 * plain.days) and plain.gain_lb == plain.sale_lb - 520


def test_a_price_that_may_rise_or_fall_means_more_than_its_median() -> None:
    """A lognormal's mean is exp(half its variance) over its median (Johnson, Kotz and Balakrishnan, ch. 14)."""
    known = option(programs=changed_program(gain_sd_lb_day=0.0), groups=changed_group(bid_cwt=360.0))
    variance = float(known.point.variance(known.line.run_at(known.sale_lb)))
    mean = float(expected_lines(known, Moved(), ("sale_check",))[0])
    assert mean == pytest.approx(known.plain["sale_check"] * np.exp(variance / 2))
    assert variance > 0.001


def test_what_is_moved_comes_back_in_its_shape() -> None:
    at = np.array([-0.1, 0.0, 0.1])
    gains = expected(option(), Moved(log_price=at))
    assert gains.shape == (3,) and (np.diff(gains) > 0).all()
    assert gains[1] == pytest.approx(float(expected(option())))
    gain, check = expected_lines(option(), Moved(log_price=at), ("gain_per_head", "sale_check"))
    assert gain == pytest.approx(gains)
    assert check == pytest.approx(check[1] * np.exp(at))
