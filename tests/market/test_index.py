"""The price index of the standard calf."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from slidefit.market.coding import lots_of
from slidefit.market.gates import recipe_for
from slidefit.market.index import price_index
from slidefit.market.within import fit_within
from tests.market.simulate import Truth, simulate

CALM = Truth(season=(0.0, 3.0), slope_season=(0.0, 0.0), level_slope=0.0, trend_year=0.0)


def index_of(records):
    lots = lots_of(records)
    fit = fit_within(lots, recipe_for(lots, kind="quadratic", level=True))
    return lots, price_index(lots, fit.effects)


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


def test_barns_that_share_two_months_are_told_apart_and_barns_that_share_none_stand_level():
    base = simulate(5, truth=CALM, sales=200, lots=15, days_between=14).records
    early = base[base["sale_date"] < "2021-06-01"]
    dear = base.assign(market="Otter Creek", price_cwt=base["price_cwt"] * np.exp(0.08))
    shared = index_of(pd.concat([early, dear[dear["sale_date"] >= "2021-04-01"]], ignore_index=True))[1]
    assert np.ptp(shared.market_offset) == pytest.approx(0.08, abs=0.015)
    apart = index_of(pd.concat([early, dear[dear["sale_date"] >= "2021-06-01"]], ignore_index=True))[1]
    np.testing.assert_allclose(apart.market_offset, 0.0, atol=1e-9)


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
