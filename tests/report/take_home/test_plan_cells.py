"""A plan taken apart: every number that moves an answer, and how far it moves each input of a budget."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import read_plan
from slidefit.regions.region_file import read_region
from slidefit.regions.region_outlook import outlook_of_region
from slidefit.report.take_home.plan_cells import PlanCells, part_name, plan_cells, with_number

DATA = Path(__file__).parents[3] / "data_demo"


@pytest.fixture(scope="module")
def outlook() -> Outlook:
    return outlook_of_region(read_region(DATA / "kettle_fork.toml"))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return read_plan(DATA / "plan.toml")


@pytest.fixture(scope="module")
def cells(outlook: Outlook, plan: Plan) -> PlanCells:
    return plan_cells(outlook, plan)


def test_one_number_takes_the_place_of_another(plan: Plan) -> None:
    moved = with_number(plan, ("groups", 1, "weight_lb"), 601.0)
    assert moved.groups[1].weight_lb == 601.0 and moved.groups[0] == plan.groups[0]
    assert with_number(moved, ("groups", 1, "weight_lb"), plan.groups[1].weight_lb) == plan
    assert part_name(plan, ("groups", 1, "weight_lb")) == f"Calves 2: {plan.groups[1].name}"


def test_dates_and_odds_are_no_cells_and_names_count_from_one(cells: PlanCells) -> None:
    names = {number.name for number in cells.numbers}
    assert "groups_1_weight_lb" in names and not any(name.startswith(("dates", "risk")) for name in names)
    assert all(number.low is None or number.low <= number.value for number in cells.numbers)


def test_a_link_gives_the_input_of_the_plan_as_it_stands_and_moved(
    outlook: Outlook, plan: Plan, cells: PlanCells
) -> None:
    """Base plus parts is the input itself, at the plan and with a number of it a twentieth higher."""
    value = {number.name: number.value for number in cells.numbers}
    number = next(n for n in cells.numbers if n.path[0] == "programs" and n.path[-1] == "gain_lb_day")
    later = plan_cells(outlook, with_number(plan, number.path, 1.05 * number.value))
    moved, linked = value | {number.name: 1.05 * number.value}, 0
    for choice, after in zip(cells.choices, later.choices, strict=True):
        for key, link in choice.links.items():
            told = [link.base + sum(per * at[name] for name, per in link.parts) for at in (value, moved)]
            assert told[0] == pytest.approx(choice.option.inputs[key], rel=1e-6, abs=1e-6), key
            assert told[1] == pytest.approx(after.option.inputs[key], rel=1e-6, abs=1e-6), key
            linked += number.name in dict(link.parts)
    assert linked > 0 and np.isfinite(list(value.values())).all()
