"""What selling costs, and what can't stand together."""

from __future__ import annotations

import pytest

from slidefit.plan.selling import Selling


@pytest.mark.parametrize(
    ("given", "share"),
    [
        ({}, 3.0),  # nobody said: the customary 3 percent
        ({"commission_pct": 2.5}, 2.5),
        ({"commission_pct": 0.0}, 0.0),  # said to be none
        ({"commission_head": 20.0}, 0.0),  # by the head instead
    ],
)
def test_the_share_of_the_check(given: dict[str, float], share: float) -> None:
    assert Selling(**given).commission_share_pct == share


@pytest.mark.parametrize(
    ("given", "at"),
    [
        ({"commission_pct": 3.0, "commission_head": 20.0}, "commission_head"),
        ({"commission_pct": 0.0, "commission_head": 0.0}, "commission_head"),
        ({"shrink_pct": 2.0, "hours_hauled": 4.0}, "hours_hauled"),
        ({"freight_loaded_mile": 4.5}, "miles"),
        ({"miles": 45.0}, "miles"),
        ({"freight_loaded_mile": 4.5, "miles": 45.0}, None),
        ({"commission_head": 20.0, "hours_hauled": 0.0}, None),
    ],
)
def test_what_contradicts_itself_is_told_at_its_field_with_a_remedy(
    given: dict[str, float], at: str | None
) -> None:
    found = list(Selling(**given).problems())
    assert [(where, bool(remedy)) for where, _, remedy in found] == ([((at,), True)] if at else [])
