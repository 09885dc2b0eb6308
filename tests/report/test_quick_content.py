"""The answer to the quick question in sentences and tables."""

from __future__ import annotations

import pytest

from slidefit.decision.quick import quick_answer
from slidefit.report.document import TypedTable
from slidefit.report.json_answers import json_of
from slidefit.report.quick_content import headline, quick_content, typed

# Rasby, University of Nebraska, November 2015: 550 lb at $230 to 750 lb at $190 adds $160, $0.80 a pound
ASKED = {
    "weight_lb": 550.0,
    "price_cwt": 230.0,
    "to_weight_lb": 750.0,
    "later_price_cwt": 190.0,
    "days": 100.0,
}


def test_the_sentences_say_gain_slide_and_what_a_pound_is_worth() -> None:
    told = " ".join(headline(quick_answer({**ASKED, "cost_head_day": 1.0})))
    assert "keeping gains $60 a head" in told  # $160 less 100 days at $1
    assert "550 to 750 lb" in told and "worth $0.80 and costs $0.50" in told
    assert told.startswith("Typed prices; not from your records.")
    assert "keeping loses $40 a head" in headline(quick_answer({**ASKED, "cost_head_day": 2.0}))[0]


def test_the_budget_adds_up_and_leaves_out_lines_of_nothing() -> None:
    answer = quick_answer({**ASKED, "cost_head_day": 1.0})
    budget = next(part for part in quick_content(answer).parts if isinstance(part, TypedTable))
    amounts = {str(row.cells[0].value): row.cells[-1].value for row in budget.rows}
    assert "checkoff" not in amounts and 0.0 not in amounts.values()
    assert amounts["net of selling at weaning"] == pytest.approx(1265.0)  # 5.50 cwt x $230
    assert amounts["calf sold later"] == pytest.approx(1425.0)  # 7.50 cwt x $190
    assert json_of(answer)["grid"] is None


def test_a_number_has_its_unit_and_none_is_said() -> None:
    assert typed(190.0, "$/cwt") == "$190.00/cwt" and typed(None, "lb") == "none within reach"
