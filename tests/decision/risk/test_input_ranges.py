"""The range that each input may plausibly take."""

from __future__ import annotations

from datetime import date

import pytest
from outlooks import make_outlook
from plans import PASTURE, changed_group, changed_program, small_plan
from scipy.stats import norm

from slidefit.decision.options import build_candidates, group_case, sale_dates
from slidefit.decision.risk.input_ranges import FlipRange, ranges_of


def ranges(month: int = 0, **changes: object) -> dict[str, FlipRange]:
    plan = small_plan(**changes)
    case = group_case(make_outlook(), plan, plan.groups[0])
    found, _ = build_candidates(make_outlook(), plan, case, sale_dates(plan))
    return ranges_of(case, found[month])


def test_one_in_ten_lies_beyond_either_end_of_a_spread() -> None:
    found = ranges(1, programs=changed_program(pasture=PASTURE, cost_head_day=0.0))
    plan = small_plan()
    case = group_case(make_outlook(), plan, plan.groups[0])
    gain, bid = found["gain"], found["bid"]
    assert norm.cdf(gain.low, 1.8, 0.2) == pytest.approx(0.1) and norm.sf(
        gain.high, 1.8, 0.2
    ) == pytest.approx(0.1)
    z = norm.ppf(0.9) * case.start_log_var**0.5
    assert bid.high / bid.planned == pytest.approx(bid.planned / bid.low) == pytest.approx(2.718281828**z)
    assert found["forage_yield"].low < 3000.0 < found["forage_yield"].high
    for each in found.values():
        assert each.low <= each.planned <= each.high, each


def test_a_bid_in_hand_moves_by_a_rule() -> None:
    bid = ranges(groups=changed_group(bid_cwt=350.0))["bid"]
    assert (bid.low, bid.planned, bid.high) == pytest.approx((332.5, 350.0, 367.5)) and "rule" in bid.reason


@pytest.mark.parametrize(("death", "high"), [(0.0, 2.0), (1.0, 2.0), (2.0, 4.0)])
def test_deaths_go_from_none_to_twice_the_plan_two_points_at_least(death: float, high: float) -> None:
    found = ranges(programs=changed_program(death_loss_pct=death))["death_loss"]
    assert (found.low, found.planned, found.high) == (0.0, death, high)


def test_days_stay_within_the_program_and_percents_above_nothing() -> None:
    """Sold November 15, 32 days in: from 18 to 46, or from the day after opening to the last day."""
    plain = ranges()["days"]
    assert (plain.low, plain.high) == (18, 46)
    program = changed_program(
        earliest_on=date(2026, 11, 5), latest_off=date(2026, 11, 20), wait_cost_head_day=1.0
    )
    narrow = ranges(programs=program)["days"]
    assert (narrow.low, narrow.high) == (23, 37)
    low = ranges(money={"interest_pct": 1.0}, selling={"shrink_pct": 0.5})
    assert (low["interest"].low, low["interest"].high, low["shrink"].low) == (0.0, 3.0, 0.0)


def test_what_has_no_part_has_no_range() -> None:
    terms = {"contract": {"price_cwt": 300, "base_weight_lb": 700, "slide_cwt": 8}, "shrink_pct": 3.0}
    found = ranges(selling=terms, programs=changed_program(cost_head_day=0.0))
    assert not {"sale_price", "slide", "feed_cost", "forage_yield"} & set(found)
