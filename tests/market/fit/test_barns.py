"""Barns are joined by six months in which both sold, directly or through a third."""

import numpy as np
import pytest

from slidefit.market.fit.barns import COMMON_MONTHS, barn_groups


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
