from datetime import date

import numpy as np
import pytest
from outlooks import certain
from plans import PASTURE, changed_program, small_plan

from slidefit.decision.comparison import compare
from slidefit.decision.growth import (
    BULL_MAINTENANCE,
    LB_PER_KG,
    SHRUNK_SHARE,
    energy_check,
    energy_gain_lb_day,
    final_weight_lb,
    longest_days,
    stretches_of,
    wait_days,
)
from slidefit.decision.options import group_case

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


def test_days_that_lie_behind_are_left_out():
    program = small_plan(programs=phased()).programs[0]
    rest = stretches_of(program, WEANING, 560.0, 60, kept=60)
    assert [(each.label, each.first_day, each.days) for each in rest] == [("cereal", 0, 30), ("lot", 30, 30)]
    assert [each.start_lb for each in rest] == [560.0, 620.0]
    waits = changed_program(earliest_on="2026-11-13", wait_cost_head_day=1.0, wait_gain_lb_day=0.4)
    program = small_plan(programs=waits).programs[0]
    rest = stretches_of(program, WEANING, 505.0, 30, kept=20)
    assert [(each.label, each.days, each.waits) for each in rest] == [
        ("waiting", 10, True),
        ("yard", 20, False),
    ]


def test_uneven_curves_read_like_even_ones():
    plan = small_plan()
    line = group_case(certain(), plan, plan.groups[0]).start_line
    assert line.step_lb == 25.0
    weights = line.weights_lb
    bent = type(line)(weights**1.01, line.log_cwt, line.slide_run, line.carry)
    assert bent.step_lb is None
    at = np.array([100.0, 251.0, 612.3, 999.0, 1500.0])
    for each in (line, bent):
        log_cwt, run = each.read(at)
        assert log_cwt == pytest.approx(np.interp(at, each.weights_lb, each.log_cwt))
        assert run == pytest.approx(np.interp(at, each.weights_lb, each.slide_run))


SILAGE = {"dry_matter_pct": 35.0, "nem_mcal_lb": 0.74, "neg_mcal_lb": 0.47}


@pytest.mark.parametrize("weight_kg", [200.0, 300.0, 400.0])
@pytest.mark.parametrize("gain_kg", [0.5, 1.0, 1.4])
def test_gain_inverts_the_retained_energy_of_the_book(weight_kg, gain_kg):
    """NRC 1996: RE = 0.0635 EqEBW^0.75 EBG^1.097, EBW = 0.891 SBW, EBG = 0.956 SWG: the same law, solved for RE.

    Read in public code of a farm model (Ruminant Farm Systems), whose heifers grow by the same council's equations.
    """
    retained = 0.0635 * (0.891 * weight_kg) ** 0.75 * (0.956 * gain_kg) ** 1.097
    maintenance = 0.077 * weight_kg**0.75
    weight = weight_kg * LB_PER_KG / SHRUNK_SHARE
    final = 478.0 * LB_PER_KG / SHRUNK_SHARE
    nem, neg = 0.75, 0.47
    dry = maintenance / nem + retained / neg
    ours = energy_gain_lb_day(weight, final, dry, nem, neg)
    assert ours == pytest.approx(gain_kg * LB_PER_KG / SHRUNK_SHARE, rel=0.012)


def test_bigger_frames_gain_more_on_the_same_feed():
    gains = [
        energy_gain_lb_day(650, final_weight_lb("steer", frame), 15, 0.75, 0.47) for frame in ("L", "M", "S")
    ]
    assert gains == sorted(gains, reverse=True)
    assert final_weight_lb("heifer", "M") < final_weight_lb("steer", "M") < final_weight_lb("bull", "M")


@pytest.mark.parametrize("weight_kg", [200.0, 350.0])
def test_gain_inverts_the_empty_body_form_too(weight_kg):
    """EBG = 12.341 EqEBW^-0.6837 RE^0.9116, EBW = 0.891 SBW and EBG = 0.956 SWG (R package beefnrc)."""
    retained = 3.0
    shrunk_gain = 12.341 * (0.891 * weight_kg) ** -0.6837 * retained**0.9116 / 0.956
    maintenance = 0.077 * weight_kg**0.75
    dry = maintenance / 0.75 + retained / 0.47
    full = LB_PER_KG / SHRUNK_SHARE
    assert energy_gain_lb_day(weight_kg * full, 478.0 * full, dry, 0.75, 0.47) == pytest.approx(
        shrunk_gain * full, rel=0.005
    )


def test_bulls_keep_up_at_a_higher_cost():
    ration = [{"name": "silage", "lb_day": 38.0, "price_ton": 55.0, **SILAGE}]
    stretch = stretches_of(
        small_plan(programs=changed_program(cost_head_day=0.0, ration=ration)).programs[0],
        date(2026, 10, 14),
        520.0,
        90,
    )
    bull, steer = (energy_check(stretch, sex, "ML").predicted_gain_lb_day for sex in ("bull", "steer"))
    same = energy_gain_lb_day(
        stretch[0].mean_lb, final_weight_lb("bull", "ML"), 38.0 * 0.35, 0.74, 0.47, BULL_MAINTENANCE
    )
    assert bull == pytest.approx(same)
    assert bull < energy_gain_lb_day(
        stretch[0].mean_lb, final_weight_lb("bull", "ML"), 38.0 * 0.35, 0.74, 0.47
    )
    assert steer > 0.0


@pytest.mark.parametrize(("gain", "hopeful"), [(1.2, False), (3.4, True)])
def test_a_plan_that_dreams_is_told(gain, hopeful):
    ration = [{"name": "silage", "lb_day": 38.0, "price_ton": 55.0, **SILAGE}]
    program = changed_program(gain_lb_day=gain, cost_head_day=0.0, ration=ration)
    option = compare(certain(), small_plan(programs=program)).groups[0].keep[0]
    assert option.energy is not None
    assert option.energy.too_hopeful == hopeful
    assert any("energy supports" in note for note in option.notes) == hopeful
    assert option.energy.dry_matter_lb_day == pytest.approx(38 * 0.35)


def test_no_check_without_energy_values_or_on_pasture():
    ration = [{"name": "silage", "lb_day": 38.0, "price_ton": 55.0}]
    program = changed_program(cost_head_day=0.0, ration=ration)
    assert compare(certain(), small_plan(programs=program)).groups[0].keep[0].energy is None
