"""The within-sale fit finds what the records were drawn from."""

from dataclasses import replace

import numpy as np
import pytest

from slidefit.market import lots as lots_module
from slidefit.market.coding import lots_of
from slidefit.market.gates import recipe_for
from slidefit.market.within import fit_within
from tests.market.lot_errors import lot_errors
from tests.market.simulate import Truth, simulate


@pytest.fixture(scope="module")
def big():
    truth = Truth()
    drawn = simulate(21, truth=truth, sales=250, lots=40, days_between=10)
    lots = lots_of(drawn.records)
    recipe = recipe_for(lots, kind="quadratic", harmonics=1, level=True)
    return truth, drawn, lots, recipe, fit_within(lots, recipe)


def coefficient(big, name):
    *_, recipe, fit = big
    place = recipe.names().index(name)
    return float(fit.solution.coef[place]), float(np.sqrt(fit.cov_sale[place, place]))


@pytest.mark.parametrize(
    ("name", "true"),
    [("steer:weight1", 0.008), ("heifer:weight1", 0.006), ("heifer", -0.09), ("level:weight", -0.03),
     ("grade ML 1-2", -0.04), ("ln head", 0.02), ("level:heifer", 0.0), ("level:weight^2", 0.0)],
)  # fmt: skip
def test_coefficients_are_recovered(big, name, true):
    found, error = coefficient(big, name)
    assert abs(found - true) < 4.0 * error
    assert error < 0.02


def test_the_slope_is_the_true_one_at_the_records_mean_level(big):
    truth, *_, fit = big
    found, error = coefficient(big, "steer:weight0")
    level = fit.level_mean - np.log(truth.price_cwt)
    assert abs(found - (-0.11 + truth.level_slope * level)) < 4.0 * error


def test_the_seasonal_slide_is_recovered(big):
    truth = big[0]
    size, peak = truth.slope_season
    angle = 2.0 * np.pi * (peak + 14.0 / (365.25 / 12.0)) / 12.0
    for name, true in (("cos1:weight", size * np.cos(angle)), ("sin1:weight", size * np.sin(angle))):
        found, error = coefficient(big, name)
        assert abs(found - true) < 4.0 * error


def test_the_two_spreads_are_recovered(big):
    *_, fit = big
    assert fit.spread.lot_sd == pytest.approx(0.04, abs=0.004)
    assert fit.spread.calf_sd == pytest.approx(0.12, abs=0.008)


def test_sale_effects_are_the_standard_calf_of_the_day(big):
    truth, drawn, *_, fit = big
    expected = np.log(truth.price_cwt) + drawn.level
    error = fit.effect - expected
    season = truth.season[0]
    assert np.std(error) < season  # the season and the sale's own noise are in it, no more
    assert abs(np.mean(error)) < 0.01


def test_a_misprint_is_left_out_and_does_not_bend_the_slide(big):
    _, _, lots, recipe, fit = big
    price = lots.log_price.copy()
    price[[50, 900, 4_000]] += np.log(10.0)
    spoiled = fit_within(replace(lots, log_price=price), recipe)
    assert spoiled.dropped.tolist() == [50, 900, 4_000]
    error = lot_errors(lots, spoiled, np.arange(lots.sales), np.arange(len(lots)))
    assert np.flatnonzero(np.isnan(error)).tolist() == [50, 900, 4_000]
    assert spoiled.sale_lots.sum() == len(lots) - 3
    np.testing.assert_allclose(spoiled.solution.coef, fit.solution.coef, atol=2e-3)


def test_prices_in_another_money_move_the_level_and_nothing_else(big):
    _, _, lots, recipe, fit = big
    dearer = fit_within(replace(lots, log_price=lots.log_price + np.log(1.35)), recipe)
    np.testing.assert_allclose(dearer.solution.coef, fit.solution.coef, atol=1e-9)
    np.testing.assert_allclose(dearer.cov_year, fit.cov_year, rtol=1e-6, atol=1e-12)
    np.testing.assert_allclose(dearer.effect - fit.effect, np.log(1.35), atol=1e-9)


def test_small_chunks_give_the_same_fit(big, monkeypatch):
    _, _, lots, recipe, fit = big
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 333)
    again = fit_within(lots, recipe)
    np.testing.assert_allclose(again.solution.coef, fit.solution.coef, atol=1e-10)
    np.testing.assert_allclose(again.cov_sale, fit.cov_sale, rtol=1e-7, atol=1e-12)
    np.testing.assert_allclose(again.cov_year, fit.cov_year, rtol=1e-7, atol=1e-12)
    np.testing.assert_allclose(again.effect, fit.effect, atol=1e-10)
    np.testing.assert_allclose(again.slope_score, fit.slope_score, atol=1e-7)
    np.testing.assert_allclose(again.grades.score, fit.grades.score, atol=1e-6)
    np.testing.assert_array_equal(again.grades.lots, fit.grades.lots)
    assert again.standard_spread.lot_sd == pytest.approx(fit.standard_spread.lot_sd, rel=1e-9)


def test_a_long_fit_tells_how_far_it_is(big, monkeypatch):
    _, _, lots, recipe, _ = big
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 333)
    told = []
    fit_within(lots, recipe, progress=told.append)
    assert told[0].startswith("fitting the slide, pass 1 of 8: ")
    assert told[-1].startswith("fitting the slide, pass 8 of 8: 9,") and told[-1].endswith(" of 10,000 lots")
    assert len(told) <= 8 * 21
    monkeypatch.undo()
    told.clear()
    fit_within(lots, recipe, progress=told.append)
    assert told == []
