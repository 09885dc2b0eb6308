"""Past lots moved to today's price level."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from slidefit.market.comparable import comparable_prices
from slidefit.market.outlook import GradeOffset, Outlook, OutlookBasis, SexCurve

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
