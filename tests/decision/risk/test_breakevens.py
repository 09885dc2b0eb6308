from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outlooks import certain, make_outlook
from plans import PASTURE, changed_group, changed_program, raw_plan, small_plan
from scipy.stats import norm

from slidefit.decision.comparison import compare
from slidefit.decision.options import build_candidates, group_case, sale_dates
from slidefit.decision.risk.breakevens import FlipRange, days_even, ranges_of
from slidefit.plan.plan_file import build_plan

RISK = {"draws": 100, "vary": []}


def evens(option):
    return {each.name: each for each in option.breakevens}


def option_of(plan, month="2027-01", outlook=None):
    keep = compare(outlook or certain(slide_cwt=0.08), plan).groups[0].keep
    return next(each for each in keep if each.sale_month == month)


def test_at_each_breakeven_the_gain_from_keeping_is_nil():
    pasture = {**PASTURE, "intake_lb_day": 14.0}
    del pasture["intake_pct"]
    base = {"cost_head_day": 0.4, "pasture": pasture}
    plan = small_plan(programs=changed_program(**base), risk=RISK)
    option = option_of(plan)
    even = evens(option)
    days = option.days
    assert all(each.value is not None for each in even.values())

    def gain(**changes):
        return option_of(small_plan(programs=changed_program(**{**base, **changes}), risk=RISK)).gain_per_head

    assert gain(gain_lb_day=even["gain_lb_day"].value) == pytest.approx(0, abs=0.05)
    assert gain(death_loss_pct=even["death_loss_pct"].value) == pytest.approx(0, abs=1e-6)
    extra = even["cost_head_day"].value - even["cost_head_day"].planned
    assert gain(cost_head_day=0.4 + extra) == pytest.approx(0, abs=1e-6)
    dry = {**pasture, "forage_lb_acre": even["forage_lb_acre"].value}
    assert gain(pasture=dry) == pytest.approx(0, abs=1e-6)
    assert even["cost_head_day"].planned * days == pytest.approx(
        sum(each.amount_herd for each in option.cash) / option.head_kept
    )

    sold = {
        "contract": {"price_cwt": even["sale_price_cwt"].value, "base_weight_lb": 1000.0, "slide_cwt": 0.0}
    }
    selling = {"commission_pct": 3.0, "yardage_head": 4.0, "shrink_pct": 3.0, **sold}
    at_price = option_of(small_plan(programs=changed_program(**base), selling=selling, risk=RISK))
    assert at_price.gain_per_head == pytest.approx(0, abs=1e-6)

    slide = even["slide_pct_cwt"].value / 100
    assert even["slide_pct_cwt"].planned == pytest.approx(100 * (1 - 2.718281828459045**-0.08))
    price_now = compare(certain(slide_cwt=0.08), plan).groups[0].sell_now.price_cwt
    at_slide = price_now * (1 - slide) ** ((option.weight_lb - 520) / 100)
    assert at_slide == pytest.approx(even["sale_price_cwt"].value)


SELLING = {"commission_pct": 3.0, "yardage_head": 4.0, "shrink_pct": 3.0}
TERMS = {
    "open": {},
    "floor": {"floor": {"floor_cwt": 310.0, "cost_cwt": 6.0}},
    "contract": {"contract": {"price_cwt": 325.0, "base_weight_lb": 690.0, "slide_cwt": 9.0}},
}


def typed_back(raw, option, even):
    """Return the plan with a breakeven typed in place of the planned number; None where no field says it."""
    group, program = dict(raw["groups"][0]), dict(raw["programs"][0])
    name, value = even.name, even.value
    if name == "bid_cwt":
        group["bid_cwt"] = value
    elif name == "sale_price_cwt" and "contract" not in raw["selling"]:
        group["forward"] = [{"month": option.sale_month, "weight_lb": option.weight_lb, "price_cwt": value}]
    elif name in ("gain_lb_day", "death_loss_pct"):
        program[name] = value
    elif name == "cost_head_day":
        program["other_head_day"] = value - even.planned
    elif name == "forage_lb_acre":
        program["pasture"] = {**program["pasture"], name: value}
    elif name == "slide_pct_cwt" and "prices" in raw:
        return {**raw, "prices": {**raw["prices"], "slide_pct": value}}
    else:
        return None
    return {**raw, "groups": [group], "programs": [program]}


@settings(max_examples=8, deadline=None)
@given(
    weight=st.integers(430, 600),
    gain=st.floats(1.2, 2.6),
    cost=st.floats(0.3, 1.6),
    bid=st.one_of(st.none(), st.floats(320.0, 420.0)),
    bid_is=st.sampled_from(["", "market", "these calves", "this buyer"]),
    forward=st.one_of(st.none(), st.floats(290.0, 380.0)),
    terms=st.sampled_from(sorted(TERMS)),
    typed=st.booleans(),
    pasture=st.booleans(),
)
def test_every_breakeven_holds_when_it_is_typed(
    weight, gain, cost, bid, bid_is, forward, terms, typed, pasture
):
    groups = changed_group(weight_lb=float(weight), weight_sd_lb=30.0)
    raw = raw_plan(groups=groups, selling={**SELLING, **TERMS[terms]})
    raw["dates"] = {"weaning": "2026-10-14", "sales": ["2027-01"]}
    raw["programs"] = changed_program(
        gain_lb_day=gain,
        cost_head_day=cost,
        earliest_on="2026-11-01",
        wait_cost_head_day=1.0,
        wait_gain_lb_day=0.5,
        **({"pasture": {**PASTURE, "forage_lb_acre": 3200.0}} if pasture else {}),
    )
    raw["risk"] = {"draws": 100, "seed": 3, "beyond_data": True}
    group = raw["groups"][0]
    if bid is not None:
        group |= {"bid_cwt": bid, "bid_is": bid_is}
    if forward is not None:
        group["forward"] = [{"month": "2027-01", "weight_lb": 650.0, "price_cwt": forward}]
    if typed:
        raw["prices"] = {"weight_lb": float(weight), "price_cwt": 370.0, "slide_pct": 9.0}
    outlook = None if typed else make_outlook()
    (option,) = compare(outlook, build_plan(raw)).groups[0].keep
    for even in option.breakevens:
        changed = None if even.value is None else typed_back(raw, option, even)
        if changed is None or not within_limits(even):
            continue
        (again,) = compare(outlook, build_plan(changed)).groups[0].keep
        assert abs(again.gain_per_head) < 1.0, even


def within_limits(even):
    low, high = {
        "bid_cwt": (30, 1200),
        "sale_price_cwt": (30, 1200),
        "gain_lb_day": (-0.4, 6),
        "death_loss_pct": (0.1, 50),
        "cost_head_day": (even.planned, even.planned + 20),
        "forage_lb_acre": (100, 30_000),
        "slide_pct_cwt": (-30, 40),
        "days": (1, 0),
        "later_bid_cwt": (1, 0),
    }[even.name]
    return low <= even.value <= high


def test_the_bid_on_the_day_of_sale_covers_what_keeping_costs():
    option = option_of(small_plan(risk=RISK))
    even = evens(option)["later_bid_cwt"].value
    sold = 0.98 * (option.weight_lb * 0.97 * even / 100 * 0.97 - 5.0)
    cash = 1.6 * option.days + 20
    now = compare(certain(slide_cwt=0.08), small_plan(risk=RISK)).groups[0].sell_now.net_per_head
    assert sold - cash - 0.08 * option.days / 365 * (now + cash / 2) == pytest.approx(now)


def test_days_are_the_first_day_after_the_change_of_sign():
    plan = small_plan(programs=changed_program(slump_lb=10.0, cost_head_day=0.9), risk=RISK)
    option = option_of(plan)
    days = evens(option)["days"].value
    assert days is not None
    weaning = plan.dates.weaning

    def gain_on(day):
        when = weaning + timedelta(days=day)
        dates = {"weaning": "2026-10-14", "sales": [f"{when:%Y-%m}"], "sale_day": when.day}
        other = build_plan({**plan.model_dump(exclude_unset=True), "dates": dates})
        return compare(certain(slide_cwt=0.08), other).groups[0].keep[0].gain_per_head

    assert (gain_on(int(days)) > 0) != (gain_on(int(days) - 1) > 0)


@pytest.mark.parametrize(
    ("program", "name", "said"),
    [
        ({"cost_head_day": 9.0}, "death_loss_pct", "behind even with no deaths"),
        ({"cost_head_day": 9.0}, "gain_lb_day", "behind at any daily gain"),
        ({"cost_head_day": 9.0}, "days", "behind from day"),
        ({"gain_lb_day": 0.05}, "slide_pct_cwt", "under 20 lb"),
        ({"health_head": 400.0, "pasture": PASTURE}, "forage_lb_acre", "even if the pasture cost nothing"),
    ],
)
def test_there_is_none_and_why(program, name, said):
    even = evens(option_of(small_plan(programs=changed_program(**program), risk=RISK)))[name]
    assert even.value is None
    assert said in even.reason


def test_no_cost_is_low_enough_when_the_market_falls():
    outlook = certain(slide_cwt=0.30)
    plan = small_plan(programs=changed_program(gain_lb_day=2.0, cost_head_day=0.1), risk=RISK)
    even = evens(option_of(plan, "2027-03", outlook))["cost_head_day"]
    assert even.value is None
    assert "cost nothing" in even.reason


def test_days_come_out_even_on_the_first_whole_day():
    assert days_even({1: -5.0, 100: 5.0}, 60, lambda days: days - 40.5).value == 41.0


def test_a_bid_changes_nothing_but_the_level():
    with_bid = option_of(small_plan(groups=changed_group(bid_cwt=360.0), risk=RISK), outlook=make_outlook())
    even = evens(with_bid)
    assert even["bid_cwt"].planned == pytest.approx(360.0)


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
