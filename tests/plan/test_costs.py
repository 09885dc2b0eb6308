"""Costs are declared once; a plan has a field for each."""

from __future__ import annotations

import pytest

from slidefit.plan.costs import KEEPING_COSTS, SELLING_COSTS
from slidefit.plan.feeding import Program
from slidefit.plan.selling import Selling
from slidefit.toml_tables import cards


def test_what_a_cost_is_paid_by_stands_in_its_unit_and_its_name() -> None:
    for each in (*KEEPING_COSTS, *SELLING_COSTS):
        assert each.unit == ("$/head-day" if each.per == "day" else "$/head"), each.key
        assert each.key.endswith("_head_day" if each.per == "day" else "_head"), each.key
        assert 0 <= each.default < each.high and (each.source or not each.default), each.key
    assert {each.per for each in SELLING_COSTS} == {"sold"} and "sold" not in {
        each.per for each in KEEPING_COSTS
    }


@pytest.mark.parametrize(("table", "costs"), [(Program, KEEPING_COSTS), (Selling, SELLING_COSTS)])
def test_a_plan_has_each_with_its_unit_meaning_and_limit(table, costs) -> None:
    fields = {card.name: card for card in cards(table)}
    for each in costs:
        card = fields[each.key]
        assert (card.unit, card.meaning, card.low, card.high, card.default) == (
            *(each.unit, each.meaning, 0, each.high, each.default),
        )
