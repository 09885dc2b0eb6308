"""Weight curves and harmonics."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline

from slidefit.market.basis import WeightCurve, harmonics, scaled_weight, spline_knots

KNOTS = (-2.0, -0.8, 0.1, 1.3, 3.0)


def test_the_standard_calf_is_the_origin():
    np.testing.assert_array_equal(scaled_weight([450.0, 550.0, 700.0]), [-1.0, 0.0, 1.5])


@pytest.mark.parametrize(
    ("curve", "columns"),
    [(WeightCurve("straight"), 1), (WeightCurve("quadratic"), 2), (WeightCurve("spline", KNOTS), 4)],
)
def test_every_curve_is_zero_at_the_standard_calf(curve, columns):
    assert curve.columns == columns
    assert curve.rows(np.zeros(1)).shape == (1, columns)
    np.testing.assert_array_equal(curve.rows(np.zeros(1)), 0.0)


@given(st.lists(st.floats(-1.0, 1.0), min_size=5, max_size=5))
def test_the_spline_holds_every_natural_cubic_spline_on_its_knots(values):
    """Against scipy's natural cubic spline through any values at the knots."""
    other = CubicSpline(KNOTS, values, bc_type="natural")
    x = np.linspace(KNOTS[0], KNOTS[-1], 60)
    columns = np.column_stack([np.ones(60), WeightCurve("spline", KNOTS).rows(x)])
    coef, *_ = np.linalg.lstsq(columns, other(x), rcond=None)
    np.testing.assert_allclose(columns @ coef, other(x), atol=1e-9)


def test_the_spline_is_straight_beyond_its_outer_knots():
    curve = WeightCurve("spline", KNOTS)
    for x in (np.linspace(3.0, 9.0, 7), np.linspace(-9.0, -2.0, 8)):
        np.testing.assert_allclose(np.diff(curve.rows(x), 2, axis=0), 0.0, atol=1e-9)


def test_knots_follow_the_weights():
    x = scaled_weight(np.linspace(350.0, 850.0, 5001))
    knots = spline_knots(x, np.ones(len(x), dtype=int), 4)
    assert len(knots) == 5 and list(knots) == sorted(knots)
    assert x.min() <= knots[0] and knots[-1] <= x.max()
    assert knots[2] == pytest.approx(0.5, abs=1e-3)
    rows = np.arange(len(x)) % 4
    counted = spline_knots(x, rows, 4)
    assert counted == pytest.approx(np.quantile(np.repeat(x, rows), np.linspace(0.05, 0.95, 5)), abs=1e-12)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_harmonics_average_zero_over_the_year(count):
    turns = harmonics(np.linspace(0.0, 365.25, 1461, endpoint=False), count)
    assert turns.shape == (1461, 2 * count)
    np.testing.assert_allclose(turns.mean(axis=0), 0.0, atol=1e-12)
    if count:
        np.testing.assert_allclose(turns.T @ turns / 1461, 0.5 * np.eye(2 * count), atol=1e-12)
