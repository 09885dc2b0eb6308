"""From a fit to an outlook."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from slidefit.market.marketfit import fit_market
from slidefit.market.publish import BEYOND_SD_CWT, carry_beyond, curve_grid, level_today
from slidefit.market.slides import mid_month_day
from tests.market.simulate import Truth, simulate

GRID = np.arange(250.0, 1_101.0, 10.0)


def log_quadratic(weight):
    u = np.log(weight / 550.0)
    return -0.6 * u + 0.15 * u**2


def held(curve, low, high):
    return curve(np.clip(GRID, low, high))


def carried_to(curve, low, high):
    """Return the rule's answer for one curve, checked to be the same beside another one."""
    alone = carry_beyond(GRID, curve[None], low, high)[0]
    beside = carry_beyond(GRID, np.vstack([2.0 * curve, curve]), low, high)[1]
    np.testing.assert_allclose(beside, alone, atol=1e-12)
    return alone


def test_a_log_quadratic_market_is_carried_up_exactly():
    carried = carried_to(held(log_quadratic, 400.0, 800.0), 400.0, 800.0)
    up = GRID >= 800.0
    np.testing.assert_allclose(carried[up], log_quadratic(GRID[up]), atol=0.01)


def test_below_the_lightest_calf_the_slope_is_half_the_edges():
    carried = carried_to(held(lambda w: -0.001 * (w - 550.0), 400.0, 800.0), 400.0, 800.0)
    down = GRID <= 400.0
    np.testing.assert_allclose(np.diff(carried[down]) / 10.0, -0.0005, rtol=1e-9)


def test_inside_the_data_nothing_is_changed():
    curve = held(log_quadratic, 400.0, 800.0)
    seen = (GRID >= 400.0) & (GRID <= 800.0)
    np.testing.assert_array_equal(carried_to(curve, 400.0, 800.0)[seen], curve[seen])


def test_too_narrow_a_range_is_held_flat():
    curve = held(log_quadratic, 540.0, 560.0)
    np.testing.assert_array_equal(carried_to(curve, 540.0, 560.0), curve)


@pytest.mark.parametrize(("low", "high"), [(412.5, 781.0), (400.0, 800.0), (210.0, 655.25)])
def test_weights_come_in_even_steps_past_the_data(low, high):
    grid = curve_grid(low, high)
    assert np.array_equal(np.diff(grid), np.full(len(grid) - 1, 10.0))
    assert grid[0] == max(50.0, 10.0 * np.floor((low - 300.0) / 10.0))
    assert high + 300.0 <= grid[-1] < high + 310.0


def test_ends_of_the_data_between_two_steps_carry_the_same_curve():
    """The rule starts at the end itself, so a straight line is carried on from there."""

    def straight(w):
        return -0.001 * (w - 550.0)

    carried = carried_to(held(straight, 413.0, 787.0), 413.0, 787.0)
    np.testing.assert_allclose(carried[GRID < 413.0], straight(413.0) - 0.0005 * (GRID[GRID < 413.0] - 413.0))
    assert carried[GRID > 787.0][0] == pytest.approx(straight(790.0), abs=1e-5)


def test_the_curves_are_the_models(fitted):
    """Mid-month, inside the data, at the sales' own level, the drift apart: the outlook is the regression."""
    outlook, model = replace(fitted.outlook(), drift_slope=0.0), fitted.model
    for month in (1, 5, 10):
        weights = np.array([400.0, 550.0, 700.0])
        row = model.rows("heifer", weights, month=month, level=model.level_now) @ model.coef
        got = outlook.log_relative("heifer", weights, date(2025, month, 15))
        np.testing.assert_allclose(got, row, atol=2e-4)
        assert mid_month_day(month) > 0


def test_the_standard_calf_is_the_measure(fitted):
    outlook = fitted.outlook()
    for month in range(1, 13):
        assert outlook.log_relative("steer", 550.0, date(2025, month, 15)) == pytest.approx(0.0, abs=1e-12)
    day = outlook.as_of
    assert outlook.price_cwt("steer", 550.0, day) == pytest.approx(np.exp(outlook.log_index([day])[0]))
    assert level_today(fitted.season_fit, fitted.model.level_mean) == pytest.approx(fitted.model.level_now)


def test_grades_stand_off_from_the_standard_one(fitted, truth):
    outlook = fitted.outlook()
    assert outlook.grade("ML", "1").log_offset == 0.0
    assert outlook.grade("ML", "1-2").log_offset == pytest.approx(-0.04, abs=0.015)
    assert outlook.head_slope == pytest.approx(truth.head_slope, abs=0.006)


def test_beyond_the_data_the_slope_is_less_sure(fitted):
    curve = fitted.outlook().curve("steer")
    inside = (curve.weights_lb >= curve.low_lb) & (curve.weights_lb <= curve.high_lb)
    assert curve.slope_sd_cwt[~inside].min() >= BEYOND_SD_CWT > np.median(curve.slope_sd_cwt[inside])
    assert np.all(np.diff(curve.weights_lb) > 0)


def test_no_jump_at_the_edge_of_the_data(fitted):
    for sex in ("steer", "heifer"):
        curve = fitted.outlook().curve(sex)
        assert np.abs(np.diff(curve.log_relative, axis=1)).max() < 0.06


def test_one_market_stands_off_from_all(fitted):
    from slidefit.errors import FitError

    assert fitted.outlook("Birch Landing").log_level == pytest.approx(fitted.outlook().log_level)
    with pytest.raises(FitError, match="holds no market 'Otter Creek'"):
        fitted.outlook("Otter Creek")


@pytest.fixture(scope="module")
def wandering():
    """A fit of four years whose slide wanders from week to week."""
    return fit_market(simulate(103, truth=Truth(drift_sd=0.016), sales=208, lots=14).records)


def test_on_its_day_the_outlook_stands_at_todays_slide(wandering):
    outlook = wandering.outlook()
    assert abs(outlook.drift_slope) > 0.004 and 0.4 < outlook.drift_week_share < 1.0
    middle = replace(outlook, as_of=outlook.as_of.replace(day=15))
    for sex in ("steer", "heifer"):
        row = wandering.slide(sex, 550.0, middle.as_of.month).iloc[0]
        low, high = middle.log_relative(sex, [500.0, 600.0], middle.as_of)
        assert -100.0 * np.expm1(high - low) == pytest.approx(row["percent_today"], abs=0.05)
        assert abs(row["percent_today"] - row["percent_per_cwt"]) > 0.2


def test_the_drift_of_the_slide_fades_from_week_to_week(wandering):
    outlook = wandering.outlook()
    days = [outlook.as_of + timedelta(weeks=weeks) for weeks in (-5, 0, 1, 4, 52)]
    now, share = outlook.drift_slope, outlook.drift_week_share
    assert [outlook.drift_at(day) for day in days] == pytest.approx(
        [now, now, now * share, now * share**4, 0.0], abs=1e-4
    )
    still = replace(outlook, drift_slope=0.0)
    gap = outlook.log_relative("steer", [450.0, 650.0], days[2]) - still.log_relative(
        "steer", [450.0, 650.0], days[2]
    )
    assert gap == pytest.approx([-now * share, now * share])
