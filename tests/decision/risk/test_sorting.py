from dataclasses import replace

import numpy as np
import pytest
from outlooks import WEIGHTS, certain
from plans import changed_group, changed_program, small_plan

from slidefit.decision.choices import find_option
from slidefit.decision.comparison import compare
from slidefit.decision.options import group_case, sale_dates
from slidefit.decision.risk.sorting import best_split, sort_by_weight

LISTED = [430.0, 470.0, 520.0, 560.0, 640.0, 700.0]


def group_of(weights):
    return [{"name": "steers", "sex": "steer", "head": len(weights), "weights_lb": weights}]


def test_the_light_half_stays_when_the_slide_is_steep():
    plan = small_plan(groups=group_of(LISTED), programs=changed_program(cost_head_day=1.2))
    sorting = sort_by_weight(certain(slide_cwt=0.12), plan, "steers")
    assert sorting.keep_side == "lighter"
    assert sorting.threshold_lb is not None
    assert sorting.kept_head == sum(weight < sorting.threshold_lb for weight in LISTED)
    assert 0 < sorting.kept_head < len(LISTED)
    assert sorting.value_of_sorting > 0
    assert sorting.sorted_gain == pytest.approx(sorting.all_alike + sorting.value_of_sorting)
    for row in sorting.rows:
        assert (row.choice != "sell now") == (row.gain_per_head > 0)


@pytest.mark.parametrize("weight", [450.0, 600.0])
def test_a_row_is_the_comparison_of_such_calves(weight):
    plan = small_plan(groups=group_of(LISTED))
    outlook = certain(slide_cwt=0.08)
    row = next(row for row in sort_by_weight(outlook, plan, "steers").rows if row.weight_lb == weight)
    alone = small_plan(groups=changed_group(weight_lb=weight, head=len(LISTED)))
    best = find_option(compare(outlook, alone), "steers")
    assert row.gain_per_head == pytest.approx(best.gain_per_head)


def test_no_threshold_when_all_weights_agree():
    plan = small_plan(programs=changed_program(cost_head_day=8.0))
    sorting = sort_by_weight(certain(), plan, "steers")
    assert sorting.threshold_lb is None
    assert sorting.keep_side == ""
    assert sorting.kept_head == sorting.value_of_sorting == sorting.all_alike == 0.0
    closed = small_plan(programs=changed_program(latest_off="2026-10-20"))
    assert sort_by_weight(certain(), closed, "steers").rows == ()


def test_sorting_never_costs():
    for slide in np.linspace(0.0, 0.2, 6):
        plan = small_plan(groups=changed_group(weight_sd_lb=60.0))
        assert sort_by_weight(certain(slide_cwt=float(slide)), plan, "steers").value_of_sorting >= -1e-9


def test_the_heavy_half_stays_where_the_slide_ends_with_weight_and_its_head_are_counted():
    outlook = certain(slide_cwt=0.0)
    bent = np.where(WEIGHTS < 640.0, -0.16 * (WEIGHTS - 550.0) / 100.0, -0.144)
    steers = replace(outlook.curves["steer"], log_relative=np.tile(bent, (12, 1)))
    outlook = replace(outlook, curves={**outlook.curves, "steer": steers})
    weights = [430.0, 640.0, 660.0, 680.0, 700.0, 720.0]
    plan = small_plan(groups=group_of(weights), programs=changed_program(cost_head_day=2.4))
    sorting = sort_by_weight(outlook, plan, "steers")
    assert sorting.keep_side == "heavier"
    assert sorting.threshold_lb is not None and 430.0 < sorting.threshold_lb < 640.0
    assert sorting.kept_head == 5.0


def test_a_split_counts_what_two_smaller_lots_bring_less():
    """By hand: those kept are sold later in a lot of their own head; those sold now lose by theirs."""
    outlook = replace(certain(slide_cwt=0.12), head_slope=0.03)
    shared = {"programs": changed_program(cost_head_day=1.2), "money": {"interest_pct": 0.0}}
    dates = {"weaning": "2026-10-14", "sales": ["2027-01"]}
    plan = small_plan(groups=group_of(LISTED), dates=dates, **shared)
    case = group_case(outlook, plan, plan.groups[0])
    split = best_split(plan, case, plan.programs[0], sale_dates(plan)[0])

    def alone(head):
        calves = changed_group(weight_lb=split.kept_lb, head=head)
        return compare(outlook, small_plan(groups=calves, dates=dates, **shared)).groups[0]

    kept, share = alone(split.kept_head), split.kept_head / 6
    gain = kept.keep[0].gain_per_head + kept.sell_now.net_per_head - alone(6).sell_now.net_per_head
    assert split.gain_head == pytest.approx(share * gain - split.lot_cost_head)
    check = case.group.mean_weight_lb * case.start_price_cwt / 100 * case.start_mix
    lost = (1 - share) * check * (1 - ((6 - split.kept_head) / 6) ** 0.03)
    assert split.lot_cost_head == pytest.approx(lost)
