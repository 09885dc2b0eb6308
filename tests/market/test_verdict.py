"""Good, thin or not enough, with the reason and what to add."""

import pytest

from slidefit.market.coding import lots_of
from slidefit.market.verdict import Verdict, verdict_of, weight_spread_lb
from tests.market.simulate import simulate


def verdict(**how):
    return verdict_of(lots_of(simulate(1, **how).records))


def test_nine_years_of_wide_sales_are_good(drawn):
    assert verdict_of(lots_of(drawn.records)) == Verdict("good", (), ())


@pytest.mark.parametrize(
    ("how", "word", "reason", "add"),
    [
        ({"sales": 2, "lots": 10}, "not enough", "20 lots", "280 more lots"),
        ({"sales": 2, "lots": 200}, "not enough", "2 sales", "8 more sales"),
        ({"sales": 8, "lots": 20}, "thin", "160 lots", "140 more lots"),
        (
            {"sales": 40, "lots": 30, "days_between": 14},
            "thin",
            "can't tell a season from a trend",
            "6 more months",
        ),
        ({"sales": 200, "lots": 10, "days_between": 7}, "thin", "5 crop years", "1 more years"),
        (
            {"sales": 225, "lots": 14, "days_between": 14, "weights_lb": (500, 560)},
            "thin",
            "differ by 1",
            "light and heavy",
        ),
        (
            {"sales": 9, "lots": 200, "days_between": 365},
            "thin",
            "11 calendar months were never seen",
            "those months",
        ),
    ],
)
def test_what_is_short_is_named(how, word, reason, add):
    found = verdict(**how)
    assert found.word == word
    assert any(reason in r for r in found.reasons)
    assert any(add in a for a in found.add)
    assert found.text().startswith(f"{word}: ")


def test_one_sex_of_one_weight_is_not_enough():
    records = simulate(1, sales=225, lots=14, days_between=14, weights_lb=(500, 540)).records
    found = verdict_of(lots_of(records[records["sex"] == "steer"]))
    assert found.word == "not enough"


def test_spread_is_within_sales():
    """Two sales far apart in weight but even within: no spread that a slide could be read from."""
    records = simulate(1, sales=2, lots=40).records
    day = records["sale_date"].to_numpy()
    records["weight_lb"] = [400.0 if d == day[0] else 700.0 for d in day]
    assert weight_spread_lb(lots_of(records), 0) == 0.0
