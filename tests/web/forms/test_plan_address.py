"""A plan as flat names and texts: none is lost, none is invented."""

from __future__ import annotations

import pytest
from hypothesis import given as for_all
from hypothesis import settings
from hypothesis import strategies as st
from running import PLAN

from slidefit.errors import PlanError
from slidefit.plan.plan_file import read_plan
from slidefit.web.forms.plan_address import (
    MOST_ITEMS,
    Values,
    added,
    field_at,
    given,
    plan_of,
    raw_of,
    removed,
    text_of,
    values_of,
)


def whole() -> Values:
    return values_of(read_plan(PLAN))


def test_groups_come_and_go() -> None:
    values = whole()
    more = added(values, "groups")
    assert more["groups.3.name"] == "Calves 4"
    assert removed(more, "groups.3") == values
    fewer = removed(values, "groups.0")
    assert fewer["groups.0.name"] == "Light steers" and "groups.2.name" not in fewer
    assert added(values, "risk") == values and added(values, "nonsense.path") == values


def test_lists_are_read() -> None:
    values = {**whole(), "groups.0.programs": "Dry lot; Cereal pasture", "risk.vary": "price; gain"}
    plan = plan_of(values)
    assert plan.groups[0].programs == ("Dry lot", "Cereal pasture") and plan.risk.vary == ("price", "gain")
    assert values_of(plan)["groups.0.programs"] == "Dry lot; Cereal pasture"


KNOWN = st.sampled_from(
    ["groups.{}.name", "groups.{}.weight_lb", "programs.{}.ration.{}.lb_day", "programs.{}.pasture.kind"]
)


@settings(max_examples=40, deadline=None)
@for_all(
    st.lists(
        st.tuples(KNOWN, st.integers(0, 999), st.integers(0, 999), st.text(min_size=1, max_size=9)),
        max_size=12,
    )
)
def test_positions_are_renumbered_and_stay_so(parts: list[tuple[str, int, int, str]]) -> None:
    values = given((name.format(one, two), text) for name, one, two, text in parts)
    assert given(values.items()) == values
    with pytest.raises(PlanError):
        plan_of(values)


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("groups.0.head", "1,046", 1046),
        ("groups.0.weight_lb", "512.5 lb", 512.5),
        (
            "groups.0.weight_lb",
            "about 500",
            "about 500",
        ),  # kept as typed: the plan's checks say what is wrong
        ("groups.0.weights_lb", "512; 530, 498", [512, 530, 498]),
        ("dates.every_week", "yes", True),
        ("dates.every_week", "maybe", "maybe"),
        ("programs.0.pasture.grow_items", "lime 9; urea 40.5", [["lime", 9], ["urea", 40.5]]),
        ("groups.0.programs", "Dry lot; Rye", ["Dry lot", "Rye"]),
    ],
)
def test_a_text_becomes_what_the_plan_takes(name: str, text: str, value: object) -> None:
    found: object = raw_of({name: text})
    for part in name.split("."):
        found = found[int(part) if part.isdecimal() else part]  # type: ignore[index]
    assert found == value


def test_only_names_of_the_plan_are_taken() -> None:
    assert field_at(("groups", "0", "head")) is not None and field_at(("groups", "head")) is None
    assert field_at(("groups", "0")) is None and field_at(("title", "0")) is None
    last = MOST_ITEMS - 1
    filled = {f"groups.{place}.name": "a" for place in range(MOST_ITEMS)}
    assert added(filled, "groups") == filled and f"groups.{last}.name" in added(
        removed(filled, "groups.3"), "groups"
    )
    assert len(given((f"groups.{place}.name", "a") for place in range(MOST_ITEMS + 5))) == MOST_ITEMS
    assert [text_of(value) for value in (True, 0.1, 4812, ("a", "b"), (("lime", 9.0),))] == [
        "yes", "0.1", "4812", "a; b", "lime 9",
    ]  # fmt: skip
