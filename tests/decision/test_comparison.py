import itertools
import json
import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outlooks import certain, make_outlook
from plans import PASTURE, changed_group, changed_program, raw_plan, small_plan
from scipy.special import ndtr

from slidefit.decision.comparison import compare
from slidefit.decision.options import build_option, group_case
from slidefit.errors import OutlookError
from slidefit.plan.plan_file import build_plan
from slidefit.report.json_answers import json_of

JSON_KEYS = {
    "program",
    "sale_month",
    "days",
    "weight_lb",
    "price_cwt",
    "net_per_head",
    "gain_per_head",
    "gain_per_acre",
    "value_of_gain_per_lb",
    "cost_of_gain_per_lb",
    "odds",
    "p10",
    "p50",
    "p90",
    "breakeven",
}


def only(comparison, month="2027-02"):
    return next(option for option in comparison.groups[0].keep if option.sale_month == month)


def test_budget_equals_a_sum_by_hand():
    option = only(compare(certain(), small_plan()))
    days = (date(2027, 2, 15) - date(2026, 10, 14)).days
    weight = 520 + 1.8 * days
    price_now, price = 360 * math.exp(0.10 * 0.30), 360 * math.exp(-0.10 * (weight - 550) / 100)
    now = 520 * 0.97 * price_now / 100 * 0.97 - 5.0
    sold = weight * 0.97 * price / 100 * 0.97 - 5.0
    cash = 1.6 * days + 20
    interest = 0.08 * days / 365 * (now + cash / 2)
    keep = 0.98 * sold - cash - interest
    assert option.days == days
    assert option.weight_lb == pytest.approx(weight)
    assert option.price_cwt == pytest.approx(price)
    assert option.net_per_head == pytest.approx(keep, abs=1e-9)
    assert option.budget_gain_per_head == pytest.approx(keep - now, abs=1e-9)
    assert option.gain_herd == pytest.approx(50 * option.gain_per_head)
    assert option.value_of_gain_per_lb == pytest.approx(
        0.97 * (weight * price - 520 * price_now) / 100 / (1.8 * days)
    )
    assert option.cost_of_gain_per_lb == pytest.approx((cash + interest) / (1.8 * days))


def test_no_spread_reproduces_the_budget_exactly():
    still = {"draws": 200, "vary": []}
    plan = small_plan(
        risk=still, programs=changed_program(pasture=PASTURE), groups=changed_group(weight_sd_lb=30.0)
    )
    for option in compare(make_outlook(), plan).groups[0].keep:
        assert option.p10 == option.p50 == option.p90
        assert option.p50 == pytest.approx(option.gain_per_head, abs=1e-9)
        assert option.worst5_mean == pytest.approx(option.gain_per_head, abs=1e-9)


def test_median_of_draws_is_close_to_the_budget():
    for option in compare(make_outlook(), small_plan(risk={"draws": 20_000})).groups[0].keep:
        assert option.p50 == pytest.approx(option.budget_gain_per_head, abs=15)
        assert option.p10 < option.p50 < option.p90
        assert option.worst5_mean < option.p10


def test_odds_equal_the_normal_formula_where_only_the_price_walks():
    outlook = certain(walk=0.05)
    risk = {"draws": 20_000, "vary": ["price"]}
    plan = small_plan(risk=risk, groups=changed_group(bid_cwt=370.0))
    case = group_case(outlook, plan, plan.groups[0])
    for option in compare(outlook, plan).groups[0].keep:
        even = next(each for each in option.breakevens if each.name == "later_bid_cwt").value
        months = outlook.months_ahead([option.sale_date])[0] - outlook.months_ahead([case.weaning])[0]
        odds = ndtr(math.log(option.price_cwt / even) / (0.05 * math.sqrt(months)))
        assert option.odds == pytest.approx(odds, abs=1e-3)
        middle = option.price_cwt * math.exp(-1.2815515655 * 0.05 * math.sqrt(months))
        assert option.price_low_cwt == pytest.approx(middle, rel=0.003)


def test_a_bid_makes_selling_now_certain_and_carries_to_later_prices():
    plan = small_plan(groups=changed_group(bid_cwt=340.0))
    group = compare(make_outlook(), plan).groups[0]
    assert group.sell_now.price_cwt == pytest.approx(340.0)
    assert group.sell_now.p10 == pytest.approx(group.sell_now.net_per_head)
    option = group.keep[0]
    carried = group.bid.to_market + group.bid.to_calves
    expected = math.log(group.bid.expected_cwt) + carried * math.log(340.0 / group.bid.expected_cwt)
    along = math.exp(expected - 0.10 * (option.weight_lb - 520) / 100)
    assert option.price_cwt == pytest.approx(along, rel=0.003)
    assert 0.2 < carried < 0.9
    without = compare(make_outlook(), small_plan()).groups[0]
    assert without.sell_now.p10 < without.sell_now.net_per_head < without.sell_now.p90


def test_the_same_seed_gives_the_same_answer_and_another_nearly_so():
    first, again = (compare(make_outlook(), small_plan()) for _ in range(2))
    assert first == again
    other = compare(make_outlook(), small_plan(risk={"draws": 10_000, "seed": 8}))
    third = compare(make_outlook(), small_plan(risk={"draws": 10_000, "seed": 9}))
    for one, two in zip(other.groups[0].keep, third.groups[0].keep, strict=True):
        assert one.p50 != two.p50
        assert one.mean == pytest.approx(two.mean, abs=1.0)
        assert one.odds == pytest.approx(two.odds, abs=0.02)


def test_document_holds_the_agreed_keys_and_is_json():
    document = json_of(compare(make_outlook(), small_plan(programs=changed_program(pasture=PASTURE))))
    text = json.loads(json.dumps(document, allow_nan=False))
    group = text["groups"][0]
    assert {"group", "sell_now", "keep", "best"} <= set(group)
    assert "net_per_head" in group["sell_now"]
    assert set(group["keep"][0]) >= JSON_KEYS
    names = {
        "later_bid_cwt",
        "gain_lb_day",
        "days",
        "sale_price_cwt",
        "cost_head_day",
        "slide_pct_cwt",
        "forage_lb_acre",
    }
    assert names | {"death_loss_pct", "bid_cwt"} == set(group["keep"][0]["breakeven"])


def test_unseen_months_and_heavy_weights_are_left_out_with_the_reason():
    plan = small_plan(programs=changed_program(gain_lb_day=2.5, latest_off="2027-03-01"))
    group = compare(make_outlook(unseen=(12,)), plan).groups[0]
    reasons = {each.sale_month: each.reason for each in group.unavailable}
    assert "December" in reasons["2026-12"]
    assert reasons["2027-03"] == "the program ends 2027-03-01"
    assert {option.sale_month for option in group.keep} == {"2026-11", "2027-01", "2027-02"}
    heavy = compare(make_outlook(), small_plan(programs=changed_program(gain_lb_day=4.0))).groups[0]
    assert any("outside the weights seen" in each.reason for each in heavy.unavailable)


@pytest.mark.parametrize(
    ("outlook", "plan", "said"),
    [
        (make_outlook(unseen=(10,)), small_plan(), "October"),
        (make_outlook(), small_plan(groups=changed_group(weight_lb=1100.0)), "outside the weights"),
        (make_outlook(), small_plan(groups=changed_group(sex="bull")), "no prices for sex"),
        (make_outlook(), small_plan(groups=changed_group(muscle="3")), "no prices for grade"),
        (make_outlook(unseen=(11, 12, 1, 2, 3)), small_plan(), "no program can be compared"),
    ],
)
def test_what_the_outlook_does_not_know_is_refused(outlook, plan, said):
    with pytest.raises(OutlookError, match=said):
        compare(outlook, plan)


def test_unseen_months_are_refused_with_the_word_that_allows_them():
    group = compare(make_outlook(unseen=(12,)), small_plan()).groups[0]
    (reason,) = (each.reason for each in group.unavailable)
    assert "no sale in December" in reason
    with pytest.raises(OutlookError, match="unseen_months"):
        compare(make_outlook(unseen=(10,)), small_plan())


def test_unseen_months_are_allowed_when_told_with_a_wider_range_and_said():
    plan = small_plan(risk={"draws": 2000, "unseen_months": True})
    seen, unseen = compare(make_outlook(), plan), compare(make_outlook(unseen=(2,)), plan)
    for month in ("2027-01", "2027-02"):
        before, after = (only(each, month) for each in (seen, unseen))
        assert after.price_cwt == pytest.approx(before.price_cwt)
        wider = math.log(after.price_high_cwt / after.price_low_cwt) / math.log(
            before.price_high_cwt / before.price_low_cwt
        )
        assert wider > 1.05 if month == "2027-02" else wider == pytest.approx(1.0)
    assert any("No sale was ever seen in February" in note and "5%" in note for note in unseen.notes)
    assert not any("ever seen" in note for note in seen.notes)
    weaned = compare(make_outlook(unseen=(10,)), plan)
    assert any("ever seen in October" in note for note in weaned.notes)


def test_weights_beyond_the_data_are_allowed_when_told():
    plan = small_plan(groups=changed_group(weight_lb=960.0), risk={"draws": 200, "beyond_data": True})
    assert compare(make_outlook(), plan).groups[0].keep


def test_room_caps_the_head_and_what_is_short_is_said():
    program = changed_program(cost_head_day=0.0, pasture={**PASTURE, "acres": 40.0})
    option = only(compare(make_outlook(), small_plan(programs=program)))
    assert option.head_kept == int(40.0 * option.pasture.head_per_acre)
    assert 0 < option.head_kept < 50
    assert option.gain_herd == pytest.approx(option.gain_per_head * option.head_kept)
    assert option.gain_per_acre == pytest.approx(option.gain_per_head * option.pasture.head_per_acre)
    assert any("room for" in note for note in option.notes)
    assert any("more than are at hand" in note for note in option.notes)


def test_two_groups_that_crowd_one_pen_are_told():
    groups = [*changed_group(), {**changed_group()[0], "name": "more"}]
    plan = small_plan(groups=groups, programs=changed_program(pens_head=60, cost_head_day=0.1))
    comparison = compare(make_outlook(), plan)
    assert any("holds 60" in note for note in comparison.notes)
    assert comparison.herd.head == 100
    assert comparison.herd.gain == pytest.approx(sum(g.best.gain_herd for g in comparison.groups))
    assert comparison.herd.p10 < comparison.herd.p50 < comparison.herd.p90


def test_best_is_sell_now_when_every_gain_is_negative_and_close_calls_are_told():
    dear = compare(make_outlook(), small_plan(programs=changed_program(cost_head_day=6.0))).groups[0]
    assert dear.best.choice == "sell now"
    assert not dear.best.too_close
    outlook, cost = make_outlook(), 1.6
    for _ in range(12):
        group = compare(outlook, small_plan(programs=changed_program(cost_head_day=cost))).groups[0]
        top = max(group.keep, key=lambda option: option.gain_per_head)
        cost += top.gain_per_head / top.days
    assert abs(top.gain_per_head) < 1
    assert group.best.too_close


def test_weekly_dates_and_lists_of_months():
    weekly = {"weaning": "2026-10-14", "first_sale": "2026-11", "last_sale": "2026-12", "every_week": True}
    keep = compare(make_outlook(), small_plan(dates=weekly)).groups[0].keep
    gaps = {(b.sale_date - a.sale_date).days for a, b in itertools.pairwise(keep)}
    assert gaps == {7}
    assert len(keep) == 9
    some = {"weaning": "2026-10-14", "sales": ["2027-02", "2026-12"], "sale_day": 3}
    keep = compare(make_outlook(), small_plan(dates=some)).groups[0].keep
    assert [option.sale_date for option in keep] == [date(2026, 12, 3), date(2027, 2, 3)]


def test_old_outlooks_and_early_dates_are_told():
    late = compare(make_outlook(as_of=date(2026, 11, 20)), small_plan())
    assert any("Dates before 2026-11-20" in note for note in late.notes)
    old = compare(make_outlook(as_of=date(2026, 3, 1)), small_plan())
    assert any("days older" in note for note in old.notes)


def test_contract_sets_the_price_and_the_floor_holds_it():
    contract = {"price_cwt": 300.0, "base_weight_lb": 700.0, "slide_cwt": 8.0, "months": ["2027-02"]}
    plan = small_plan(selling={"shrink_pct": 3.0, "contract": contract})
    comparison = compare(make_outlook(), plan)
    option = only(comparison)
    assert option.price_cwt == pytest.approx(300 - 8 * max(option.pay_weight_lb - 700, 0) / 100)
    assert only(comparison, "2027-01").price_cwt != 300.0
    assert (
        next(b for b in option.breakevens if b.name == "slide_pct_cwt").reason
        == "the contract sets the price"
    )
    floor = {"shrink_pct": 3.0, "floor": {"floor_cwt": 300.0, "cost_cwt": 6.0}}
    held = only(compare(make_outlook(), small_plan(selling=floor)))
    free = only(compare(make_outlook(), small_plan(selling={"shrink_pct": 3.0})))
    assert held.price_low_cwt == pytest.approx(300.0)
    assert held.p10 > free.p10
    assert held.p90 < free.p90


def test_a_spread_of_weights_is_priced_calf_by_calf():
    weights = [440.0, 520.0, 600.0]
    plan = small_plan(groups=[{"name": "s", "sex": "steer", "head": 3, "weights_lb": weights}])
    group = compare(certain(), plan).groups[0]
    each = [w * 360 * math.exp(-0.10 * (w - 550) / 100) * 0.97 / 100 for w in weights]
    at_mean = 520 * 360 * math.exp(0.03) * 0.97 / 100
    assert group.sell_now.mix_per_head == pytest.approx(np.mean(each) - at_mean)
    assert group.sell_now.mix_per_head < 0


@given(
    gain=st.floats(0.5, 2.5),
    more=st.floats(0.0, 0.5),
    cost=st.floats(0.0, 3.0),
    dearer=st.floats(0.0, 2.0),
    interest=st.floats(1.0, 15.0),
    death=st.floats(0.2, 5.0),
)
@settings(max_examples=10, deadline=None)
def test_monotone(gain, more, cost, dearer, interest, death):
    outlook = certain(slide_cwt=0.0)
    risk = {"draws": 100, "vary": [], "beyond_data": True}

    def gains(gain_lb_day, cost_head_day, death_loss_pct=death):
        program = changed_program(
            gain_lb_day=gain_lb_day, cost_head_day=cost_head_day, death_loss_pct=death_loss_pct
        )
        plan = small_plan(programs=program, money={"interest_pct": interest}, risk=risk)
        return np.array([option.gain_per_head for option in compare(outlook, plan).groups[0].keep])

    base = gains(gain, cost)
    assert np.all(gains(gain + more, cost) >= base - 1e-9)
    assert np.all(gains(gain, cost + dearer) <= base + 1e-9)
    assert np.all(gains(gain, cost, death + 1.0) <= base + 1e-9)


@given(
    weight=st.floats(350, 800), cost=st.floats(0, 5), share=st.floats(0.5, 6), sd=st.sampled_from([0.0, 30.0])
)
@settings(max_examples=12, deadline=None)
def test_zero_days_equals_selling_now(weight, cost, share, sd):
    program = changed_program(death_loss_pct=0.0, health_head=0.0, cost_head_day=cost)
    selling = {"commission_pct": share, "yardage_head": 3.0}
    plan = small_plan(
        programs=program, selling=selling, groups=changed_group(weight_lb=weight, weight_sd_lb=sd)
    )
    outlook = make_outlook()
    case = group_case(outlook, plan, plan.groups[0])
    option, _ = build_option(plan, case, plan.programs[0], case.weaning + timedelta(days=1))
    same_day = option.budget.values(
        {**option.inputs, "days": 1e-12, "sale_mix": case.start_mix},
        lambda weight, day: case.start_line.price_cwt(weight),
    )
    assert float(same_day["gain_per_head"]) == pytest.approx(0.0, abs=1e-6)
    assert float(same_day["net_later"]) == pytest.approx(case.net_now)


@pytest.mark.parametrize("head", [1, 10, 400])
def test_head_scales_the_herd_and_nothing_else(head):
    plan = small_plan(groups=changed_group(head=head), risk={"draws": 100, "vary": []})
    group = compare(certain(), plan).groups[0]
    fifty = compare(certain(), small_plan(risk={"draws": 100, "vary": []})).groups[0]
    for one, other in zip(group.keep, fifty.keep, strict=True):
        assert one.gain_per_head == pytest.approx(other.gain_per_head)
        assert one.gain_herd == pytest.approx(other.gain_herd * head / 50)


def test_doubling_prices_and_costs_doubles_the_money():
    plan = raw_plan(risk={"draws": 100, "vary": []})
    twice = raw_plan(risk={"draws": 100, "vary": []})
    twice["programs"] = changed_program(cost_head_day=3.2, health_head=40.0)
    twice["selling"] = {"commission_pct": 3.0, "yardage_head": 8.0, "shrink_pct": 3.0, "checkoff_head": 2.0}
    one = compare(certain(price_550=200.0), build_plan(plan)).groups[0]
    two = compare(certain(price_550=400.0), build_plan(twice)).groups[0]
    for a, b in zip(one.keep, two.keep, strict=True):
        assert b.gain_per_head == pytest.approx(2 * a.gain_per_head)


def test_wrong_numbers_would_be_seen():
    outlook = certain()
    steeper = replace(outlook, log_level=outlook.log_level + 0.01)
    plan = small_plan()
    assert only(compare(outlook, plan)).net_per_head != pytest.approx(
        only(compare(steeper, plan)).net_per_head, abs=5.0
    )


def test_each_phase_has_its_own_acres():
    phases = [
        {"days": 60, "gain_lb_day": 1.0, "pasture": {**PASTURE, "acres": 500.0}},
        {"gain_lb_day": 1.5, "pasture": {**PASTURE, "acres": 20.0}},
    ]
    program = changed_program(phases=phases)
    del program[0]["gain_lb_day"]
    keep = compare(make_outlook(), small_plan(programs=program)).groups[0].keep
    assert keep[0].head_kept == 50
    assert 0 < keep[-1].head_kept < 50


def test_large_groups_are_priced_in_lots():
    outlook = replace(make_outlook(), head_slope=0.03)
    prices = [
        compare(outlook, small_plan(groups=changed_group(head=head))).groups[0].sell_now.price_cwt
        for head in (50, 100, 900)
    ]
    assert prices[0] < prices[1] == prices[2]


@pytest.mark.parametrize(("day", "open_on"), [(14, False), (15, False), (16, True)])
def test_a_program_is_open_from_the_day_after_it_opens(day, open_on):
    """Calves sold on the first day have been on it for none."""
    program = changed_program(earliest_on="2026-11-15", wait_cost_head_day=0.5, wait_gain_lb_day=0.4)
    dates = {"weaning": "2026-10-14", "sales": ["2026-11", "2026-12"], "sale_day": day}
    group = compare(certain(), small_plan(programs=program, dates=dates)).groups[0]
    november = [each for each in group.keep if each.sale_month == "2026-11"]
    assert bool(november) == open_on
    for each in november:
        assert each.weight_lb == pytest.approx(520 + 32 * 0.4 + 1 * 1.8)
    assert open_on or group.unavailable[0].reason == "the program opens 2026-11-15"
