"""A table whose fields are made from costs is held to their limits."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from slidefit.plan.cost_fields import cost_fields
from slidefit.plan.costs import Cost

HAY = Cost("hay_head_day", "hay", "$/head-day", "Hay.", 5.0, "day", 0.4, "common practice, no source")
TABLE = cost_fields("Hay", (HAY,))


def test_a_cost_left_out_is_at_its_default() -> None:
    assert TABLE().hay_head_day == 0.4 and TABLE(hay_head_day=0).hay_head_day == 0.0


@pytest.mark.parametrize("cost", [0.0, 5.0, -0.01, 5.01, float("nan"), float("inf")])
def test_both_limits_are_allowed_and_nothing_beyond(cost: float) -> None:
    if 0 <= cost <= 5:
        assert TABLE(hay_head_day=cost).hay_head_day == cost
        return
    with pytest.raises(ValidationError):
        TABLE(hay_head_day=cost)


def test_no_other_cost_is_taken() -> None:
    with pytest.raises(ValidationError):
        TABLE(straw_head_day=1.0)
