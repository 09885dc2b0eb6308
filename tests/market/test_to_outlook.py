"""From a fit to an outlook.

Past lots moved to today's price level."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from slidefit.market.fit.slide_model import mid_month_day
from slidefit.market.market_fit import fit_market
from slidefit.market.outlook import GradeOffset, Outlook, OutlookBasis, SexCurve
from slidefit.market.to_outlook import BEYOND_SD_CWT, comparable_prices, curve_grid, extrapolate, level_today
from tests.market.simulate import Truth, simulate

GRID = np.arange(250.0, 1_101.0, 10.0)


def log_quadratic(weight):
    u = np.log(weight / 550.0)
    return -0.6 * u + 0.15 * u**2


def held(curve, low, high):
    return curve(np.clip(GRID, low, high))


def carried_to(curve, low, high):
    """Return the rule's answer for one curve, checked to be the same beside another one."""
    alone = extrapolate(GRID, curve[None], low, high)[0]
    beside = extrapolate(GRID, np.vstack([2.0 * curve, curve]), low, high)[1]
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


WEIGHTS = np.arange(250.0, 951.0, 50.0)
SLOPES = -0.12 + 0.02 * np.cos(np.arange(12) * np.pi / 6)


@pytest.fixture
def outlook():
    curve = SexCurve(
        WEIGHTS, SLOPES[:, None] * (WEIGHTS - 550.0) / 100.0, np.full(len(WEIGHTS), 0.005), 300.0, 900.0
    )
    basis = OutlookBasis("fit", 10, 100, 2, ("Birch Landing",), date(2025, 1, 1), date(2026, 10, 12))
    grades = {"ML 1": GradeOffset(0.0), "ML 2": GradeOffset(-0.1, 0.01)}
    season = 0.05 * np.cos(np.arange(12) * np.pi / 6)
    return Outlook(
        date(2026, 10, 12), "USD", float(np.log(380.0)), 0.01, season, np.zeros((12, 12)), 0.03, 0.01,
        {"steer": curve}, grades, 0.02, 0.04, 0.12, 0.015, basis,
    )  # fmt: skip


def lots(
    outlook, days_back, weights, *, level=0.0, muscle="1", head=15.0, market="Birch Landing", sex="steer"
):
    day = outlook.as_of - timedelta(days=days_back)
    price = outlook.price_cwt("steer", weights, day, muscle=muscle, head=head) * np.exp(level)
    return pd.DataFrame(
        {
            "sale_date": pd.Timestamp(day),
            "market": market,
            "sex": sex,
            "frame": "ML",
            "muscle": muscle,
            "head": head,
            "weight_lb": weights,
            "price_cwt": price,
        }
    )


def test_lots_without_noise_fall_on_todays_curve_whatever_their_day_level_grade_and_size(outlook):
    weights = np.array([400.0, 500.0, 650.0, 800.0])
    records = pd.concat(
        [
            lots(outlook, 5, weights),
            lots(outlook, 180, weights, level=-0.3, head=40.0),
            lots(outlook, 90, weights, level=0.2, muscle="2"),
        ]
    )
    today = comparable_prices(outlook, records).lots
    assert len(today) == 12
    expected = outlook.price_cwt("steer", today["weight_lb"], outlook.as_of)
    np.testing.assert_allclose(today["price_cwt"], expected, rtol=1e-12)


def test_the_distance_from_the_sales_own_lots_is_kept(outlook):
    records = lots(outlook, 120, np.array([450.0, 550.0, 650.0]), level=-0.2)
    records.loc[1, "price_cwt"] *= 1.07
    today = comparable_prices(outlook, records).lots
    ratio = today["price_cwt"] / outlook.price_cwt("steer", today["weight_lb"], outlook.as_of)
    np.testing.assert_allclose(ratio, [1.0, 1.07, 1.0])


def test_what_is_left_out(outlook):
    pair = np.array([500.0, 600.0])
    records = pd.concat(
        [
            lots(outlook, 400, pair),  # too long ago
            lots(outlook, -3, pair),  # after the outlook's day
            lots(outlook, 10, pair).assign(muscle="4"),  # a grade it doesn't know
            lots(outlook, 11, pair, sex="bull"),
            lots(outlook, 12, np.array([550.0])),  # alone in its sale
            lots(outlook, 13, np.array([550.0, 560.0, 950.0])),  # one beyond the data
        ]
    )
    today = comparable_prices(outlook, records).lots
    assert sorted(today["weight_lb"]) == [550.0, 560.0]


def test_no_records_give_an_empty_table(outlook):
    empty = lots(outlook, 500, np.array([500.0, 600.0]))
    assert comparable_prices(outlook, empty).lots.empty


def test_an_unknown_head_counts_as_fifteen(outlook):
    records = lots(outlook, 30, np.array([500.0, 600.0]), head=15.0).assign(head=np.nan)
    today = comparable_prices(replace(outlook, head_slope=0.1), records).lots
    np.testing.assert_allclose(
        today["price_cwt"], outlook.price_cwt("steer", [500.0, 600.0], outlook.as_of), rtol=1e-12
    )


def test_of_too_many_lots_whole_sales_are_drawn_the_same_ones_every_time(outlook):
    weights = np.array([400.0, 500.0, 650.0, 800.0])
    records = pd.concat(
        [lots(outlook, back, weights, market=barn) for back in range(1, 200, 2) for barn in ("Ash", "Elm")]
    )
    whole = comparable_prices(outlook, records)
    assert len(whole.lots) == 800 and not whole.drawn
    some, again = (comparable_prices(outlook, records, most=200) for _ in range(2))
    assert some.drawn and 120 < len(some.lots) < 280
    pd.testing.assert_frame_equal(some.lots, again.lots)
    assert set(some.lots.groupby(["sale_date", "market"]).size()) == {4}
