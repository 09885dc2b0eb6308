"""What may be typed into the quick question, and the plan it grows into."""

from __future__ import annotations

from datetime import date

import pytest

from slidefit.errors import SlidefitError
from slidefit.plan.plan_file import build_plan
from slidefit.web.forms.plan_address import plan_of
from slidefit.web.forms.quick_form import place_of, sale_weight_of, typed_of, whole_plan

TODAY = date(2026, 10, 14)
ASKED = {
    "weight_lb": "520",
    "price_cwt": "$360",
    "days": "92",
    "growth": "1.8",
    "later": "320",
    "sex": "heifer",
}


def test_the_first_of_two_ways_is_the_usual_one() -> None:
    typed = typed_of(ASKED)
    assert typed.asked == {
        "weight_lb": 520,
        "price_cwt": 360,
        "days": 92,
        "gain_lb_day": 1.8,
        "later_price_cwt": 320,
    }
    other = typed_of(
        {**ASKED, "growth": "690 lb", "growth_as": "to_weight_lb", "later": "9", "later_as": "slide_pct"}
    )
    assert (other.asked["to_weight_lb"], other.asked["slide_pct"], other.faults) == (690, 9, {})
    assert typed_of({**ASKED, "growth_as": "nonsense", "sex": "cow"}).sex == "steer"


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("weight_lb", "about 500", "is not a number"),
        ("weight_lb", "149", "too low: 150 to 1400"),
        ("weight_lb", "150", None),
        ("weight_lb", "1400", None),
        ("weight_lb", "1401", "too high: 150 to 1400"),
        ("later", "29", "too low"),
        ("head", "0", "Give 1 to 100,000"),
        ("head", "100,000", None),
        ("head", "100,001", "Give 1 to 100,000"),
        ("head", "few", "Give 1 to 100,000"),
    ],
)
def test_a_fault_stands_at_its_field(field: str, text: str, said: str | None) -> None:
    typed = typed_of({**ASKED, field: text})
    assert set(typed.faults) == ({field} if said else set()) and (said or "") in typed.faults.get(field, "")
    assert field != "head" or said is None or typed.head is None


def test_a_fault_of_the_question_finds_its_field() -> None:
    typed = typed_of(ASKED)
    for name, place in (("to_weight_lb", "growth"), ("slide_pct", "later"), ("days", "days"), ("color", "")):
        assert place_of(SlidefitError("is off", path=(name,)), typed) == place
    assert place_of(SlidefitError("is missing", where="gain_lb_day or to_weight_lb"), typed) == "growth"


def test_the_weight_at_sale_is_said_or_follows() -> None:
    assert sale_weight_of({"to_weight_lb": 690.0, "weight_lb": 520.0}) == 690.0
    assert sale_weight_of({"weight_lb": 520.0, "gain_lb_day": 1.8, "days": 92.0}) == pytest.approx(685.6)
    assert sale_weight_of({"weight_lb": 520.0, "days": 92.0}) is None


def test_it_grows_into_a_plan_of_the_same_numbers() -> None:
    """Ninety-two days from October 14 is January 14."""
    typed = typed_of({**ASKED, "head": "40", "cost_head_day": "1.60", "shrink_pct": "3"})
    plan = plan_of(whole_plan(typed, TODAY, from_prices=False))
    assert plan.prices is not None and (plan.prices.price_cwt, plan.prices.later_price_cwt) == (360, 320)
    assert plan.prices.later_weight_lb == pytest.approx(685.6)
    assert (plan.dates.sales, plan.dates.sale_day) == (("2027-01",), 14)
    assert (plan.groups[0].head, plan.groups[0].sex, plan.programs[0].gain_lb_day) == (40, "heifer", 1.8)
    priced = plan_of(whole_plan(typed, TODAY, from_prices=True))
    assert (
        priced.prices is None
        and priced.groups[0].bid_cwt == 360
        and priced.groups[0].forward[0].price_cwt == 320
    )
    late = typed_of({**ASKED, "days": "17"})  # October 31: plans sell by the 28th
    assert plan_of(whole_plan(late, TODAY, from_prices=False)).dates.sale_day == 28
    assert build_plan(plan.model_dump(exclude_unset=True)) == plan
