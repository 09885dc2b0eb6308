"""Counts that add up over any cut of the lots, and quantiles of counted values.

What weight classes and months lose; barns are joined by six months in which both sold, directly or through a third."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.market.fit.coding import FrameTable
from slidefit.market.fit.counts import (
    COMMON_MONTHS,
    barn_groups,
    class_loss,
    class_notes,
    class_tally,
    counted_quantiles,
    tallied_weights,
    tally_of,
)
from tests.market.simulate import simulate

SIZES = (3, 2, 4)


def some(seed, sales=9):
    rng = np.random.default_rng(seed)
    sale = np.repeat(np.arange(sales), rng.integers(1, 6, sales))
    n = len(sale)
    head = np.where(rng.random(n) < 0.3, np.nan, rng.integers(1, 60, n).astype(float))
    weight = np.round(rng.uniform(300.0, 900.0, n), 2)
    return weight, head, rng.integers(0, 3, n), rng.integers(0, 2, n), rng.integers(0, 4, n), sale


@given(seed=st.integers(0, 1_000), cut=st.integers(1, 8))
@settings(deadline=None, max_examples=20)
def test_two_parts_add_up_to_the_whole(seed, cut):
    columns = some(seed)
    first = columns[-1] < cut
    parts = [tally_of(*(c[m] for c in columns[:-1]), columns[-1][m] - shift, sizes=SIZES) for m, shift in
             ((first, 0), (~first, cut))]  # fmt: skip
    both, whole = parts[0] + parts[1], tally_of(*columns, sizes=SIZES)
    for name in vars(whole):
        np.testing.assert_allclose(getattr(both, name), getattr(whole, name), rtol=1e-9, atol=1e-6)
    assert whole.rows == len(first)


def test_weights_are_kept_to_the_hundredth():
    weight, head, sex, *_ = columns = some(3)
    tally = tally_of(*columns, sizes=SIZES)
    mine = np.repeat(tallied_weights(), tally.weight_rows[1])
    np.testing.assert_array_equal(mine, np.sort(weight[sex == 1]))
    assert tally.weight_head[1].sum() == np.nan_to_num(head[sex == 1], nan=1.0).sum()


@given(
    rows=st.lists(st.integers(0, 4), min_size=1, max_size=12).filter(sum),
    shares=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5),
)
@settings(deadline=None, max_examples=60)
def test_counted_quantiles_are_numpys_of_the_values_written_out(rows, shares):
    values = np.cumsum(np.arange(1.0, len(rows) + 1))
    found = counted_quantiles(values, np.array(rows), np.array(shares))
    np.testing.assert_allclose(found, np.quantile(np.repeat(values, rows), shares), rtol=1e-12)


def counted(records):
    with FrameTable(records).opened() as connection:
        return class_tally(connection)


def classes(width):
    records = simulate(51, sales=60, lots=20).records
    low = (records["weight_lb"] // width) * width
    return records.assign(
        weight_low_lb=low, weight_high_lb=low + width, weight_lb=low + width / 2, flags="converted;weight_mid"
    )


def test_lots_lose_nothing():
    records = simulate(51, sales=60, lots=20).records
    assert class_loss(counted(records)) == (0.0, 0.0, 0.0)
    assert class_notes(counted(records)) == ()
    assert class_loss(counted(records.drop(columns="weight_high_lb"))) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(("width", "points"), [(50, "0.4"), (100, "0.6 or more")])
def test_the_loss_grows_with_the_class(width, points):
    """Weights even over 350 to 800 lb: variance 450^2 / 12, of which classes hide width^2 / 12."""
    share, found, lost = class_loss(counted(classes(width)))
    assert (share, found) == (1.0, width)
    assert lost == pytest.approx(width**2 / 450**2, rel=0.15)
    (note,) = class_notes(counted(classes(width)))
    assert f"100% of the records are averages of {width}-lb classes" in note
    assert f"off by {points} points" in note


def test_months_are_told():
    records = simulate(51, sales=60, lots=20).records.assign(date_precision="month")
    (note,) = class_notes(counted(records))
    assert "100% of the records are known by their month only" in note


@pytest.mark.parametrize(("months", "groups"), [(COMMON_MONTHS, [0, 0]), (COMMON_MONTHS - 1, [0, 1])])
def test_six_common_months_join_two_barns(months, groups):
    month = np.concatenate([np.arange(months), np.arange(months), np.array([90, 91])])
    market = np.concatenate([np.repeat([0, 1], months), [0, 1]])
    assert barn_groups(2, market, month).tolist() == groups


def test_many_sales_of_one_month_are_one_month():
    month = np.repeat(np.arange(3), 8)
    assert barn_groups(2, np.tile([0, 1], 12), month).tolist() == [0, 1]


def test_a_third_barn_joins_two_that_never_met():
    six = np.arange(6)
    month = np.concatenate([six, six, six + 10, six + 10])
    assert barn_groups(3, np.repeat([0, 1, 1, 2], 6), month).tolist() == [0, 0, 0]
