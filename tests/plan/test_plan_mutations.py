"""Whatever stands in a plan, the answer is an answer or a fault of the plan with its place: never a crash, never NaN.

Every key takes thirteen values, every line is left out, and the text is cut off at two hundred places.
"""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from outlooks import make_outlook

from slidefit.decision.comparison import compare
from slidefit.errors import SlidefitError
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import build_plan, parse_plan
from slidefit.report.json_answers import json_of

DEMO = (Path(__file__).parents[2] / "data_demo" / "plan.toml").read_text(encoding="utf-8")
VALUES: tuple[Any, ...] = (
    0, -1, 1e-9, 1e9, math.nan, math.inf, "", "²", "2026-13", True, [], {}, date(2100, 1, 1),
)  # fmt: skip
SMALL: dict[str, Any] = {
    "dates": {"weaning": date(2026, 10, 14), "first_sale": "2026-11", "last_sale": "2026-12", "sale_day": 15},
    "groups": [
        {
            "name": "steers", "sex": "steer", "frame": "ML", "muscle": "1", "head": 50, "weight_lb": 520.0,
            "weight_sd_lb": 30.0, "bid_cwt": 350.0,
            "forward": [{"month": "2026-11", "weight_lb": 560.0, "price_cwt": 350.0}],
        }
    ],
    "programs": [
        {
            "name": "grass", "earliest_on": date(2026, 10, 20), "latest_off": date(2027, 4, 25),
            "wait_gain_lb_day": 0.5, "wait_cost_head_day": 1.0, "gain_lb_day": 2.0, "gain_sd_lb_day": 0.3,
            "slump_lb": 10, "death_loss_pct": 2.0, "health_head": 20.0, "mineral_head_day": 0.1,
            "pasture": {
                "kind": "cereal", "forage_lb_acre": 3000.0, "forage_sd_pct": 30.0, "utilization_pct": 50.0,
                "intake_pct": 2.5, "acres": 200,
            },
        },
        {
            "name": "lot", "gain_lb_day": 2.1, "gain_sd_lb_day": 0.2, "yardage_head_day": 0.4, "pens_head": 60,
            "ration": [{"name": "hay", "lb_day": 15, "price_ton": 150, "waste_pct": 5, "dry_matter_pct": 88}],
        },
    ],
    "selling": {
        "commission_pct": 3.0, "yardage_head": 3.5, "checkoff_head": 1.0, "freight_loaded_mile": 5.5, "miles": 45,
        "load_lb": 48000, "shrink_pct": 3.0,
    },
    "money": {"interest_pct": 8.0},
    "risk": {"draws": 1000, "seed": 7, "loss_head": 75},
}  # fmt: skip
OUTLOOK = make_outlook()


def leaves(node: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    if isinstance(node, dict):
        for key, value in node.items():
            yield from leaves(value, (*path, key))
    elif isinstance(node, list):
        for place, value in enumerate(node):
            yield from leaves(value, (*path, place))
    else:
        yield path


def answered(plan: Plan) -> bool:
    """Compare; true with an answer, false with a fault that says what to do."""
    try:
        result = compare(OUTLOOK, plan)
    except SlidefitError as fault:
        assert fault.what and (fault.remedy or fault.where), fault
        return False
    json.dumps(json_of(result), allow_nan=False)
    return True


def test_the_plan_itself_is_answered() -> None:
    assert answered(build_plan(SMALL))


@pytest.mark.parametrize("path", list(leaves(SMALL)), ids=lambda path: ".".join(map(str, path)))
def test_every_key_takes_any_value(path: tuple[str | int, ...]) -> None:
    for value in VALUES:
        raw = copy.deepcopy(SMALL)
        node: Any = raw
        for key in path[:-1]:
            node = node[key]
        node[path[-1]] = value
        try:
            plan = build_plan(raw)
        except SlidefitError as fault:
            assert all(each.what for each in getattr(fault, "problems", [fault])), (value, fault)
            continue
        answered(plan)


def test_every_line_left_out_and_every_cut_is_a_plan_or_a_fault_with_its_line() -> None:
    lines = DEMO.splitlines(keepends=True)
    texts = ["".join(lines[:n] + lines[n + 1 :]) for n in range(len(lines))]
    texts += [DEMO[: len(DEMO) * n // 200] for n in range(200)]
    faults = 0
    for text in texts:
        try:
            parse_plan(text, "plan.toml")
        except SlidefitError as fault:
            faults += 1
            assert "plan.toml" in str(fault)
    assert faults > 200


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a." * 5000 + "b = 1", "[" + "a." * 3000 + "b]\nc=1"])
def test_a_text_nested_without_end_is_a_fault_of_the_plan(text: str) -> None:
    with pytest.raises(SlidefitError, match=r"plan\.toml"):
        parse_plan(text, "plan.toml")
