import pytest
from outlooks import make_outlook
from plans import PASTURE, changed_group, changed_program, small_plan

from slidefit.decision.comparison import compare

SUMMER = {"weaning": "2026-10-14", "sales": ["2027-01", "2027-07"]}


def said(**changes):
    return " ".join(compare(make_outlook(), small_plan(**changes)).cautions)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("sorghum", ("nitrate", "prussic acid")),
        ("cereal", ("bloat", "grass tetany")),
        ("legume", ("bloat",)),
        ("grass", ("grass tetany",)),
    ],
)
def test_forage_brings_its_own_caution(kind, words):
    on_pasture = said(programs=changed_program(pasture={**PASTURE, "kind": kind}))
    feed = [{"name": "hay", "kind": kind, "lb_day": 10.0, "price_ton": 120.0}]
    for text in (on_pasture, said(programs=changed_program(ration=feed))):
        for word in words:
            assert word in text
        assert "extension office" in text


def test_cautions_fit_the_plan():
    text = said()
    assert "not a promise" in text
    assert "withdrawal time" in text
    for word in ("prussic", "bloat", "tetany", "hot weather"):
        assert word not in text
    assert "hot weather" in said(dates=SUMMER, programs=changed_program(gain_lb_day=1.0))


def test_what_is_left_out_is_named():
    comparison = compare(make_outlook(), small_plan(money={"interest_pct": 0.0}))
    assert "labor" in comparison.left_out
    assert "interest on the calves' value" in comparison.left_out
    paid = changed_program(labor_head_day=0.2, pasture={**PASTURE, "rent_acre": 0.0})
    two = compare(make_outlook(), small_plan(programs=[*paid, *changed_program(name="free")]))
    assert "labor (free)" in two.left_out
    assert "land (no rent is charged)" in two.left_out


def test_every_default_is_listed():
    plan = small_plan(selling={}, money={})
    used = {each.field: each.value for each in compare(make_outlook(), plan).defaults_used}
    assert used["selling: commission_pct"] == "3.0"
    assert used["selling: shrink_pct"] == "3.0"
    assert used["selling: checkoff_head"] == "1.0"
    assert used["money: interest_pct"] == "8.0"
    assert used["groups 'steers': frame"] == "ML"
    assert any("labor_head_day" in field and value == "0" for field, value in used.items())
    given = small_plan(selling={"commission_head": 20.0, "hours_hauled": 3.0})
    used = {each.field for each in compare(make_outlook(), given).defaults_used}
    assert used.isdisjoint({"selling: commission_pct", "selling: shrink_pct"})


def test_defaults_without_a_part_are_not_listed():
    used = {each.field for each in compare(make_outlook(), small_plan()).defaults_used}
    assert used.isdisjoint({"selling: load_lb", "risk: gain_forage_corr"})
    hauled = {"freight_loaded_mile": 5.0, "miles": 40.0}
    grazed = small_plan(selling=hauled, programs=changed_program(pasture=PASTURE))
    used = {each.field for each in compare(make_outlook(), grazed).defaults_used}
    assert {"selling: load_lb", "risk: gain_forage_corr"} <= used


def test_the_other_use_of_the_land_is_weighed():
    program = changed_program(pasture={**PASTURE, "alternative_acre": 400.0}, cost_head_day=0.0)
    notes = compare(make_outlook(), small_plan(programs=program)).groups[0].keep[0].notes
    assert any("less than the $400" in note for note in notes)


def test_the_bid_is_held_against_the_outlook():
    group = compare(make_outlook(), small_plan(groups=changed_group(bid_cwt=360.0))).groups[0]
    assert any("(3.0%) under the market's price for such calves" in note for note in group.notes)
