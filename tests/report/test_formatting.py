"""Numbers and dates as people read them."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slidefit.report import formatting as f

DOLLARS = st.floats(-1e6, 1e6)


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        (f.money(1234.5), "$1,234"),
        (f.money(-86.6), "-$87"),
        (f.money(-0.4), "$0"),
        (f.money(0.2, sign=True), "$0"),
        (f.money(12.0, sign=True), "+$12"),
        (f.money_cents(-6.125), "-$6.12"),
        (f.money_cents(1.986), "$1.99"),
        (f.price_cwt(371.13), "$371.25"),
        (f.price_cwt(371.13, forecast=True), "$371"),
        (f.weight_lb(1203.4), "1,203 lb"),
        (f.weight_lb(1203.4, forecast=True), "1,205 lb"),
        (f.percent(11.68), "11.7%"),
        (f.percent(-0.01), "0.0%"),
        (f.odds(0.68), "about 7 times in 10 (68%)"),
        (f.odds(0.52), "about half the time (52%)"),
        (f.odds(1.0), "better than 19 times in 20 (over 99%)"),
        (f.odds(0.0), "less than 1 time in 20 (under 1%)"),
        (f.day(date(2026, 10, 12)), "Oct 12, 2026"),
        (f.sale_month("2027-01"), "January 2027"),
        (f.count(15306.0), "15,306"),
        (f.listed([]), ""),
        (f.listed(["a"]), "a"),
        (f.listed(["a", "b", "c"]), "a, b and c"),
    ],
)
def test_written(told, expected):
    assert told == expected


@pytest.mark.parametrize(
    "write", [f.money, f.money_cents, f.price_cwt, f.weight_lb, f.percent, f.odds, f.count]
)
@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_what_is_not_known_is_said(write, value):
    assert write(value) == f.UNKNOWN


@given(DOLLARS)
def test_money_reads_back_to_the_dollar(value):
    told = f.money(value, sign=True)
    assert float(told.replace("$", "").replace(",", "")) == pytest.approx(value, abs=0.5)
    assert "-$0" not in told


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_better_odds_never_read_worse(one, other):
    low, high = sorted((one, other))
    order = ["less than 1 time in 20", "about 1 time in 10", *(f"about {n} times in 10" for n in range(2, 5))]
    order += [
        "about half the time",
        *(f"about {n} times in 10" for n in range(6, 10)),
        "better than 19 times in 20",
    ]
    assert order.index(f.odds_words(low)) <= order.index(f.odds_words(high))


@given(st.floats(0.0, 1.0))
def test_odds_are_never_certain(chance):
    assert f.odds_percent(chance) not in ("0%", "100%")
