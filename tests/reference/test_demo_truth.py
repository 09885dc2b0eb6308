"""The slide and the season behind the demonstration data, found again by the whole path from the files on.

The truth is data_demo/truth.json and data_demo/market_truth.py, which wrote the files; slidefit sees only the files.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest

import slidefit

FOLDER = Path(__file__).resolve().parents[2] / "data_demo"
WEIGHTS = [450.0, 500.0, 550.0, 600.0, 650.0, 700.0]


@pytest.fixture(scope="module")
def truth():
    return json.loads((FOLDER / "truth.json").read_text())


@pytest.fixture(scope="module")
def fit(demo_folder):
    return slidefit.load(demo_folder / "slide.json")


@pytest.fixture(scope="module")
def true_percent():
    sys.path.insert(0, str(FOLDER))
    try:
        from market_truth import percent_per_cwt
    finally:
        sys.path.remove(str(FOLDER))
    return percent_per_cwt


def held(table, low, high, true):
    inside = (table[low] <= true) & (true <= table[high])
    return int(inside.sum())


def test_the_slide_at_the_records_mean_price(fit, true_percent):
    price = float(np.exp(fit.model.level_mean))
    table = fit.slide(sex=["steer", "heifer"], weight_lb=WEIGHTS)
    true = np.array([true_percent(r.sex, r.from_lb + 50, None, price, 0.0) for r in table.itertuples()])
    np.testing.assert_allclose(table["percent_per_cwt"], true, atol=0.5)
    assert held(table, "percent_low", "percent_high", true) >= 9


def test_the_slide_of_today(fit, truth):
    stated = {
        (s["sex"], s["from_lb"], s["month"]): s["percent_per_cwt"] for s in truth["slides_at_last_sale"]
    }
    table = fit.slide(sex=["steer", "heifer"], weight_lb=WEIGHTS)
    true = np.array([stated[r.sex, int(r.from_lb), None] for r in table.itertuples()])
    np.testing.assert_allclose(table["percent_today"], true, atol=0.8)
    assert held(table, "percent_today_low", "percent_today_high", true) >= 9


@pytest.mark.parametrize("month", [2, 10])
def test_the_slide_of_a_month(fit, truth, month):
    stated = {
        (s["sex"], s["from_lb"], s["month"]): s["percent_per_cwt"] for s in truth["slides_at_last_sale"]
    }
    table = fit.slide(sex=["steer", "heifer"], weight_lb=[450.0, 550.0, 650.0], month=month)
    true = np.array([stated[r.sex, int(r.from_lb), month] for r in table.itertuples()])
    np.testing.assert_allclose(table["percent_today"], true, atol=1.0)


def test_the_season(fit, truth):
    true = np.array([m["index"] for m in truth["season"]])
    table = fit.season()
    np.testing.assert_allclose(table["index"], true, atol=1.5)
    assert held(table, "low", "high", true) >= 11


def test_the_barns_levels_and_the_spreads(fit, truth):
    offset = dict(zip(fit.basis.markets, fit.index.market_offset, strict=True))
    for name, true in truth["markets_log_offset"].items():
        assert offset[name] - offset["Alder Ford Livestock"] == pytest.approx(true, abs=0.005)
    noise = truth["noise"]
    assert fit.slide_fit.spread.lot_sd == pytest.approx(noise["lot_sd"], abs=0.006)
    assert fit.slide_fit.spread.calf_sd == pytest.approx(noise["calf_sd"], abs=0.02)
    assert fit.index.sale_sd == pytest.approx(noise["sale_sd"], abs=0.008)


def test_todays_price(fit, truth):
    outlook = fit.outlook()
    true = np.log(truth["level_price_cwt_on_last_sale"])
    assert outlook.log_level == pytest.approx(true, abs=3.0 * outlook.level_sd)


def test_another_truth_would_be_noticed(fit, true_percent):
    """The check of the check: a slide one point off is outside the tolerance at every weight."""
    price = float(np.exp(fit.model.level_mean))
    table = fit.slide(sex="steer", weight_lb=WEIGHTS)
    true = np.array([true_percent(r.sex, r.from_lb + 50, None, price, -0.012) for r in table.itertuples()])
    assert (np.abs(table["percent_per_cwt"].to_numpy() - true) > 0.5).all()
