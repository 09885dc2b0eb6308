"""Grades that the records don't hold: stood in for and told, or refused with what there is."""

from __future__ import annotations

from dataclasses import replace

import pytest
from outlooks import certain
from plans import changed_group, small_plan

from slidefit.decision.comparison import compare
from slidefit.errors import OutlookError
from slidefit.market.outlook import GradeOffset

PLAIN = certain()


def test_records_without_grades_price_every_grade_alike_and_say_so() -> None:
    ungraded = replace(PLAIN, grades={"": GradeOffset(0.0)})
    told = compare(ungraded, small_plan()).groups[0]
    same = compare(PLAIN, small_plan()).groups[0]
    assert told.keep[0].gain_per_head == pytest.approx(same.keep[0].gain_per_head, abs=1e-9)
    assert any("name no grades" in note for note in told.notes)
    assert not any("grades" in note for note in same.notes)
    fancy = compare(ungraded, small_plan(groups=changed_group(frame="L", muscle="1-2"))).groups[0]
    assert fancy.sell_now.price_cwt == pytest.approx(told.sell_now.price_cwt)


def test_the_usual_grade_stands_for_the_standard_one_where_records_lack_it() -> None:
    other = replace(PLAIN, grades={"M 1": GradeOffset(0.0), "M 2": GradeOffset(-0.10)})
    told = compare(other, small_plan()).groups[0]
    assert any("too few ML 1 calves: these are priced as M 1" in note for note in told.notes)
    second = compare(other, small_plan(groups=changed_group(frame="M", muscle="2"))).groups[0]
    assert second.sell_now.price_cwt < 0.91 * told.sell_now.price_cwt


def test_another_grade_that_is_not_there_is_refused_with_the_group_and_the_grades_there_are() -> None:
    some = replace(PLAIN, grades={"": GradeOffset(0.0), "M 1": GradeOffset(-0.01)})
    with pytest.raises(OutlookError) as fault:
        compare(some, small_plan(groups=changed_group(frame="S", muscle="4")))
    assert "group 'steers'" in str(fault.value) and "M 1, not graded" in str(fault.value)
