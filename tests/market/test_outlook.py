"""The price outlook: plain numbers and what follows from them."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.errors import OutlookError
from slidefit.market.outlook import GradeOffset, Outlook, OutlookBasis, SexCurve, grade_key

AS_OF = date(2026, 10, 14)
WEIGHTS = np.arange(300.0, 901.0, 10.0)


def an_outlook(**changes):
    curve = SexCurve(
        WEIGHTS, np.tile(-0.001 * (WEIGHTS - 550.0), (12, 1)), np.full(len(WEIGHTS), 0.02), 350.0, 800.0
    )
    mix = np.random.default_rng(0).normal(size=(12, 12))
    outlook = Outlook(
        as_of=AS_OF, currency="USD", log_level=float(np.log(300.0)), level_sd=0.02,
        season_log=0.05 * np.cos(2 * np.pi * np.arange(12) / 12), season_cov=1e-4 * mix @ mix.T,
        walk_sd_month=0.04, drift_sd_month=0.015, curves={"steer": curve},
        grades={"ML 1": GradeOffset(0.0), "ML 2": GradeOffset(-0.1, 0.02)}, head_slope=0.02,
        lot_sd=0.04, calf_sd=0.12, sale_sd=0.015,
        basis=OutlookBasis("sale records", 9, 90, 3, ("Birch Landing",), date(2018, 1, 1), AS_OF),
    )  # fmt: skip
    return replace(outlook, **changes)


days_ahead = st.lists(st.integers(0, 700), min_size=1, max_size=8)


@given(days_ahead)
@settings(deadline=None)
def test_the_covariance_is_symmetric_and_no_combination_has_less_than_no_variance(ahead):
    outlook = an_outlook(unseen_months=(1, 6), range_scale=(1.1, 0.9, 1.3))
    days = [AS_OF + timedelta(days=d) for d in ahead]
    cov = outlook.index_cov(days)
    np.testing.assert_allclose(cov, cov.T, rtol=1e-12)
    np.testing.assert_allclose(outlook.index_var(days), np.diag(cov), rtol=1e-12)
    assert np.linalg.eigvalsh(cov).min() > -1e-12


def test_today_is_as_sure_as_the_level():
    assert an_outlook().index_cov([AS_OF])[0, 0] == pytest.approx(0.02**2)


def test_a_change_over_no_time_is_nothing():
    cov = an_outlook().index_cov([AS_OF, AS_OF])
    assert cov[0, 0] - 2 * cov[0, 1] + cov[1, 1] == pytest.approx(0.0, abs=1e-15)


def test_spread_grows_with_the_months_ahead():
    outlook = an_outlook(season_cov=np.zeros((12, 12)))
    days = [AS_OF + timedelta(days=round(30.4375 * m)) for m in (0, 1, 4, 9)]
    found = np.sqrt(np.diag(outlook.index_cov(days)))
    months = outlook.months_ahead(days)
    np.testing.assert_allclose(found, np.sqrt(0.02**2 + 0.04**2 * months + 0.015**2 * months**2))


def test_the_past_is_no_horizon():
    np.testing.assert_array_equal(an_outlook().months_ahead([AS_OF - timedelta(days=90), AS_OF]), 0.0)


def test_price_is_level_season_weight_grade_and_lot():
    price = an_outlook().price_cwt("steer", [550.0, 650.0], date(2027, 1, 15), muscle="2", head=30.0)
    log = np.log(300.0) + 0.05 - 0.1 + 0.02 * np.log(2.0) + np.array([0.0, -0.1 + 0.02])
    np.testing.assert_allclose(price, np.exp(log))


def test_beyond_the_grid_the_curve_is_held():
    outlook = an_outlook()
    assert outlook.log_relative("steer", 2_000.0, AS_OF) == outlook.log_relative("steer", 900.0, AS_OF)


@pytest.mark.parametrize("weight", [300.0, 550.0, 850.0])
def test_weights_near_the_data_are_answered(weight):
    an_outlook().check_weight("steer", weight)


@pytest.mark.parametrize("weight", [299.0, 851.0])
def test_weights_far_from_the_data_are_refused(weight):
    with pytest.raises(OutlookError, match="outside the weights seen for steers, 350 to 800 lb"):
        an_outlook().check_weight("steer", weight)


def test_an_unknown_sex_or_grade_names_the_known_ones():
    with pytest.raises(OutlookError, match=r"sex 'bull'. Use one of: steer"):
        an_outlook().curve("bull")
    with pytest.raises(OutlookError, match=r"grade 'S 4'. Use one of: ML 1, ML 2"):
        an_outlook().grade("S", "4")


def test_the_error_of_a_slide_adds_up_along_the_curve():
    outlook = an_outlook()
    assert outlook.slide_sd("steer", 550.0, 550.0) == 0.0
    assert outlook.slide_sd("steer", 500.0, 700.0) == pytest.approx(0.04)
    assert outlook.slide_sd("steer", 700.0, 500.0) == pytest.approx(0.04)
    np.testing.assert_allclose(outlook.slide_sd("steer", 500.0, [550.0, 625.0]), [0.01, 0.025])


def test_more_head_less_noise_down_to_the_lots_own():
    outlook = an_outlook()
    noise = [outlook.noise_sd(h) for h in (0.0, 1.0, 10.0, 1e9)]
    assert noise[0] == noise[1] > noise[2] > noise[3]
    assert noise[3] == pytest.approx(np.sqrt(0.015**2 + 0.04**2), rel=1e-6)


@pytest.mark.parametrize(
    ("frame", "muscle", "key"), [("ML", "1", "ML 1"), ("", "2", "2"), ("S", "", "S"), ("", "", "")]
)
def test_one_spelling_of_a_grade(frame, muscle, key):
    assert grade_key(frame, muscle) == key
