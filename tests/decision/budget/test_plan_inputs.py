"""A plan's numbers as inputs of the budget; shrink."""

from __future__ import annotations

from typing import Any

import pytest
from plans import PASTURE, changed_program, small_plan

from slidefit.decision.budget.lines import budget_of
from slidefit.decision.budget.plan_inputs import (
    feeding_inputs,
    hauling_shrink_pct,
    selling_inputs,
    selling_shrink_pct,
    shape_of,
)
from slidefit.decision.growth import stretches_of
from slidefit.plan.selling import Contract, Selling

TERMS = Contract(price_cwt=300.0, base_weight_lb=600.0, slide_cwt=8.0)


def stretches(**program: Any):  # type: ignore[no-untyped-def]
    plan = small_plan(programs=changed_program(**program))
    return stretches_of(plan.programs[0], plan.dates.weaning, 520.0, 90)


def test_shrink_is_said_or_read_from_the_hours_or_customary() -> None:
    """Boyles, Ohio State University Extension, 2012: 8 to 16 h 6 to 8 percent, so 7 at twelve; none unmoved."""
    assert selling_shrink_pct(Selling()) == 3.0
    assert selling_shrink_pct(Selling(shrink_pct=0.0)) == 0.0
    assert (
        selling_shrink_pct(Selling(hours_hauled=12.0)) == 7.0
        and selling_shrink_pct(Selling(hours_hauled=0)) == 0.0
    )
    hours = [hauling_shrink_pct(each / 4) for each in range(4 * 32 + 1)]
    assert hours == sorted(hours)


def test_what_selling_takes_is_the_same_today_and_later() -> None:
    inputs = selling_inputs(Selling(commission_head=20.0, hours_hauled=12.0, freight_head=6.0))
    assert (inputs["commission_pct"], inputs["commission_head"], inputs["freight_head"]) == (0.0, 20.0, 6.0)
    assert inputs["start_shrink_pct"] == inputs["shrink_pct"] == 7.0


@pytest.mark.parametrize(
    ("contract", "floor", "price"),
    [
        (None, False, "market"),
        (TERMS, False, "contract"),
        (TERMS.model_copy(update={"two_way": True}), True, "two-way contract"),
    ],
)
def test_the_shape_says_whose_price_counts(contract: Contract | None, floor: bool, price: str) -> None:
    shape = shape_of(stretches(), contract, floor)
    assert (shape.price, shape.floor) == (price, floor)


@pytest.mark.parametrize("intake", [{"intake_pct": 2.5}, {"intake_pct": None, "intake_lb_day": 14.0}])
def test_every_input_of_keeping_is_one_of_its_budget(intake: dict[str, float | None]) -> None:
    hay = {"name": "hay", "lb_day": 8.0, "price_ton": 150.0, "waste_pct": 20.0}
    phases = [
        {"gain_lb_day": 1.0, "days": 30, "ration": [hay], "cost_head_day": 0.2},
        {"gain_lb_day": 2.0, "pasture": {**PASTURE, **intake}},
    ]
    found = stretches(gain_lb_day=None, phases=phases)
    inputs, budget = feeding_inputs(found), budget_of(shape_of(found, None, False))
    assert set(inputs) <= {each.key for each in budget.inputs}
    assert (inputs["days"], inputs["days_2"], inputs["feed_lb_day_1"], inputs["cost_acre_2"]) == (
        30,
        60,
        8.0,
        120.0,
    )
    eaten = intake.get("intake_lb_day")
    assert inputs.get("intake_lb_day_2") == eaten and inputs.get("intake_pct_2") == (None if eaten else 2.5)
