"""Tidy records become lots."""

import numpy as np
import pandas as pd
import pytest

from slidefit.errors import FitError
from slidefit.market.fit.lots import crop_year, day_of_year, month_of_year
from tests.market.coded import lots_of
from tests.market.simulate import simulate


@pytest.fixture
def records():
    return simulate(5, sales=6, lots=5).records


def days(*texts):
    return np.array(texts, dtype="datetime64[D]").astype(int)


def test_a_lot_for_every_record_in_order_of_sale(records):
    lots = lots_of(records)
    assert len(lots) == 30 and lots.sales == 6
    assert np.all(np.diff(lots.sale) >= 0) and np.all(np.diff(lots.sale_day) > 0)
    np.testing.assert_allclose(np.exp(lots.log_price), records["price_cwt"])
    assert lots.markets == ("Birch Landing",) and lots.currency == "USD"


def test_the_order_of_records_does_not_matter_to_a_sale(records):
    mixed = records.sample(frac=1.0, random_state=3)
    a, b = lots_of(records), lots_of(mixed)
    np.testing.assert_array_equal(a.sale_day, b.sale_day)
    for sale in range(a.sales):
        np.testing.assert_allclose(np.sort(a.log_price[a.sale == sale]), np.sort(b.log_price[b.sale == sale]))


def test_two_barns_on_one_day_are_two_sales(records):
    records.loc[records.index % 2 == 0, "market"] = "Otter Creek"
    lots = lots_of(records)
    assert lots.sales == 12
    assert lots.markets == ("Birch Landing", "Otter Creek")
    assert np.bincount(lots.sale_market).tolist() == [6, 6]


@pytest.mark.parametrize(
    ("column", "value"),
    [("sex", "mixed"), ("weight_lb", 299.0), ("weight_lb", 901.0), ("weight_lb", np.nan),
     ("price_cwt", 0.0), ("price_cwt", np.nan), ("sale_date", pd.NaT)],
)  # fmt: skip
def test_what_cannot_carry_a_fit_is_not_used(records, column, value):
    records.loc[3, column] = value
    assert len(lots_of(records)) == 29


def test_nothing_usable_is_said_in_words(records):
    with pytest.raises(FitError, match=r"none of the 30 records .* steer, heifer or bull of 300 to 900 lb"):
        lots_of(records.assign(weight_lb=1_200.0))


def test_mixed_currencies_are_refused_with_their_counts(records):
    records.loc[:9, "currency"] = "CAD"
    with pytest.raises(FitError, match=r"different currencies \(10 in CAD, 20 in USD\)"):
        lots_of(records)


def test_a_month_is_placed_in_its_middle(records):
    records["sale_date"] = records["sale_date"].dt.to_period("M").dt.to_timestamp()
    records["date_precision"] = "month"
    lots = lots_of(records)
    assert lots.sales == records["sale_date"].nunique()
    stamp = lots.sale_day.astype("datetime64[D]")
    assert set((stamp - stamp.astype("datetime64[M]").astype("datetime64[D]")).astype(int)) == {14}


def test_unknown_head_stays_unknown_and_traits_are_words(records):
    records.loc[0, "head"] = np.nan
    records.loc[1, "traits"] = "fleshy; unweaned"
    records.loc[2, "traits"] = "unweaned"
    lots = lots_of(records)
    assert np.isnan(lots.head).sum() == 1
    assert lots.trait_names == ("fleshy", "unweaned")
    assert lots.trait_table[lots.trait].sum(axis=0).tolist() == [1, 2]


def test_grades_are_spelled_once_and_may_be_missing(records):
    records["frame"], records["muscle"] = "", ""
    records.loc[:4, "muscle"] = "1"
    assert set(lots_of(records).grades) == {"", "1"}


def test_crop_years_turn_in_july():
    np.testing.assert_array_equal(
        crop_year(days("2024-02-29", "2024-06-30", "2024-07-01", "2024-12-31", "1969-07-01")),
        [2023, 2023, 2024, 2024, 1969],
    )


def test_days_and_months_of_the_year():
    np.testing.assert_array_equal(day_of_year(days("2024-01-01", "2024-12-31", "2023-12-31")), [0, 365, 364])
    np.testing.assert_array_equal(month_of_year(days("1969-12-31", "2026-01-01")), [12, 1])
