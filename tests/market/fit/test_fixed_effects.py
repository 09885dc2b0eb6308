"""The within-sale fit finds what the records were drawn from.

The price index of the standard calf."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from slidefit.market.fit import lots as lots_module
from slidefit.market.fit.candidates import recipe_for
from slidefit.market.fit.fixed_effects import fit_fixed_effects, price_index
from tests.market.coded import lots_of
from tests.market.lot_errors import lot_errors
from tests.market.simulate import Truth, simulate


@pytest.fixture(scope="module")
def big():
    truth = Truth()
    drawn = simulate(21, truth=truth, sales=250, lots=40, days_between=10)
    lots = lots_of(drawn.records)
    recipe = recipe_for(lots, kind="quadratic", harmonics=1, level=True)
    return truth, drawn, lots, recipe, fit_fixed_effects(lots, recipe)


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
    spoiled = fit_fixed_effects(replace(lots, log_price=price), recipe)
    assert spoiled.dropped.tolist() == [50, 900, 4_000]
    error = lot_errors(lots, spoiled, np.arange(lots.sales), np.arange(len(lots)))
    assert np.flatnonzero(np.isnan(error)).tolist() == [50, 900, 4_000]
    assert spoiled.sale_lots.sum() == len(lots) - 3
    np.testing.assert_allclose(spoiled.solution.coef, fit.solution.coef, atol=2e-3)


def test_prices_in_another_money_move_the_level_and_nothing_else(big):
    _, _, lots, recipe, fit = big
    dearer = fit_fixed_effects(replace(lots, log_price=lots.log_price + np.log(1.35)), recipe)
    np.testing.assert_allclose(dearer.solution.coef, fit.solution.coef, atol=1e-9)
    np.testing.assert_allclose(dearer.cov_year, fit.cov_year, rtol=1e-6, atol=1e-12)
    np.testing.assert_allclose(dearer.effect - fit.effect, np.log(1.35), atol=1e-9)


def test_small_chunks_give_the_same_fit(big, monkeypatch):
    _, _, lots, recipe, fit = big
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 333)
    again = fit_fixed_effects(lots, recipe)
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
    fit_fixed_effects(lots, recipe, progress=told.append)
    assert told[0].startswith("fitting the slide, pass 1 of 8: ")
    assert told[-1].startswith("fitting the slide, pass 8 of 8: 9,") and told[-1].endswith(" of 10,000 lots")
    assert len(told) <= 8 * 21
    monkeypatch.undo()
    told.clear()
    fit_fixed_effects(lots, recipe, progress=told.append)
    assert told == []


CALM = Truth(season=(0.0, 3.0), slope_season=(0.0, 0.0), level_slope=0.0, trend_year=0.0)


def index_of(records):
    lots = lots_of(records)
    fit = fit_fixed_effects(lots, recipe_for(lots, kind="quadratic", level=True))
    return lots, price_index(lots, fit)


def test_the_index_is_the_true_level_whatever_was_sold():
    """Light steers one half of the year, heavy heifers the other: the mean price swings, the index doesn't."""
    still = replace(CALM, walk_sd_month=0.0, sale_sd=0.0)
    records = simulate(2, truth=still, sales=200, lots=30, days_between=14).records
    early = records["sale_date"].dt.month <= 6
    light = (records["weight_lb"] < 600) & (records["sex"] == "steer")
    heavy = (records["weight_lb"] > 600) & (records["sex"] == "heifer")
    few = np.random.default_rng(1).random(len(records)) < 0.1
    mix = records[few | (early & light) | (~early & heavy)]
    mean = np.log(mix["price_cwt"]).groupby(mix["sale_date"].dt.month <= 6).mean()
    assert mean[True] - mean[False] > 0.15
    _, index = index_of(mix)
    assert np.nanstd(index.month_log) < 0.02
    assert np.nanmean(index.month_log) == pytest.approx(np.log(180.0), abs=0.01)


def test_the_level_path_is_found():
    drawn = simulate(3, truth=CALM, sales=150, lots=20, days_between=14)
    _, index = index_of(drawn.records)
    np.testing.assert_array_equal(index.sale_day, drawn.day)
    error = index.sale_log - np.log(180.0) - drawn.level
    assert np.std(error) < 0.03
    assert abs(np.mean(error)) < 0.01


def test_barns_are_brought_to_one_level():
    base = simulate(4, truth=CALM, sales=100, lots=15, days_between=14)
    other = base.records.assign(market="Otter Creek", price_cwt=base.records["price_cwt"] * np.exp(0.06))
    lots, index = index_of(pd.concat([base.records, other], ignore_index=True))
    assert lots.markets == ("Birch Landing", "Otter Creek")
    assert index.market_offset[1] - index.market_offset[0] == pytest.approx(0.06, abs=3e-3)
    assert index.market_offset.sum() == pytest.approx(0.0, abs=1e-9)
    one = index_of(base.records)[1]
    np.testing.assert_allclose(index.month_log, one.month_log + 0.03, atol=5e-3)


def test_a_barn_that_comes_in_a_dear_year_does_not_lift_the_index():
    base = simulate(5, truth=CALM, sales=200, lots=15, days_between=14)
    late = base.records[base.records["sale_date"] >= "2021-06-01"]
    other = late.assign(market="Otter Creek", price_cwt=late["price_cwt"] * 1.08)
    both = index_of(pd.concat([base.records, other], ignore_index=True))[1]
    one = index_of(base.records)[1]
    shift = both.month_log - one.month_log
    assert np.ptp(shift) < 0.02


@pytest.mark.parametrize(("first_of_the_other", "apart"), [("2020-12-01", 0.08), ("2021-01-01", 0.0)])
def test_barns_that_share_six_months_are_told_apart_and_barns_that_share_five_stand_level(
    first_of_the_other, apart
):
    base = simulate(5, truth=CALM, sales=200, lots=15, days_between=14).records
    early = base[base["sale_date"] < "2021-06-01"]
    dear = base.assign(market="Otter Creek", price_cwt=base["price_cwt"] * np.exp(0.08))
    both = index_of(pd.concat([early, dear[dear["sale_date"] >= first_of_the_other]], ignore_index=True))[1]
    assert np.ptp(both.market_offset) == pytest.approx(apart, abs=0.01 if apart else 1e-9)


def test_a_month_without_a_sale_stays_open():
    records = simulate(6, truth=CALM, sales=60, lots=15, days_between=14).records
    gap = (records["sale_date"] >= "2018-03-01") & (records["sale_date"] < "2018-05-01")
    _, index = index_of(records[~gap])
    assert np.all(np.diff(index.month) == 1)
    empty = np.isnan(index.month_log)
    assert index.month[empty].tolist() == [12 * 48 + 2, 12 * 48 + 3]
    assert np.isnan(index.month_var[empty]).all() and (index.month_sales[empty] == 0).all()


@pytest.mark.parametrize("sale_sd", [0.0, 0.05])
def test_the_spread_between_sales_of_a_month(sale_sd):
    calm = replace(CALM, walk_sd_month=0.0, sale_sd=sale_sd)
    _, index = index_of(simulate(7, truth=calm, sales=250, lots=20, days_between=7).records)
    assert index.sale_sd == pytest.approx(max(sale_sd, 0.005), abs=0.006)


def test_with_no_month_of_two_sales_the_spread_is_the_usual_one():
    _, index = index_of(simulate(8, truth=CALM, sales=30, lots=20, days_between=31).records)
    assert index.sale_sd == 0.03
    assert np.nanmax(index.month_sales) == 1
