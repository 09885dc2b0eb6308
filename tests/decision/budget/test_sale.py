"""Price at sale, and what a sale takes, worked by hand."""

from __future__ import annotations

import pytest

from slidefit.decision.budget.lines import budget_of, selling_budget
from slidefit.decision.budget.sale import BudgetShape, StretchShape

CALF = {"start_lb": 500.0, "days": 100.0, "gain_lb_day": 2.0, "death_loss_pct": 2.0}
TERMS = {
    "contract_price_cwt": 300.0,
    "contract_weight_lb": 690.0,
    "contract_slide_cwt": 8.0,
    "contract_window_lb": 5.0,
}


def sold(shape: BudgetShape, **inputs: float) -> dict[str, float]:
    return {
        key: float(value)
        for key, value in budget_of(shape).values({**CALF, **inputs}, lambda lb, day: 310.0).items()
    }


@pytest.mark.parametrize(
    ("two_way", "base_lb", "price"),
    [
        (False, 700.0, 300.0),
        (False, 695.0, 300.0),  # 5 lb over: the window itself
        (False, 694.0, 299.92),  # a pound beyond it at $8 a hundredweight
        (False, 706.0, 300.0),  # lighter brings no more
        (True, 705.0, 300.0),
        (True, 706.0, 300.08),
        (True, 694.0, 299.92),
    ],
)
def test_a_contract_slides_beyond_its_window(two_way: bool, base_lb: float, price: float) -> None:
    shape = BudgetShape((StretchShape("yard"),), "two-way contract" if two_way else "contract")
    values = sold(shape, **{**TERMS, "contract_weight_lb": base_lb})
    assert values["pay_lb"] == 700.0 and values["price_cwt"] == pytest.approx(price)


@pytest.mark.parametrize(("floor", "price"), [(309.0, 310.0), (310.0, 310.0), (311.0, 311.0)])
def test_a_floor_lifts_a_lower_market_and_is_paid_either_way(floor: float, price: float) -> None:
    shape = BudgetShape((StretchShape("yard"),), floor=True)
    values = sold(shape, floor_cwt=floor, floor_cost_cwt=6.0, shrink_pct=3.0)
    assert values["price_cwt"] == price
    assert values["floor_head"] == pytest.approx(6.0 * 7.0 * 0.97)  # on the planned pay weight


def test_selling_costs_are_paid_on_calves_that_live_to_be_sold() -> None:
    """700 lb less 3 and 1 percent = 672.21 lb x $3.10 = $2,083.85, 98 of 100 sold; 45 miles x $4.50 of 50,000 lb."""
    inputs = {"shrink_pct": 3.0, "pencil_shrink_pct": 1.0, "commission_pct": 3.0, "commission_head": 0.0}
    inputs |= {"checkoff_head": 1.0, "freight_loaded_mile": 4.5, "miles": 45.0}
    values = sold(BudgetShape((StretchShape("yard"),)), **inputs)
    assert values["check_head"] == pytest.approx(2083.851, abs=0.001)
    assert values["sale_check"] == pytest.approx(0.98 * 2083.851, abs=0.001)
    assert values["sale_commission"] == pytest.approx(0.03 * 0.98 * 2083.851, abs=0.001)
    assert values["sale_checkoff_head"] == pytest.approx(0.98)
    assert values["sale_freight_mile"] == pytest.approx(0.98 * 700 * 45 * 4.5 / 50_000)


def test_selling_now_has_no_deads() -> None:
    """Noble Foundation, 1998: 600 lb less 4 percent x $80 = $460.80; less $3.00 a head and 3 percent."""
    now = {"start_lb": 600.0, "start_price_cwt": 80.0, "start_shrink_pct": 4.0}
    assert selling_budget().values(now, None)["net_now"] == pytest.approx(460.80)
    costs = {"commission_pct": 3.0, "commission_head": 0.0, "yardage_head": 2.0, "checkoff_head": 1.0}
    assert selling_budget().values({**now, **costs}, None)["net_now"] == pytest.approx(460.80 * 0.97 - 3.0)
