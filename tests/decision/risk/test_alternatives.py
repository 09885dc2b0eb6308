"""The choices, side by side: what each must come to against keeping all, and against the market's own spread."""

import numpy as np
import pytest
from outlooks import make_outlook
from plans import changed_group, changed_program, small_plan

from slidefit.decision.comparison import compare

CHEAP = changed_program(cost_head_day=0.9)
RISK = {"draws": 16_384, "seed": 7}


def answer(**changes):
    plan = small_plan(groups=changed_group(weight_sd_lb=40.0), programs=CHEAP, risk=RISK, **changes)
    return compare(make_outlook(), plan)


@pytest.fixture(scope="module")
def plain():
    return answer()


def ways(comparison):
    return {each.what: each for each in comparison.groups[0].alternatives}


def test_selling_all_is_nothing_and_a_share_is_half_of_keeping(plain):
    told = ways(plain)
    sold, kept, half = told["sell all"], told["keep all"], told["sell a share"]
    assert (sold.expected, sold.bad_year, sold.cash_peak, sold.odds) == (0.0, 0.0, 0.0, None)
    best = max(plain.groups[0].keep, key=lambda option: option.gain_herd)
    assert kept.expected == pytest.approx(best.gain_per_head)
    for name in ("expected", "bad_year", "cash_peak"):
        assert getattr(half, name) == pytest.approx(0.5 * getattr(kept, name))
    assert half.odds == kept.odds


def test_a_fair_floor_costs_what_it_pays_on_average_and_takes_off_the_bad_years(plain):
    """The premium by hand: the mean of floor less price where that is more, over the lognormal price at sale."""
    told, best = ways(plain), max(plain.groups[0].keep, key=lambda option: option.gain_herd)
    floor, kept = told["price floor"], told["keep all"]
    assert floor.expected == pytest.approx(kept.expected, abs=4.0)
    assert floor.bad_year > kept.bad_year + 40.0
    sd = np.log(best.price_high_cwt / best.price_low_cwt) / 2.5631
    prices = best.price_cwt * np.exp(sd * np.random.default_rng(2).standard_normal(400_000))
    fair = np.mean(np.maximum(prices.mean() - prices, 0.0))
    assert floor.fair_cost_cwt == pytest.approx(fair, rel=0.01)


def test_a_forward_price_at_the_expected_one_takes_the_market_out(plain):
    told = ways(plain)
    assert told["forward price"].expected == pytest.approx(told["keep all"].expected, abs=6.0)
    assert told["forward price"].bad_year > told["price floor"].bad_year > told["keep all"].bad_year


@pytest.mark.parametrize(
    ("months", "price", "own"), [(["2027-03"], 420.0, True), (["2026-12"], 300.0, False)]
)
def test_the_plans_own_contract_stands_where_it_covers_the_best_month(months, price, own):
    contract = {"price_cwt": price, "base_weight_lb": 760.0, "slide_cwt": 8.0, "months": months}
    told = ways(answer(selling={"shrink_pct": 3.0, "contract": contract}))
    best_month = {"Feb 15": "2027-02", "Mar 15": "2027-03"}[told["keep all"].detail[-6:]]
    assert (told["forward price"].detail.endswith("the plan's contract")) == (best_month in months) == own


def test_one_side_kept_and_the_herd_by_the_same_draws(plain):
    (side,) = (each for each in plain.groups[0].alternatives if each.what.startswith("keep the "))
    assert side.expected > 0.0 and side.cash_peak < ways(plain)["keep all"].cash_peak
    assert side.bad_year > ways(plain)["keep all"].bad_year
    assert " lb kept" in side.detail
    herd = {each.what: each for each in plain.herd.alternatives}
    assert herd["keep all"].expected == pytest.approx(ways(plain)["keep all"].expected)
    assert herd["keep one side"].bad_year == pytest.approx(side.bad_year, abs=0.01)
