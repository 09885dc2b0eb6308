"""Months of sale, groups and typed prices of a plan."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from slidefit.plan.plan import Dates, Group, PlanFutures, TypedPrices
from slidefit.plan.plan_file import build_plan

WEANING = date(2026, 10, 14)
CALVES = {"name": "a", "sex": "steer", "head": 2}
TODAY = {"weight_lb": 550.0, "price_cwt": 360.0}


def faults(table: Any) -> list[tuple[Any, ...]]:
    return [where for where, _, _ in table.problems()]


def test_months_of_sale_run_over_the_turn_of_the_year() -> None:
    dates = Dates(weaning=WEANING, first_sale="2026-11", last_sale="2027-02")
    assert dates.sale_months() == ("2026-11", "2026-12", "2027-01", "2027-02") and faults(dates) == []
    assert Dates(weaning=WEANING, sales=("2027-02", "2026-12", "2027-02")).sale_months() == (
        "2026-12",
        "2027-02",
    )
    long = Dates(weaning=WEANING, first_sale="2026-11", last_sale="2036-11")
    assert len(long.sale_months()) == 36


@pytest.mark.parametrize(
    ("months", "at"),
    [
        ({"first_sale": "2026-10", "last_sale": "2026-10"}, []),  # the month of weaning itself
        ({"first_sale": "2026-09", "last_sale": "2026-10"}, [("first_sale",)]),
        ({"first_sale": "2026-11", "last_sale": "2026-10"}, [("last_sale",)]),
        ({"first_sale": "2026-11"}, [("sales",)]),
        ({"sales": ("2026-11",), "first_sale": "2026-11"}, [("sales",)]),
        ({"sales": ("2026-09", "2026-11")}, [("sales", 0)]),
    ],
)
def test_months_that_make_no_sense_are_told(months: dict[str, Any], at: list[tuple[Any, ...]]) -> None:
    assert faults(Dates(weaning=WEANING, **months)) == at


@pytest.mark.parametrize(
    ("weights", "at"),
    [
        ({"weights_lb": (150.0, 1400.0)}, []),
        ({"weights_lb": (149.9, 1400.1)}, [("weights_lb", 0), ("weights_lb", 1)]),
        ({"weights_lb": (500.0,)}, [("weights_lb",)]),
        ({"weights_lb": (500.0, 600.0), "weight_lb": 550.0}, [("weights_lb",)]),
        ({}, [("weight_lb",)]),
        ({"weight_lb": 550.0, "bid_is": "market"}, [("bid_is",)]),
    ],
)
def test_a_group_has_one_mean_or_a_weight_for_each_calf(
    weights: dict[str, Any], at: list[tuple[Any, ...]]
) -> None:
    assert faults(Group(**CALVES, **weights)) == at


@pytest.mark.parametrize(
    ("said", "at"),
    [
        ({"slide_pct": 9.0}, []),
        ({}, [("slide_pct",)]),
        ({"slide_pct": 9.0, "slide_cwt": 8.0}, [("slide_cwt",)]),
        ({"later_month": "2027-02", "later_weight_lb": 570.0, "later_price_cwt": 350.0}, []),
        (
            {"later_month": "2027-02", "later_weight_lb": 569.0, "later_price_cwt": 350.0},
            [("later_weight_lb",)],
        ),
        ({"later_price_cwt": 350.0, "slide_pct": 9.0}, [("later_price_cwt",), ("slide_pct",)]),
        ({"slide_pct": 9.0, "season_pct": (0.0,) * 11}, [("season_pct",)]),
    ],
)
def test_typed_prices_take_a_slide_or_a_later_price_20_lb_off(
    said: dict[str, Any], at: list[tuple[Any, ...]]
) -> None:
    assert faults(TypedPrices(**TODAY, **said)) == at


def test_selling_now_is_at_weaning_or_on_the_day_of_the_comparison() -> None:
    plan = build_plan(
        {
            "dates": {"weaning": WEANING, "sales": ["2026-12"]},
            "groups": [
                {**CALVES, "weights_lb": [500, 560]},
                {**CALVES, "name": "b", "weight_lb": 500, "programs": ["y"]},
            ],
            "programs": [{"name": name, "gain_lb_day": 2.0, "cost_head_day": 1.0} for name in "xy"],
        }
    )
    first, second = plan.groups
    assert first.mean_weight_lb == 530.0 and plan.start_of(first) == WEANING
    later = plan.model_copy(update={"as_of": date(2026, 11, 1)})
    earlier = plan.model_copy(update={"as_of": date(2026, 10, 1)})
    assert (later.start_of(first), earlier.start_of(first)) == (date(2026, 11, 1), WEANING)
    assert [len(plan.programs_of(group)) for group in (first, second)] == [2, 1]
    assert plan.weekly().dates.every_week and not plan.dates.every_week


def test_a_contract_without_a_month_is_told() -> None:
    quote = PlanFutures(contract="F27", settlement=350.0, as_of=WEANING)
    assert faults(quote) == [] and f"{quote.quote().contract}".startswith("2027-01")
    assert faults(PlanFutures(contract="any", settlement=350.0, as_of=WEANING)) == [("contract",)]
