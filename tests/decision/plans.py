"""Small plans for the tests of the decision."""

from __future__ import annotations

from typing import Any

from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import build_plan

PASTURE: dict[str, Any] = {
    "kind": "cereal",
    "seed_acre": 30.0,
    "fertilizer_acre": 50.0,
    "rent_acre": 40.0,
    "forage_lb_acre": 3000.0,
    "forage_sd_pct": 30.0,
    "utilization_pct": 50.0,
    "intake_pct": 2.5,
}


def raw_plan(**changes: Any) -> dict[str, Any]:
    """Return a plan of one group and one yard as dictionaries; whole tables can be replaced."""
    plan: dict[str, Any] = {
        "dates": {"weaning": "2026-10-14", "first_sale": "2026-11", "last_sale": "2027-03"},
        "groups": [{"name": "steers", "sex": "steer", "head": 50, "weight_lb": 520.0}],
        "programs": [
            {
                "name": "yard",
                "gain_lb_day": 1.8,
                "gain_sd_lb_day": 0.2,
                "death_loss_pct": 2.0,
                "cost_head_day": 1.6,
                "health_head": 20.0,
            }
        ],
        "selling": {"commission_pct": 3.0, "yardage_head": 4.0, "shrink_pct": 3.0},
        "money": {"interest_pct": 8.0},
        "risk": {"draws": 2000, "seed": 7},
    }
    return {**plan, **changes}


def small_plan(**changes: Any) -> Plan:
    """Return that plan, checked."""
    return build_plan(raw_plan(**changes))


def changed_program(**changes: Any) -> list[dict[str, Any]]:
    """Return the yard program with some fields changed."""
    return [{**raw_plan()["programs"][0], **changes}]


def changed_group(**changes: Any) -> list[dict[str, Any]]:
    """Return the steers with some fields changed."""
    return [{**raw_plan()["groups"][0], **changes}]
