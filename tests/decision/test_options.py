"""The options of a group, and why others are not."""

from __future__ import annotations

from datetime import date

import pytest
from outlooks import certain, make_outlook
from plans import PASTURE, changed_group, changed_program, small_plan

from slidefit.decision.options import (
    GroupCase,
    build_candidates,
    build_option,
    contract_for,
    forage_log_sd,
    group_case,
    sale_dates,
)
from slidefit.errors import OutlookError
from slidefit.plan.plan import Plan
from slidefit.plan.selling import Contract, Selling

DATES = {"weaning": "2026-10-14"}


def case_of(plan: Plan, outlook=None) -> GroupCase:  # type: ignore[no-untyped-def]
    return group_case(outlook or certain(), plan, plan.groups[0])


def reasons(plan: Plan, outlook=None) -> dict[str, str]:  # type: ignore[no-untyped-def]
    """Month of sale and why it can't be compared; months that can have no entry."""
    case = case_of(plan, outlook)
    refused = build_candidates(outlook or certain(), plan, case, sale_dates(plan))[1]
    return {each.sale_month: each.reason for each in refused}


def test_days_of_sale_are_one_a_month_or_one_a_week_from_weaning() -> None:
    months = {**DATES, "first_sale": "2026-11", "last_sale": "2026-12"}
    assert sale_dates(small_plan(dates=months)) == (date(2026, 11, 15), date(2026, 12, 15))
    weekly = sale_dates(small_plan(dates={**months, "every_week": True}))
    assert weekly[0] == date(2026, 11, 4) and weekly[-1] == date(2026, 12, 30) and len(weekly) == 9
    assert {day.weekday() for day in weekly} == {date(2026, 10, 14).weekday()}


@pytest.mark.parametrize(
    ("program", "refused"),
    [
        ({}, {}),
        ({"latest_off": date(2026, 12, 15)}, {"2027-01": "the program ends 2026-12-15"}),
        ({"latest_off": date(2026, 12, 14)}, {"2026-12": "the program ends 2026-12-14"}),
        (
            {"earliest_on": date(2026, 11, 15), "wait_cost_head_day": 1},
            {"2026-11": "the program opens 2026-11-15"},
        ),
        ({"earliest_on": date(2026, 11, 14), "wait_cost_head_day": 1}, {}),
    ],
)
def test_a_program_is_open_from_its_first_to_its_last_day(program: dict, refused: dict[str, str]) -> None:  # type: ignore[type-arg]
    dates = {**DATES, "first_sale": "2026-11", "last_sale": "2027-01"}
    found = reasons(small_plan(dates=dates, programs=changed_program(**program)))
    assert refused.items() <= found.items() and ("2026-12" in found) == ("2026-12" in refused)


def test_a_month_without_sales_is_left_out_unless_it_is_asked_for_or_under_contract() -> None:
    outlook, dates = certain(unseen=(1,)), {**DATES, "sales": ["2026-12", "2027-01"]}
    assert list(reasons(small_plan(dates=dates), outlook)) == ["2027-01"]
    terms = {"contract": {"price_cwt": 300, "base_weight_lb": 700, "slide_cwt": 8}, "shrink_pct": 3.0}
    assert reasons(small_plan(dates=dates, selling=terms), outlook) == {}
    assert reasons(small_plan(dates=dates, risk={"draws": 100, "unseen_months": True}), outlook) == {}
    with pytest.raises(OutlookError, match="no sale in October"):
        case_of(small_plan(), certain(unseen=(10,)))


def test_acres_and_pens_hold_so_many_head() -> None:
    """1,500 lb eaten an acre / 15 lb a day = 100 days: 62 days take 0.62 acre a head; 31 acres hold 50."""
    grass = {**PASTURE, "intake_pct": None, "intake_lb_day": 15.0}
    for acres, pens, head in ((31.0, None, 50), (30.9, None, 49), (31.0, 12, 12), (500.0, None, 50)):
        program = changed_program(pasture={**grass, "acres": acres}, pens_head=pens, cost_head_day=0.0)
        plan = small_plan(dates={**DATES, "sales": ["2026-12"]}, programs=program)
        (found,), _ = build_candidates(certain(), plan, case_of(plan), sale_dates(plan))
        assert (found.capacity_head, found.option.days) == (head, 62)
    plan = small_plan(programs=changed_program(pasture={**grass, "acres": 0.1}, cost_head_day=0.0))
    assert set(reasons(plan).values()) == {"the acres or pens at hand don't hold one calf that long"}


def test_a_contract_is_for_its_groups_and_months() -> None:
    group = small_plan().groups[0]
    terms = Contract(price_cwt=300, base_weight_lb=600, slide_cwt=8, months=("2026-12",), groups=("steers",))
    selling, other = Selling(contract=terms), small_plan(groups=changed_group(name="light")).groups[0]
    assert contract_for(selling, group, date(2026, 12, 1)) is terms
    assert (
        contract_for(selling, group, date(2027, 1, 1))
        is contract_for(selling, other, date(2026, 12, 1))
        is None
    )


def test_what_was_paid_before_today_is_not_paid_again() -> None:
    """Kept from October 14, compared on November 14: processing and the slump are past, days run from then."""
    program = changed_program(slump_lb=10.0)
    fresh = small_plan(programs=program)
    kept = small_plan(programs=program, as_of=date(2026, 11, 14))
    first, later = (build_option(p, case_of(p), p.programs[0], date(2026, 12, 15))[0] for p in (fresh, kept))
    assert (first.inputs["health_head"], first.inputs["slump_lb"], first.days) == (20.0, 10.0, 62)
    assert (later.inputs["health_head"], later.inputs["slump_lb"], later.days) == (0.0, 0.0, 31)


def test_one_years_spread_of_forage_is_that_of_the_most_uncertain_pasture() -> None:
    plan = small_plan(programs=changed_program(pasture=PASTURE, cost_head_day=0.0))
    _, stretches = build_option(plan, case_of(plan), plan.programs[0], date(2026, 12, 15))
    assert forage_log_sd(stretches) == pytest.approx(0.29356, abs=1e-5)  # root of ln(1 + 0.30^2)
    assert forage_log_sd(()) == 0.0


def test_selling_now_is_at_the_bid_or_the_median() -> None:
    bid = case_of(small_plan(groups=changed_group(bid_cwt=350.0)), make_outlook())
    assert (bid.start_price_cwt, bid.start_log_var) == (350.0, 0.0)
    none = case_of(
        small_plan(), make_outlook()
    )  # $360 at 550 lb, 0.10 a cwt: 30 lb lighter brings e^0.03 of it
    assert none.start_price_cwt == pytest.approx(360.0 * 1.030455, rel=1e-3) and none.start_log_var > 0
    assert bid.net_at(351.0) - bid.net_now == pytest.approx(5.20 * 0.97 * 0.97)  # 520 lb less 3 and 3 percent
