"""The slide as it is read off a fit."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from slidefit.errors import FitError
from slidefit.market.basis import WeightCurve
from slidefit.market.design import Recipe
from slidefit.market.slides import ErrorRule, SlideModel, Support, mid_month_day, slide_table


def a_model(**changes):
    """A steer and a heifer curve, quadratic, one harmonic, with the price level: all coefficients known."""
    recipe = Recipe(
        ("steer", "heifer"), (WeightCurve("quadratic"),) * 2, 1, True, ("ML 1",), (0,), (True,), (), True
    )
    coef = dict.fromkeys(recipe.names(), 0.0)
    coef |= {"steer:weight0": -0.11, "steer:weight1": 0.008, "heifer": -0.09, "heifer:weight0": -0.08,
             "cos1:weight": -0.02, "level:weight": -0.03, "ln head": 0.02}  # fmt: skip
    k = len(coef)
    model = SlideModel(
        recipe=recipe,
        coef=np.array(list(coef.values())),
        cov=1e-5 * np.eye(k),
        rule=ErrorRule("crop year", 9, 1.0),
        level_mean=float(np.log(200.0)),
        level_now=0.4,
        level_range=(-0.3, 0.5),
        unseen_months=(6,),
        support={"steer": Support(340.0, 860.0, 900, 9_000), "heifer": Support(350.0, 760.0, 800, 8_000)},
    )
    return replace(model, **changes)


def one(model, sex="steer", weight=550.0, month=None, **options):
    return slide_table(model, sexes=[sex], weights_lb=[weight], months=[month], **options).iloc[0]


@pytest.mark.parametrize(
    ("sex", "weight", "month", "log_fall"),
    [
        ("steer", 550.0, None, 0.11),
        ("steer", 450.0, None, 0.11 + 0.016),
        ("steer", 750.0, None, 0.11 - 0.032),
        ("heifer", 600.0, None, 0.08),
        ("steer", 550.0, 1, 0.11 + 0.02 * np.cos(2 * np.pi * 14 / 365.25)),
    ],
)
def test_the_fall_over_a_hundred_pounds(sex, weight, month, log_fall):
    row = one(a_model(), sex, weight, month)
    assert row["percent_per_cwt"] == pytest.approx(100 * (1 - np.exp(-log_fall)))
    assert (row["from_lb"], row["to_lb"]) == (weight - 50, weight + 50)


def test_dollars_are_percent_of_the_price_at_the_lighter_end():
    row = one(a_model())
    assert row["price_cwt"] == pytest.approx(200.0 * np.exp(0.11 * 0.5 + 0.008 * 0.25))
    assert row["dollars_per_cwt_per_cwt"] == pytest.approx(row["price_cwt"] * row["percent_per_cwt"] / 100)


def test_today_stands_at_todays_level():
    row = one(a_model())
    assert row["percent_today"] == pytest.approx(100 * (1 - np.exp(-0.11 - 0.03 * 0.4)))
    assert row["price_today_cwt"] > row["price_cwt"] * 1.45


def test_a_level_never_seen_is_held_at_the_edge():
    inside, beyond = one(a_model(level_now=0.5)), one(a_model(level_now=2.0))
    assert beyond["percent_today"] == pytest.approx(inside["percent_today"])


def test_the_interval_is_t_with_one_less_than_the_clusters():
    row = one(a_model())
    at = a_model().rows("steer", [500.0, 600.0])
    error = np.sqrt(1e-5) * np.linalg.norm(at[1] - at[0])
    reach = stats.t.ppf(0.975, 8) * error
    low, high = 100 * (1 - np.exp(-0.11 + reach)), 100 * (1 - np.exp(-0.11 - reach))
    assert (row["percent_low"], row["percent_high"]) == (pytest.approx(low), pytest.approx(high))
    wide = one(a_model(rule=ErrorRule("sale", 400, 3.0)))
    assert wide["percent_high"] - wide["percent_low"] > 2.4 * (row["percent_high"] - row["percent_low"])


def test_the_reach_of_the_rule():
    assert ErrorRule("sale", 10_000, 1.0).reach() == pytest.approx(1.96, abs=1e-3)
    assert ErrorRule("crop year", 9, 1.0).reach() == pytest.approx(2.306, abs=1e-3)
    assert ErrorRule("sale", 10_000, 3.0).reach() == pytest.approx(5.88, abs=2e-3)
    assert np.isfinite(ErrorRule("sale", 1, 1.0).reach())


def test_twelve_months_average_to_the_year():
    months = slide_table(
        a_model(), sexes=["steer"], weights_lb=[550.0], months=list(range(1, 13)), allow_unseen=True
    )
    fall = -np.log1p(-months["percent_per_cwt"] / 100)
    assert fall.mean() == pytest.approx(0.11, abs=2e-4)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"sex": "bull"}, "no slide for sex 'bull'. Use one of: steer, heifer"),
        ({"month": 13}, "13 is not a month"),
        ({"month": 6}, "no sale was ever seen in Jun"),
        ({"weight": 861.0}, "861 lb runs over 50 lb outside the weights seen for steers, 340 to 860 lb"),
        ({"weight": 339.0}, "from 340 to 860 lb"),
    ],
)
def test_what_was_never_seen_is_refused(options, said):
    with pytest.raises(FitError) as refused:
        one(a_model(), **options)
    assert said in str(refused.value)


def test_an_unseen_month_can_be_insisted_on():
    assert one(a_model(), month=6, allow_unseen=True)["percent_per_cwt"] > 0


def test_a_rising_price_is_a_negative_slide_and_is_not_forced():
    coef = a_model().coef.copy()
    coef[0] = 0.03
    row = one(a_model(coef=coef))
    assert row["percent_per_cwt"] == pytest.approx(100 * (1 - np.exp(0.03)))
    assert row["percent_low"] < row["percent_per_cwt"] < row["percent_high"]


def test_everything_asked_for_is_a_row_and_the_year_has_no_month():
    table = slide_table(a_model(), months=[None, 3])
    assert set(table["sex"]) == {"steer", "heifer"}
    assert table["month"].isna().sum() == len(table) / 2
    assert (table[table["sex"] == "heifer"]["to_lb"] <= 760.0).all()
    thin = a_model(support={s: Support(520.0, 580.0, 40, 40) for s in ("steer", "heifer")})
    assert slide_table(thin)["from_lb"].tolist() == [500.0, 500.0]


def test_mid_months():
    assert mid_month_day(1) == 14.0
    assert mid_month_day(12) == 348.0
