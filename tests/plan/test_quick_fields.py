"""What the quick question takes fits the plan and the budget behind it."""

from __future__ import annotations

from slidefit.decision.budget.lines import budget_of
from slidefit.decision.budget.sale import BudgetShape, StretchShape
from slidefit.plan.costs import KEEPING_COSTS
from slidefit.plan.plan import Group
from slidefit.plan.quick_fields import BY_NAME, QUICK_FIELDS
from slidefit.plan.selling import Selling
from slidefit.toml_tables import cards


def test_each_is_named_once_with_room_between_its_limits() -> None:
    assert len(BY_NAME) == len(QUICK_FIELDS) == len({each.label for each in QUICK_FIELDS})
    assert all(each.low < each.high for each in QUICK_FIELDS)
    assert [each.name for each in QUICK_FIELDS if each.needed] == ["weight_lb", "price_cwt", "days"]


def test_each_key_is_an_input_of_the_budget_in_the_same_unit() -> None:
    units = {}
    for pasture in ("", "by weight", "pounds"):
        units |= {
            each.key: each.unit
            for each in budget_of(BudgetShape((StretchShape("kept", False, pasture),))).inputs
        }
    for each in (each for each in QUICK_FIELDS if each.key):
        assert units[each.key] == each.unit, each.name


def test_limits_are_those_of_a_plan() -> None:
    plan = {card.name: card for table in (Group, Selling) for card in cards(table)}
    for name in ("weight_lb", "shrink_pct", "commission_pct"):
        assert (BY_NAME[name].low, BY_NAME[name].high) == (plan[name].low, plan[name].high), name
    assert all(BY_NAME[each.key].high == each.high for each in KEEPING_COSTS)
