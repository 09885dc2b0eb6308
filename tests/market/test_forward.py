"""A forward price typed by the user."""

from datetime import timedelta

import numpy as np
import pytest

from slidefit.errors import OutlookError
from slidefit.market.forward import anchored


@pytest.fixture(scope="module")
def outlook(fitted):
    return fitted.outlook()


def days(outlook, *months):
    return [outlook.as_of + timedelta(days=round(30.4375 * m)) for m in months]


def test_the_price_typed_is_the_price_expected(outlook):
    (when,) = days(outlook, 4)
    bent = anchored(outlook, sex="heifer", weight_lb=620, when=when, price_cwt=301.5)
    assert bent.price_cwt("heifer", 620, when) == pytest.approx(301.5, rel=1e-9)


def test_it_comes_in_by_and_by_and_stays(outlook):
    today, half, whole, later = days(outlook, 0, 2, 4, 8)
    now = float(outlook.price_cwt("steer", 550, whole))
    bent = anchored(outlook, sex="steer", weight_lb=550, when=whole, price_cwt=1.1 * now)
    moved = bent.log_index([today, half, whole, later]) - outlook.log_index([today, half, whole, later])
    assert moved == pytest.approx(np.log(1.1) * np.array([0.0, 0.5, 1.0, 1.0]), abs=1e-3)


def test_ranges_stay(outlook):
    when = days(outlook, 3, 6)
    bent = anchored(outlook, sex="steer", weight_lb=550, when=when[0], price_cwt=250.0)
    assert np.array_equal(bent.index_cov(when), outlook.index_cov(when))


def test_a_second_price_takes_the_place_of_the_first(outlook):
    (when,) = days(outlook, 4)
    once = anchored(outlook, sex="steer", weight_lb=550, when=when, price_cwt=250.0)
    twice = anchored(once, sex="steer", weight_lb=550, when=when, price_cwt=260.0)
    assert twice.forward_shift == pytest.approx(once.forward_shift + np.log(260 / 250))
    assert twice.price_cwt("steer", 550, when) == pytest.approx(260.0)


def test_a_price_out_of_range_is_told(outlook):
    (when,) = days(outlook, 1)
    fair = float(outlook.price_cwt("steer", 550, when))
    far = anchored(outlook, sex="steer", weight_lb=550, when=when, price_cwt=2 * fair).notes
    near = anchored(outlook, sex="steer", weight_lb=550, when=when, price_cwt=1.01 * fair).notes
    assert any("outside the records' 95 percent range (+100%)" in n for n in far)
    assert not any("outside the records'" in n for n in near)


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"price_cwt": 0.0}, "forward price is 0"),
        ({"price_cwt": float("nan")}, "forward price is nan"),
        ({"months": 0}, "but the records reach"),
        ({"weight_lb": 2000.0}, "outside the weights seen"),
        ({"sex": "bull"}, "no prices for sex"),
        ({"muscle": "4"}, "no prices for grade"),
    ],
)
def test_faults_are_told(outlook, how, said):
    how = {"sex": "steer", "weight_lb": 550.0, "price_cwt": 250.0, "months": 3} | how
    (when,) = days(outlook, how.pop("months"))
    with pytest.raises(OutlookError, match=said):
        anchored(outlook, when=when, **how)
