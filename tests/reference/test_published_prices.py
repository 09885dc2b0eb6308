"""Published price relations, laid through the market's own fit.

Sources: E. Rayburn, West Virginia University Extension, feeder calf prices 1989-2017 (dollars a head linear in
weight); D. Peel, Oklahoma State University, Cow-Calf Corner, 11 November 2019 (a price curve that is not monotone);
USDA AMS Market News, Oklahoma weekly feeder cattle averages, 11-14 April 2022; Mississippi State University Extension
(a seasonal index as ratio to the year's mean). The April quadratic is a least-squares fit of our own to the printed
averages: a numeric fixture, worked out apart.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from slidefit.market.fit.leastsquares import Chunk, sale_effects, solve, summarise
from slidefit.market.market_fit import fit_market
from tests.market.simulate import COLUMNS

NOVEMBER_2019 = {
    400: 174.18, 450: 169.22, 500: 161.82, 550: 153.24, 600: 148.20, 650: 147.02, 700: 147.25, 750: 147.46,
    800: 148.26, 850: 146.66, 900: 142.69,
}  # fmt: skip
NOVEMBER_2019_HEAD = [697, 762, 809, 843, 889, 956, 1031, 1106, 1186, 1247, 1284]
APRIL_2022 = {
    427: 212.28, 469: 206.72, 526: 199.28, 576: 189.33, 624: 175.64, 675: 168.62, 730: 160.76, 776: 158.83,
    818: 154.47, 873: 148.13,
}  # fmt: skip


def records(weight_lb, price_cwt, sex="steer", sales=80, noise=1e-4):
    """Every weight sold at every one of ``sales`` sales, the whole level moving from sale to sale."""
    rng = np.random.default_rng(17)
    weight, price = np.asarray(weight_lb, dtype=float), np.asarray(price_cwt, dtype=float)
    n = len(weight)
    level = np.repeat(np.exp(np.cumsum(rng.normal(0.0, 0.01, sales))), n)
    days = np.datetime64("2018-01-03") + 13 * np.repeat(np.arange(sales), n)
    return pd.DataFrame(
        {
            "sale_date": days.astype("datetime64[s]"),
            "weight_lb": np.tile(weight, sales),
            "price_cwt": np.tile(price, sales) * level * np.exp(rng.normal(0.0, noise, n * sales)),
            "sex": sex,
            "date_precision": "day",
            "market": "M",
            "frame": "ML",
            "muscle": "1",
            "head": 15.0,
            "traits": "",
            "currency": "USD",
            "flags": "",
            "batch": "b",
            "source_row": np.arange(n * sales),
        }
    ).reindex(columns=COLUMNS)


@pytest.fixture(scope="module")
def west_virginia():
    weight = np.arange(350.0, 801.0, 25.0)
    per_head = 269.0 + 0.97 * weight
    heifers = records(weight, 0.88 * 100.0 * per_head / weight, "heifer")
    return fit_market(pd.concat([records(weight, 100.0 * per_head / weight), heifers], ignore_index=True))


@pytest.mark.parametrize(("from_lb", "to_lb", "slide"), [(400.0, 500.0, 13.45), (500.0, 600.0, 8.97)])
def test_dollars_a_head_linear_in_weight_give_the_derived_slide(west_virginia, from_lb, to_lb, slide):
    row = west_virginia.slide(sex="steer", weight_lb=(from_lb + to_lb) / 2.0).iloc[0]
    price = 100.0 * (269.0 + 0.97 * from_lb) / from_lb
    # Four spline columns follow the hyperbola of price against weight to about 0.3 points.
    assert row["percent_per_cwt"] / 100.0 * price == pytest.approx(slide, abs=0.5)


def test_the_value_of_gain_is_97_cents_at_every_weight(west_virginia):
    """Head prices read off the outlook's curve, scaled to the printed line's 550-lb calf: 0.97 a pound all along."""
    outlook = west_virginia.outlook()
    weight = np.arange(375.0, 776.0, 50.0)
    relative = np.exp(outlook.log_relative("steer", weight, outlook.as_of))
    per_head = relative * (269.0 + 0.97 * 550.0) / 550.0 * weight
    np.testing.assert_allclose(np.diff(per_head) / 50.0, 0.97, atol=0.06)
    assert (per_head[-1] - per_head[0]) / 400.0 == pytest.approx(0.97, abs=0.01)


def test_heifers_stand_at_88_percent(west_virginia):
    outlook = west_virginia.outlook()
    heifer = np.exp(outlook.log_relative("heifer", [450.0, 550.0, 650.0], outlook.as_of))
    steer = np.exp(outlook.log_relative("steer", [450.0, 550.0, 650.0], outlook.as_of))
    np.testing.assert_allclose(heifer / steer, 0.88, atol=0.003)


def test_a_price_that_rises_with_weight_stays_rising():
    """Between 650 and 800 lb the printed price rose by $1.24: no positive slide may be made of it."""
    weight, price = np.array(list(NOVEMBER_2019)), np.array(list(NOVEMBER_2019.values()))
    fit = fit_market(records(weight, price, sales=100))
    assert fit.model.recipe.curves[0].kind == "spline"
    slides = fit.slide(sex="steer", weight_lb=[450.0, 550.0, 725.0])["percent_per_cwt"].tolist()
    assert slides[0] == pytest.approx(100 * (1 - 161.82 / 174.18), abs=1.5)
    assert slides[1] == pytest.approx(100 * (1 - 148.20 / 161.82), abs=1.5)
    assert slides[2] < 0.3
    outlook = fit.outlook()
    at = np.exp(outlook.log_relative("steer", weight.astype(float), outlook.as_of))
    np.testing.assert_allclose(at / at[3], price / price[3], rtol=0.02)


def test_the_printed_head_prices_follow_from_the_printed_prices():
    weight, price = np.array(list(NOVEMBER_2019)), np.array(list(NOVEMBER_2019.values()))
    np.testing.assert_allclose(weight * price / 100.0, NOVEMBER_2019_HEAD, atol=0.51)


def test_the_april_quadratic_through_our_least_squares():
    weight, price = np.array(list(APRIL_2022), dtype=float), np.array(list(APRIL_2022.values()))
    x = weight / 100.0
    n = len(x)
    chunk = Chunk(price, np.column_stack([x, x**2]), np.ones(n), np.zeros(n, dtype=np.int64))
    solution = solve(summarise(chunk))
    slope, bend = solution.coef[0] / 100.0, solution.coef[1] / 1e4
    (height,) = sale_effects(chunk, solution.coef)
    assert height == pytest.approx(332.480, abs=5e-4)
    assert slope == pytest.approx(-0.336195, abs=5e-7)
    assert bend == pytest.approx(0.000143035, abs=5e-10)
    for weight_lb, dollars, percent in ((450, 19.32, 9.2), (550, 16.46, 8.6), (650, 13.59, 7.8)):
        here, there = (height + slope * w + bend * w**2 for w in (weight_lb, weight_lb + 100))
        assert here - there == pytest.approx(dollars, abs=0.005)
        assert 100.0 * (here - there) / here == pytest.approx(percent, abs=0.05)


def test_the_ratios_of_a_full_year_average_one(west_virginia):
    assert west_virginia.season()["index"].mean() / 100.0 == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("place", range(len(APRIL_2022)))
def test_a_nudged_price_would_be_noticed(place):
    weight, price = np.array(list(APRIL_2022), dtype=float), np.array(list(APRIL_2022.values()))
    price[place] += 0.05
    x = weight / 100.0
    n = len(x)
    chunk = Chunk(price, np.column_stack([x, x**2]), np.ones(n), np.zeros(n, dtype=np.int64))
    assert abs(sale_effects(chunk, solve(summarise(chunk)).coef)[0] - 332.480) > 5e-4
