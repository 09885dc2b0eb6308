import re

import numpy as np
import pytest
from outlooks import certain
from plans import PASTURE, changed_group, changed_program, small_plan

from slidefit.decision.comparison import compare
from slidefit.decision.risk.answer_changes import flip


def test_lines_add_up_to_the_totals():
    program = changed_program(
        cost_head_day=0.0,
        pasture=PASTURE,
        mineral_head_day=0.1,
        labor_head_day=0.2,
        ration=[{"name": "cubes", "lb_day": 2.0, "price_ton": 400.0, "waste_pct": 5.0}],
    )
    selling = {
        "commission_head": 20.0,
        "freight_loaded_mile": 5.0,
        "miles": 60.0,
        "floor": {"floor_cwt": 200.0, "cost_cwt": 5.0},
    }
    plan = small_plan(programs=program, selling=selling, groups=changed_group(weight_sd_lb=40.0))
    group = compare(certain(), plan).groups[0]
    now = [line for line in group.sell_now.lines if line.kind != "total"]
    assert sum(line.amount_per_head for line in now) == pytest.approx(group.sell_now.net_per_head)
    for option in group.keep:
        parts = sum(line.amount_per_head for line in option.lines if line.kind != "total")
        assert parts == pytest.approx(option.net_per_head)
        assert option.lines[-1].amount_per_head == pytest.approx(option.gain_per_head)
        spent = sum(each.amount_herd for each in option.cash)
        feed = -sum(
            line.amount_per_head
            for line in option.lines
            if line.label.split(",")[0] in {"feed", "pasture", "mineral", "labor", "health", "price floor"}
        )
        assert spent == pytest.approx(feed * option.head_kept)
        assert option.cash[-1].total_herd == pytest.approx(spent)


NUMBER = re.compile(r"-?\$?[\d,]*\d(?:\.\d+)?%?|[()/+]|\bx\b|\bless\b|\bplus\b|\bhalf of\b|=")


def worked(arithmetic):
    """Return what the arithmetic on a budget line comes to, read as a person would."""
    text = (
        arithmetic.split(" = ")[-1].replace("/cwt", " / 100").replace("an acre", "").replace("for waste", "")
    )
    words = {"x": "*", "less": "-", "half of": "0.5 *", "plus": "+"}
    parts = []
    for token in NUMBER.findall(text):
        if token in words:
            parts.append(words[token])
        elif token.endswith("%"):
            parts.append(f"{float(token[:-1]) / 100}")
        else:
            parts.append(token.replace("$", "").replace(",", ""))
    return eval(" ".join(parts))


def test_the_arithmetic_shown_comes_to_the_amount():
    program = changed_program(
        cost_head_day=0.3,
        pasture=PASTURE,
        labor_head_day=0.25,
        ration=[{"name": "cubes", "lb_day": 2.0, "price_ton": 400.0, "waste_pct": 5.0}],
    )
    selling = {
        "commission_pct": 3.0,
        "yardage_head": 4.0,
        "freight_loaded_mile": 5.5,
        "miles": 60.0,
        "floor": {"floor_cwt": 200.0, "cost_cwt": 5.0},
    }
    group = compare(certain(), small_plan(programs=program, selling=selling)).groups[0]
    lines = [line for line in (*group.sell_now.lines, *group.keep[-1].lines) if line.arithmetic]
    seen = 0
    for line in lines:
        if line.arithmetic == "once a head":
            continue
        text = line.arithmetic.replace("% of ", "% x ").replace(" a head", "")
        if line.label in ("what uncertainty adds or costs", "expected gain from keeping"):
            continue
        assert abs(worked(text)) == pytest.approx(abs(line.amount_per_head), rel=0.004, abs=0.02), line
        seen += 1
    assert seen >= 14


def test_two_pastures_are_added_up_and_their_other_use_is_their_mean():
    def phase(**changes):
        return {"gain_lb_day": 1.8, "pasture": {**PASTURE, **changes}}

    first = {**phase(acres=90.0, alternative_acre=50.0, forage_sd_pct=10.0), "days": 40}
    second = phase(acres=60.0, alternative_acre=110.0, forage_sd_pct=40.0)
    program = changed_program(cost_head_day=0.0, phases=[first, second])
    del program[0]["gain_lb_day"]
    plan = small_plan(programs=program)
    option = compare(certain(), plan).groups[0].keep[-1]
    assert option.pasture.acres_at_hand == 150.0
    assert option.pasture.alternative_acre == 80.0
    (swing,) = (each for each in flip(certain(), plan)[0].swings if each.name == "forage_yield")
    widest = np.exp(1.2816 * np.sqrt(np.log(1.0 + 0.4**2)))  # a year is poor on both: the wider spread
    assert swing.high / swing.planned == pytest.approx(widest, rel=1e-4)
