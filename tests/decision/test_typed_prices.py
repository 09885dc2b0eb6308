from datetime import date
from pathlib import Path

import pytest
from plans import changed_group, changed_program, raw_plan

from slidefit.decision.comparison import compare
from slidefit.decision.quick import quick_answer
from slidefit.decision.typed_prices import TYPICAL, outlook_for
from slidefit.errors import OutlookError
from slidefit.plan.plan_file import build_plan

DEMO = Path(__file__).parents[2] / "data_demo" / "typed_prices.toml"
FREE = {"commission_pct": 0.0, "checkoff_head": 0.0, "shrink_pct": 0.0}
TODAY = {"weight_lb": 520.0, "price_cwt": 312.0}
LATER = {"later_month": "2027-01", "later_weight_lb": 700.0, "later_price_cwt": 262.0}


def plan_of(prices, **changes):
    dates = {"weaning": "2026-10-14", "sales": ["2027-01"], "sale_day": 12}
    program = changed_program(gain_lb_day=2.0, cost_head_day=1.55, death_loss_pct=0.0, health_head=0.0)
    plan = {"dates": dates, "programs": program, "selling": FREE, "money": {"interest_pct": 0.0}}
    return build_plan(raw_plan(**{**plan, "prices": prices, **changes}))


def test_two_typed_prices_reproduce_a_hand_budget_to_the_cent():
    comparison = compare(None, plan_of({**TODAY, **LATER}))
    (option,) = comparison.groups[0].keep
    assert option.days == 90
    assert option.budget_gain_per_head == pytest.approx(7.00 * 262 - 90 * 1.55 - 5.20 * 312, abs=0.005)
    even = {each.name: each.planned for each in option.breakevens}
    quick = quick_answer({**TODAY, "to_weight_lb": 700.0, "later_price_cwt": 262.0, "days": 90.0})
    assert even["slide_pct_cwt"] == pytest.approx(quick.slide_pct)
    assert comparison.typed_prices
    assert "not from your records" in comparison.source


@pytest.mark.parametrize(
    ("slide", "at_700"), [({"slide_pct": 9.0}, 312 * 0.91**1.8), ({"slide_cwt": 25.0}, 312 - 45)]
)
def test_a_typed_slide_goes_with_the_typical_season(slide, at_700):
    outlook = outlook_for(None, plan_of({**TODAY, **slide}))
    october, january = date(2026, 10, 14), date(2027, 1, 14)
    assert outlook.price_cwt("steer", 520, october) == pytest.approx(312.0)
    assert outlook.price_cwt("heifer", 700, october) == pytest.approx(at_700, rel=2e-3)
    season = outlook.price_cwt("steer", 520, january) / 312.0
    assert season == pytest.approx(
        (100 + TYPICAL["season_pct"][0]) / (100 + TYPICAL["season_pct"][9]), rel=0.01
    )


def test_a_typed_season_and_spread_take_the_place_of_the_typical_ones():
    flat = {"season_pct": [0.0] * 12, "price_sd_pct": 2.0}
    outlook = outlook_for(None, plan_of({**TODAY, "slide_pct": 9.0, **flat}))
    assert outlook.price_cwt("steer", 520, date(2027, 3, 1)) == pytest.approx(312.0)
    assert outlook.walk_sd_month == 0.02
    assert "typical" not in outlook.basis.source


def test_the_demonstrations_second_plan_needs_no_records():
    group = compare(None, DEMO).groups[0]
    assert len(group.keep) == 4
    assert group.sell_now.price_cwt == pytest.approx(342.0 * (1.0 - 0.085) ** 0.05, rel=0.003)  # two days on
    assert not any("records" in note or "outlook" in note for note in group.notes)


def test_without_prices_at_all_it_is_said():
    with pytest.raises(OutlookError, match="no prices"):
        compare(None, build_plan(raw_plan()))


def test_costs_already_spent_are_not_counted_again():
    prices = {**TODAY, "slide_pct": 9.0}
    changes = {"as_of": "2026-11-14", "groups": changed_group(weight_lb=580.0)}
    program = changed_program(
        gain_lb_day=2.0, cost_head_day=1.5, health_head=20.0, slump_lb=10.0, death_loss_pct=0.0
    )
    (again,) = compare(None, plan_of(prices, programs=program, **changes)).groups[0].keep
    assert again.days == 59
    assert again.weight_lb == pytest.approx(580.0 + 2.0 * 59)
    assert sum(each.amount_herd for each in again.cash) == pytest.approx(59 * 1.5 * again.head_kept)
    spent = changed_program(**{**program[0], "spent_head": 30.0})
    comparison = compare(None, plan_of(prices, programs=spent, **changes))
    (less,) = comparison.groups[0].keep
    assert less.budget_gain_per_head - again.budget_gain_per_head == pytest.approx(30.0)
    assert any("already spent" in each for each in comparison.left_out)
    all_paid = changed_program(
        **{**program[0], "spent_head": 59 * 1.5 + 500.0}
    )  # no more than there is to pay
    (free,) = compare(None, plan_of(prices, programs=all_paid, **changes)).groups[0].keep
    assert free.budget_gain_per_head - again.budget_gain_per_head == pytest.approx(59 * 1.5)
    assert any("before 2026-11-14" in each for each in comparison.left_out)
