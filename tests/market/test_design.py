"""The regression's columns."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.market.basis import WeightCurve
from slidefit.market.design import Calves, Recipe, design, one_calf

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
    return Calves(
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
