"""Forward prices typed by the user."""

from datetime import timedelta

import numpy as np
import pytest

from slidefit.errors import OutlookError
from slidefit.market.forward import ForwardPrice, KnownPrice, anchored


@pytest.fixture(scope="module")
def outlook(fitted):
    return fitted.outlook()


def days(outlook, *months):
    return [outlook.as_of + timedelta(days=round(30.4375 * m)) for m in months]


def test_the_prices_typed_are_the_prices_expected(outlook):
    first, second = days(outlook, 4, 7)
    prices = [ForwardPrice(second, 700, 280.25), ForwardPrice(first, 620, 301.5)]
    bent = anchored(outlook, prices, sex="heifer")
    assert bent.price_cwt("heifer", 620, first) == pytest.approx(301.5, rel=1e-9)
    assert bent.price_cwt("heifer", 700, second) == pytest.approx(280.25, rel=1e-9)


def test_they_come_in_by_and_by_and_the_last_stays(outlook):
    when = days(outlook, 0, 2, 4, 5, 6, 8)
    at = [float(outlook.price_cwt("steer", 550, day)) for day in when]
    prices = [ForwardPrice(when[2], 550, 1.1 * at[2]), ForwardPrice(when[4], 550, 0.9 * at[4])]
    moved = anchored(outlook, prices, sex="steer").log_index(when) - outlook.log_index(when)
    up, down = np.log(1.1), np.log(0.9)
    assert moved == pytest.approx([0.0, up / 2, up, (up + down) / 2, down, down], abs=3e-3)


def test_the_range_of_the_level_stays(outlook):
    when = days(outlook, 3, 6)
    bent = anchored(outlook, [ForwardPrice(when[0], 550, 250.0)], sex="steer")
    assert np.array_equal(bent.index_cov(when), outlook.index_cov(when))


def test_with_a_bid_the_shift_starts_on_its_day_and_the_price_still_holds(outlook):
    weaning, between, later = days(outlook, 1, 3, 5)
    known = KnownPrice(weaning, 520, 0.07)
    bent = anchored(outlook, [ForwardPrice(later, 640, 260.0)], sex="steer", known=known)
    assert np.exp(0.07) * bent.price_cwt("steer", 640, later) == pytest.approx(260.0, rel=1e-9)
    assert bent.log_index([weaning]) == pytest.approx(outlook.log_index([weaning]))
    assert bent.forward_shares([between])[0] == pytest.approx([0.5, 0.5], abs=0.01)


def test_second_prices_take_the_place_of_the_first(outlook):
    (when,) = days(outlook, 4)
    once = anchored(outlook, [ForwardPrice(when, 550, 250.0)], sex="steer")
    twice = anchored(once, [ForwardPrice(when, 550, 260.0)], sex="steer")
    assert twice.forward[0].shift == pytest.approx(once.forward[0].shift + np.log(260 / 250))
    assert twice.price_cwt("steer", 550, when) == pytest.approx(260.0)


def test_a_price_out_of_range_is_told(outlook):
    (when,) = days(outlook, 1)
    fair = float(outlook.price_cwt("steer", 550, when))
    far = anchored(outlook, [ForwardPrice(when, 550, 2 * fair)], sex="steer").notes
    near = anchored(outlook, [ForwardPrice(when, 550, 1.01 * fair, "the video sale")], sex="steer").notes
    assert "outside the records' 95 percent range (+100%)" in far[-1]
    assert "outside" not in near[-1]
    assert (
        f"({'the video sale'}): ${1.01 * fair:,.2f}/cwt at 550 lb, where the records say ${fair:,.2f}"
        in near[-1]
    )


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"price_cwt": 0.0}, "price is 0"),
        ({"price_cwt": float("nan")}, "price is nan"),
        ({"months": 0}, "prices are known up to"),
        ({"sex": "bull"}, "no prices for sex"),
    ],
)
def test_faults_are_told(outlook, how, said):
    how = {"sex": "steer", "price_cwt": 250.0, "months": 3} | how
    (when,) = days(outlook, how["months"])
    with pytest.raises(OutlookError, match=said):
        anchored(outlook, [ForwardPrice(when, 550, how["price_cwt"])], sex=how["sex"])


def test_two_prices_for_a_day_are_refused(outlook):
    (when,) = days(outlook, 3)
    with pytest.raises(OutlookError, match="given twice"):
        anchored(outlook, [ForwardPrice(when, 550, 250.0), ForwardPrice(when, 650, 240.0)], sex="steer")
