from datetime import date

import pytest
from outlooks import certain
from plans import changed_program, small_plan

from slidefit.decision.comparison import compare
from slidefit.decision.energy import (
    BULL_MAINTENANCE,
    LB_PER_KG,
    SHRUNK_SHARE,
    energy_check,
    energy_gain_lb_day,
    final_weight_lb,
)
from slidefit.decision.growth import stretches_of

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
