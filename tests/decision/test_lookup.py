import pytest
from outlooks import make_outlook
from plans import changed_program, small_plan

from slidefit.decision.comparison import compare
from slidefit.decision.lookup import find_option, months_of
from slidefit.errors import SlidefitError

TWO = [*changed_program(), *changed_program(name="cheap", cost_head_day=0.4, latest_off="2027-01-01")]


@pytest.fixture(scope="module")
def comparison():
    return compare(make_outlook(unseen=(12,)), small_plan(programs=TWO))


def test_each_month_shows_its_best_program(comparison):
    rows = months_of(comparison)
    assert [row.sale_month for row in rows] == ["2026-11", "2027-01", "2027-02", "2027-03"]
    assert rows[0].program == "cheap"
    assert {row.program for row in rows[1:]} == {"yard"}
    assert sum(row.is_best for row in rows) == 1
    best = next(row for row in rows if row.is_best)
    assert best.gain_herd == max(row.gain_herd for row in rows)


def test_an_option_is_found_by_name(comparison):
    option = find_option(comparison, "steers", "yard", "2027-02")
    assert (option.program, option.sale_month) == ("yard", "2027-02")
    assert find_option(comparison, "steers").gain_herd == max(k.gain_herd for k in comparison.groups[0].keep)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("steer",), "Did you mean 'steers'"),
        (("steers", "yrd"), "Did you mean 'yard'"),
        (("steers", "yard", "2026-12"), "no sale in December"),
        (("steers", "cheap", "2027-02"), "the program ends"),
        (("steers", "yard", "2031-02"), "no month of sale"),
    ],
)
def test_wrong_words(comparison, asked, said):
    with pytest.raises(SlidefitError, match=said):
        find_option(comparison, *asked)
