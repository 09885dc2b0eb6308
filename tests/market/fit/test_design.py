"""Weight curves and harmonics.

The regression's columns."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline

from slidefit.market.fit.design import (
    Recipe,
    Regressors,
    WeightCurve,
    design,
    harmonics,
    one_calf,
    scaled_weight,
    spline_knots,
)

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


CURVES = st.sampled_from(
    [WeightCurve("straight"), WeightCurve("quadratic"), WeightCurve("spline", (-2.0, -0.5, 0.5, 2.0))]
)


@st.composite
def recipes(draw):
    sexes = draw(st.sampled_from([("steer",), ("heifer",), ("steer", "heifer"), ("steer", "heifer", "bull")]))
    grades = draw(st.sampled_from([("ML 1",), ("ML 1", "ML 2"), ("ML 1", "M 1", "other")]))
    return Recipe(
        sexes=sexes,
        curves=tuple(draw(CURVES) for _ in sexes),
        season_harmonics=draw(st.integers(0, 2)),
        level=draw(st.booleans()),
        grades=grades,
        grade_of=tuple(range(len(grades))),
        level_grades=tuple(draw(st.booleans()) for _ in grades),
        traits=draw(st.sampled_from([(), ("fleshy",), ("fleshy", "thin")])),
        head=draw(st.booleans()),
    )


def calves(recipe, n=7, seed=0):
    rng = np.random.default_rng(seed)
    return Regressors(
        weight_lb=rng.uniform(300, 900, n),
        sex=rng.integers(0, len(recipe.sexes), n),
        grade=rng.integers(0, len(recipe.grades), n),
        day_of_year=rng.uniform(0, 365, n),
        level=rng.normal(size=n),
        head=rng.integers(1, 60, n).astype(float),
        traits=rng.random((n, len(recipe.traits))) < 0.5,
    )


@given(recipes())
@settings(deadline=None)
def test_a_name_for_every_column_and_no_name_twice(recipe):
    names = recipe.names()
    assert len(set(names)) == len(names)
    assert design(recipe, calves(recipe)).shape == (7, len(names))


@given(recipes(), st.integers(1, 365), st.floats(-0.5, 0.5))
@settings(deadline=None)
def test_the_standard_calf_is_all_zeros_on_any_day_at_any_level(recipe, day, level):
    """So that a sale's absorbed effect is the log price of that calf."""
    row = design(recipe, one_calf(recipe, recipe.sexes[0], 550.0, day=day, level=level))
    np.testing.assert_allclose(row, 0.0, atol=1e-15)


@given(recipes())
@settings(deadline=None)
def test_columns_are_called_what_they_are(recipe):
    some = calves(recipe, 40)
    X = dict(zip(recipe.names(), design(recipe, some).T, strict=True))
    x = (some.weight_lb - 550.0) / 100.0
    for place, sex in enumerate(recipe.sexes[1:], start=1):
        np.testing.assert_array_equal(X[sex], some.sex == place)
    for name, column in X.items():
        if name.startswith("level:") and name.endswith("weight"):
            assert np.all(column[np.isclose(some.level, 0.0)] == 0.0)
    if recipe.level:
        np.testing.assert_allclose(X["level:weight"], some.level * x)
        np.testing.assert_allclose(X["level:weight^2"], some.level * x**2)
    if recipe.season_harmonics:
        turn = np.cos(2 * np.pi * some.day_of_year / 365.25)
        np.testing.assert_allclose(X["cos1:weight^2"], turn * x**2)
    if recipe.head:
        np.testing.assert_allclose(X["ln head"], np.log(some.head / 15.0))
    for place, name in enumerate(recipe.traits):
        np.testing.assert_array_equal(X[f"trait {name}"], some.traits[:, place])


def test_no_season_is_the_mean_of_the_seasons():
    recipe = Recipe(("steer",), (WeightCurve("quadratic"),), 2, False, ("ML 1",), (0,), (True,), (), False)
    at = [design(recipe, one_calf(recipe, "steer", 700.0, day=d)) for d in np.arange(0, 365.25, 365.25 / 48)]
    flat = design(recipe, one_calf(recipe, "steer", 700.0), season=False)
    np.testing.assert_allclose(np.mean(at, axis=0), flat, atol=1e-12)


def test_a_sex_that_the_recipe_lacks_is_a_mistake_of_ours():
    recipe = Recipe(("steer",), (WeightCurve("straight"),), 0, False, ("ML 1",), (0,), (True,), (), False)
    with pytest.raises(ValueError, match="not in tuple"):
        one_calf(recipe, "bull", 500.0)
