"""Pasture, ration and phases: what they cost and what can't stand together."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from slidefit.plan.feeding import Feed, Pasture, Phase, Program

GRASS = {"forage_lb_acre": 3000.0, "utilization_pct": 50.0, "intake_pct": 2.5}


def faults(table: Any) -> list[tuple[Any, ...]]:
    return [where for where, _, _ in table.problems()]


def test_a_feeds_cost_counts_what_is_wasted() -> None:
    """Prevatt, Auburn University, in BEEF: mineral at $600 a ton, 0.20 lb a day, 100 days is $6.00."""
    mineral = Feed(name="mineral", lb_day=0.20, price_ton=600.0)
    assert 100 * mineral.cost_head_day == pytest.approx(6.00)
    hay = Feed(name="hay", lb_day=8.0, price_ton=150.0, waste_pct=20.0)  # 10 lb bought for 8 eaten
    assert hay.cost_head_day == pytest.approx(0.75)


def test_the_cost_of_an_acre_is_given_or_added_up() -> None:
    items = Pasture(**GRASS, establish_items=(("seed", 30.0), ("lime", 0.0)), grow_acre=50.0, hold_acre=40.0)
    assert items.items() == (("seed", 30.0), ("to grow", 50.0), ("to hold the land", 40.0))
    assert items.total_cost_acre == 120.0 and items.holds_land
    assert Pasture(**GRASS, cost_acre=120.0).total_cost_acre == 120.0
    assert Pasture(**GRASS, grow_acre=50.0).holds_land is False


def test_names_of_the_first_version_are_read_and_told() -> None:
    old = Pasture(**GRASS, seed_acre=30.0, establishment_acre=12.0, rent_acre=40.0)
    assert old.total_cost_acre == 82.0 and old.former == ("seed_acre", "establishment_acre", "rent_acre")
    assert faults(Pasture(**GRASS, establish_acre=5.0, seed_acre=30.0)) == [("establish_items",)]


@pytest.mark.parametrize(
    ("pasture", "at"),
    [
        (GRASS, []),
        ({**GRASS, "intake_lb_day": 14.0}, [("intake_pct",)]),
        ({"forage_lb_acre": 3000.0, "utilization_pct": 50.0}, [("intake_pct",)]),
        ({**GRASS, "cost_acre": 0.0, "grow_acre": 50.0}, [("cost_acre",)]),
        ({**GRASS, "grow_acre": 50.0, "grow_items": (("lime", 9.0),)}, [("grow_items",)]),
    ],
)
def test_one_intake_and_one_account_of_an_acre(pasture: dict[str, Any], at: list[tuple[str, ...]]) -> None:
    assert faults(Pasture(**pasture)) == at


def test_a_program_has_one_gain_or_phases_and_its_days_in_order() -> None:
    grow, finish = Phase(gain_lb_day=1.5, days=40), Phase(gain_lb_day=2.5)
    assert faults(Program(name="a", gain_lb_day=2.0)) == [] and faults(Program(name="a")) == [
        ("gain_lb_day",)
    ]
    assert faults(Program(name="a", phases=(grow, finish))) == []
    assert faults(Program(name="a", phases=(finish, grow))) == [("phases", 0, "days")]
    assert faults(Program(name="a", gain_lb_day=0.0, phases=(grow,))) == [("gain_lb_day",)]
    assert Program(name="a", gain_lb_day=2.0).stages()[0].gain_lb_day == 2.0
    for last, at in ((date(2027, 3, 1), [("latest_off",)]), (date(2027, 3, 2), [])):
        assert faults(Program(name="a", gain_lb_day=2.0, earliest_on=date(2027, 3, 1), latest_off=last)) == at
