from datetime import date

import numpy as np
import pytest
from outlooks import certain
from plans import PASTURE, changed_program, raw_plan, small_plan

from slidefit.decision.comparison import compare
from slidefit.decision.growth import longest_days, stretches_of, wait_days, weight_at_sale
from slidefit.decision.plan_reading import build_plan
from slidefit.decision.pricing import price_line

WEANING = date(2026, 10, 14)
PHASES = [
    {"name": "trap", "days": 30, "gain_lb_day": 0.5, "cost_head_day": 1.2},
    {"name": "cereal", "days": 60, "gain_lb_day": 2.0, "pasture": PASTURE},
    {"name": "lot", "gain_lb_day": 2.6, "ration": [{"name": "corn", "lb_day": 10.0, "price_ton": 160.0}]},
]


def phased(**changes):
    program = changed_program(phases=PHASES, cost_head_day=0.0, slump_lb=15.0, **changes)
    del program[0]["gain_lb_day"]
    return program


def test_weight_runs_through_the_phases():
    program = small_plan(programs=phased()).programs[0]
    stretches = stretches_of(program, WEANING, 500.0, 120)
    assert [each.days for each in stretches] == [30, 60, 30]
    assert [each.start_lb for each in stretches] == [485.0, 500.0, 620.0]
    assert weight_at_sale(stretches, 500.0, 15.0) == pytest.approx(500 - 15 + 15 + 120 + 78)
    assert [each.days for each in stretches_of(program, WEANING, 500.0, 45)] == [30, 15]
    assert longest_days(program, WEANING) is None


def test_phases_cost_what_each_costs():
    option = compare(certain(), small_plan(programs=phased())).groups[0].keep[-1]
    lines = {line.label: -line.amount_per_head for line in option.lines if line.kind == "cost"}
    lot_days = option.days - 90
    assert lines["feed, trap"] == pytest.approx(36.0)
    assert lines["feed, corn"] == pytest.approx(lot_days * 10 * 160 / 2000)
    mean = 520 - 15 + 15 + 60
    assert lines["pasture, cereal"] == pytest.approx(60 * 120 / (3000 * 0.5 / (0.025 * mean)))
    assert option.pasture.head_per_acre == pytest.approx(3000 * 0.5 / (0.025 * mean) / 60)


def test_calves_wait_for_a_program_that_opens_later():
    program = changed_program(earliest_on="2026-11-13", wait_cost_head_day=1.0, wait_gain_lb_day=0.4)
    plan = small_plan(programs=program)
    assert wait_days(plan.programs[0], WEANING) == 30
    stretches = stretches_of(plan.programs[0], WEANING, 500.0, 50)
    assert [(each.label, each.days, each.gain_lb_day) for each in stretches] == [
        ("waiting", 30, 0.4),
        ("yard", 20, 1.8),
    ]
    assert stretches[0].cost_head_day == 1.0
    late = changed_program(earliest_on="2026-12-20", wait_cost_head_day=1.0)
    group = compare(certain(), small_plan(programs=late)).groups[0]
    assert {each.sale_month for each in group.unavailable} == {"2026-11", "2026-12"}
    assert all("opens 2026-12-20" in each.reason for each in group.unavailable)


def test_phases_that_end_bound_the_stay():
    ended = phased(latest_off="2027-06-01")
    ended[0]["phases"] = [*PHASES[:2], {**PHASES[2], "days": 10}]
    plan = small_plan(programs=ended)
    assert longest_days(plan.programs[0], WEANING) == 100
    group = compare(certain(), plan).groups[0]
    assert {each.sale_month for each in group.unavailable} == {"2027-02", "2027-03"}


def test_more_gain_eats_more_pasture():
    raw = raw_plan(programs=changed_program(pasture=PASTURE, cost_head_day=0.0))
    plan = build_plan(raw)
    slow, fast = (
        stretches_of(plan.programs[0].model_copy(update={"gain_lb_day": gain}), WEANING, 500.0, 100)[0]
        for gain in (1.8, 1.9)
    )
    assert fast.acres_head - slow.acres_head == pytest.approx(0.1 * slow.acres_slope)


def test_uneven_curves_read_like_even_ones():
    plan = small_plan()
    line = price_line(certain(), plan.groups[0], WEANING, WEANING)
    assert line.step_lb == 25.0
    weights = line.weights_lb
    bent = type(line)(weights**1.01, line.log_cwt, line.slide_run)
    assert bent.step_lb is None
    at = np.array([100.0, 251.0, 612.3, 999.0, 1500.0])
    for each in (line, bent):
        log_cwt, run = each.read(at)
        assert log_cwt == pytest.approx(np.interp(at, each.weights_lb, each.log_cwt))
        assert run == pytest.approx(np.interp(at, each.weights_lb, each.slide_run))
