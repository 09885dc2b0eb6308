"""A forward price in the plan: what it moves, what it leaves alone, and how the answer says so."""

import math
from datetime import timedelta

import numpy as np
import pytest
from outlooks import make_outlook
from plans import changed_group, raw_plan, small_plan

from slidefit.decision.comparison import compare
from slidefit.decision.risk.answer_changes import flip
from slidefit.decision.risk.sorting import sort_by_weight
from slidefit.errors import OutlookError, PlanError
from slidefit.plan.plan_file import build_plan, parse_plan, write_plan

SEASON = 0.04 * np.cos(2 * np.pi * (np.arange(12) - 3) / 12)


def plan_with(*prices, draws=20_000, **group):
    forward = [dict(zip(("month", "weight_lb", "price_cwt"), each, strict=True)) for each in prices]
    return small_plan(
        groups=changed_group(forward=forward, **group),
        risk={"draws": draws, "seed": 7, "gain_forage_corr": 0.0},
    )


def option(plan, month="2027-02", **outlook):
    keep = compare(make_outlook(season=SEASON, **outlook), plan).groups[0].keep
    return next(each for each in keep if each.sale_month == month)


@pytest.mark.parametrize("bid", [None, 390.0])
def test_the_outlooks_own_price_moves_nothing(bid):
    plain = option(plan_with(bid_cwt=bid))
    same = option(plan_with(("2027-02", plain.weight_lb, plain.price_cwt), bid_cwt=bid))
    assert same.price_cwt == pytest.approx(plain.price_cwt, rel=1e-9)
    assert same.budget_gain_per_head == pytest.approx(plain.budget_gain_per_head, abs=1e-6)
    assert same.mean == pytest.approx(plain.mean, abs=1.5)
    assert same.odds == pytest.approx(plain.odds, abs=0.01)


@pytest.mark.parametrize("bid", [None, 390.0])
def test_the_price_typed_is_the_price_at_its_weight_and_month(bid):
    plain = option(plan_with(bid_cwt=bid))
    bent = option(plan_with(("2027-02", plain.weight_lb, 1.05 * plain.price_cwt), bid_cwt=bid))
    assert bent.price_cwt == pytest.approx(1.05 * plain.price_cwt)
    more = 0.97 * 0.97 * 0.98 * plain.weight_lb * 0.05 * plain.price_cwt / 100
    if bid is not None:
        assert bent.budget_gain_per_head - plain.budget_gain_per_head == pytest.approx(more, rel=1e-6)


def test_months_between_rest_on_it_in_proportion_and_later_ones_in_full():
    plain, bent = plan_with(bid_cwt=390.0), None
    keep = {o.sale_month: o for o in compare(make_outlook(season=SEASON), plain).groups[0].keep}
    at = keep["2027-01"]
    bent = plan_with(("2027-01", at.weight_lb, 1.10 * at.price_cwt), bid_cwt=390.0)
    found = {o.sale_month: o for o in compare(make_outlook(season=SEASON), bent).groups[0].keep}
    moved = {m: math.log(found[m].price_cwt / keep[m].price_cwt) / math.log(1.10) for m in keep}
    days = {m: keep[m].days for m in keep}
    expected = {m: min(days[m] / days["2027-01"], 1.0) for m in keep}
    assert moved == pytest.approx(expected, abs=1e-9)


def test_the_slides_error_between_the_weights_drops_out_and_no_more():
    """The level stays as unsure as before; the weight no longer has to be carried along an unsure slide."""
    wide = {"slide_sd": 0.04, "walk": 0.04, "drift": 0.0, "level_sd": 0.0, "noise": 0.0}
    plain = option(plan_with(), **wide)
    same = option(plan_with(("2027-02", plain.weight_lb, plain.price_cwt)), **wide)
    before, after = (math.log(o.price_high_cwt / o.price_low_cwt) / 2.5631 for o in (plain, same))
    walked = 0.04 * math.sqrt((plain.days + 2) / (365.25 / 12))
    assert before > 1.2 * walked and after == pytest.approx(walked, rel=1e-4)
    plain, same = (
        option(plan_with(*prices), slide_sd=0.0)
        for prices in ([], [("2027-02", plain.weight_lb, plain.price_cwt)])
    )
    assert same.price_high_cwt - same.price_low_cwt == pytest.approx(
        plain.price_high_cwt - plain.price_low_cwt
    )
    assert (same.p10, same.p90) == pytest.approx((plain.p10, plain.p90), abs=3.0)


@pytest.mark.parametrize(
    ("walk", "share", "sd"), [(0.0, 1.0, 0.05), (0.01, 1.0, 0.05), (0.04, 1.0, None), (0.0, 0.5, 0.025)]
)
def test_a_price_typed_for_later_is_never_surer_than_the_basis(walk, share, sd):
    """Where the outlook would be surer (the market holds still): five percent, the spread of cash less futures, in its
    month and in proportion before; a wider walk stays as it is. Draws spread by it too."""
    still = {"walk": walk, "drift": 0.0, "level_sd": 0.0, "slide_sd": 0.0, "noise": 0.0}
    plain = option(plan_with(draws=16_384), **still)
    start = small_plan().dates.weaning
    month = "2027-02" if share == 1.0 else f"{start + timedelta(2 * plain.days):%Y-%m}"
    bent = option(plan_with((month, plain.weight_lb, plain.price_cwt), draws=16_384), **still)
    found = math.log(bent.price_high_cwt / bent.price_low_cwt) / 2.5631
    own = math.log(plain.price_high_cwt / plain.price_low_cwt) / 2.5631
    assert found == pytest.approx(own if sd is None else sd, rel=0.03)
    check = 0.98 * 0.97 * 0.97 * plain.weight_lb * plain.price_cwt / 100.0
    wider = (bent.p90 - bent.p10) ** 2 - (plain.p90 - plain.p10) ** 2
    assert wider == pytest.approx((2.5631 * check) ** 2 * (found**2 - own**2), rel=0.06, abs=30.0)


def test_the_herds_draws_spread_by_it_too():
    still = make_outlook(walk=0.0, drift=0.0, level_sd=0.0, slide_sd=0.0, noise=0.0)
    forward = [{"month": "2027-02", "weight_lb": 740.0, "price_cwt": 400.0}]
    plan = small_plan(
        groups=changed_group(forward=forward),
        dates={"weaning": "2026-10-14", "sales": ["2027-02"]},
        risk={"draws": 16_384, "seed": 7},
    )
    answer = compare(still, plan)
    option = answer.groups[0].keep[0]
    assert option.gain_per_head > 0.0
    assert answer.herd.p90 - answer.herd.p10 == pytest.approx(50 * (option.p90 - option.p10), rel=0.03)


def test_a_price_that_the_plan_holds_stays_held():
    forward = [{"month": "2027-02", "weight_lb": 740.0, "price_cwt": 350.0}]
    held = option(small_plan(groups=changed_group(forward=forward), risk={"draws": 100, "vary": ["gain"]}))
    assert held.price_low_cwt == pytest.approx(held.price_high_cwt)


def test_the_answer_says_that_it_rests_on_the_price_typed():
    group = compare(make_outlook(), plan_with(("2027-02", 740, 500.0))).groups[0]
    (told,) = [note for note in group.notes if "rest on" in note]
    assert "the price typed for February 2027: $500.00/cwt at 740 lb, where the records say $" in told
    assert "outside the records' 95 percent range" in told
    assert not any("rest on" in note for note in compare(make_outlook(), plan_with()).groups[0].notes)


def test_one_groups_price_leaves_the_others_alone():
    both = [*changed_group(), *changed_group(name="others")]
    plain = compare(make_outlook(), small_plan(groups=both))
    both[0] = {**both[0], "forward": [{"month": "2027-02", "weight_lb": 740, "price_cwt": 400.0}]}
    bent = compare(make_outlook(), small_plan(groups=both))
    assert [o.price_cwt for o in bent.groups[1].keep] == [o.price_cwt for o in plain.groups[1].keep]
    assert bent.groups[0].keep[-1].price_cwt != pytest.approx(plain.groups[0].keep[-1].price_cwt)


def test_flips_and_sorting_go_by_it():
    outlook = make_outlook()
    plan = plan_with(("2027-02", 743.2, 400.0), draws=2000)
    (found,) = flip(outlook, plan, sale_month="2027-02")
    price = next(s for s in found.swings if s.name == "sale_price")
    assert price.planned == pytest.approx(400.0, rel=1e-4)
    slide = next(s for s in found.swings if s.name == "slide")
    plain = next(s for s in flip(outlook, plan_with(), sale_month="2027-02")[0].swings if s.name == "slide")
    assert slide.swing < 1.0 < plain.swing
    best = max(r.gain_per_head for r in sort_by_weight(outlook, plan, "steers").rows)
    assert best > max(r.gain_per_head for r in sort_by_weight(outlook, plan_with(), "steers").rows)


def test_it_is_written_and_read_back():
    plan = plan_with(("2027-02", 740, 400.0), ("2027-03", 780, 390.0))
    assert "[[groups.forward]]" in write_plan(plan)
    assert parse_plan(write_plan(plan)) == plan


@pytest.mark.parametrize(
    ("prices", "said"),
    [
        ([("2026-09", 600, 350.0)], r"groups\[1\].forward\[1\].month.*not after weaning"),
        ([("2027-02", 600, 350.0), ("2027-02", 700, 340.0)], r"forward\[2\].month.*given twice"),
        ([("2027-02", 600, 3.5)], r"groups\[1\].forward\[1\].price_cwt"),
        ([("spring", 600, 350.0)], r"year and month in quotes"),
    ],
)
def test_faults_are_placed(prices, said):
    with pytest.raises(PlanError, match=said):
        plan_with(*prices)


def test_a_weight_beyond_the_records_is_refused():
    with pytest.raises(OutlookError, match="1,100 lb is outside the weights seen"):
        compare(make_outlook(), plan_with(("2027-02", 1100, 300.0)))
    raw = raw_plan(
        groups=changed_group(forward=[{"month": "2027-02", "weight_lb": 1100, "price_cwt": 300.0}])
    )
    raw["risk"] = {**raw["risk"], "beyond_data": True}
    assert compare(make_outlook(), build_plan(raw)).groups[0].keep
