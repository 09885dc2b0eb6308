"""Sentences made in one place: what they say, and what they leave out where there is nothing to say."""

from __future__ import annotations

from datetime import date

import pytest
from example_comparison import an_option
from example_flips import SWINGS, a_flip, a_sorting

from slidefit.decision.results import EnergyCheck, PastureUse, Unavailable
from slidefit.market.fit.slide_model import ErrorRule
from slidefit.market.outlook import OutlookBasis
from slidefit.report import sentences as s


def test_what_prices_rest_on_counts_and_names_up_to_three_markets() -> None:
    basis = OutlookBasis("sale records", 1200, 9000, 1, ("Birch", ""), date(2024, 1, 5), date(2026, 10, 2))
    told = s.basis_line(basis)
    assert told.startswith(
        "1,200 lots (9,000 head) in 1 sale at Birch and a market without a name, Jan 5, 2024"
    )
    many = OutlookBasis("x", 5, 0, 2, ("a", "b", "c", "d"), date(2024, 1, 5), date(2026, 10, 2))
    assert "head not given" in s.basis_line(many) and "at 4 markets" in s.basis_line(many)
    assert s.verdict_line("") == "" and s.verdict_line("enough") == "Records behind the prices: enough."


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("crop year", "t with 8 degrees"),
        ("sale", "2 times"),
        ("lot and region", "the region's"),
        ("lot", "the usual"),
    ],
)
def test_how_intervals_were_made(kind: str, said: str) -> None:
    assert said in s.errors_line(ErrorRule(kind, 9, 2.0))  # type: ignore[arg-type]


def test_pasture_and_energy_have_units_and_acres_only_where_known() -> None:
    use = PastureUse(61.4, 0.98, 1.834, 33.2, None, None)
    assert "available" not in s.pasture_line(use) and "$0.98 per head per day" in s.pasture_line(use)
    assert "33 acres needed, 40 available" in s.pasture_line(PastureUse(61.4, 0.98, 1.834, 33.2, 40.0, None))
    assert "2.05 lb a day; the plan says 2.50 lb" in s.energy_line(EnergyCheck(2.051, 2.5, 12.0, True))


def test_nothing_to_say_is_nothing_said() -> None:
    assert s.left_out_line(()) == "" and s.defaults_line(()) == ""
    told = s.defaults_line([("a", "0", ""), ("b", "3%", ""), ("c", "0", "")])
    assert told.endswith("b 3%. Counted as zero: a; c.") and "None" not in told
    assert s.capital("") == "" and s.sentence("why?") == "Why?"


def test_a_gain_has_value_and_cost_only_where_weight_is_put_on() -> None:
    whole = an_option("grass", 2026, 12, 84.126)
    assert s.gain_line(whole) == (
        "Gain from keeping: +$84.13 a head. Value of gain $1.62 a pound, cost of gain $0.88 a pound."
    )
    bare = an_option("grass", 2026, 12, -20.0, value_of_gain_per_lb=None)
    assert s.gain_line(bare) == "Gain from keeping: -$20.00 a head."
    assert "8 times in 10 between" in s.bar_words(whole)
    away = s.unavailable_line(Unavailable("grass", "2027-01", "the grass is gone"))
    assert away == "Not compared: grass, January 2027: the grass is gone."


def test_what_flips_the_answer_is_told_with_the_plans_own_number() -> None:
    assert s.flip_line(a_flip()).startswith("This alone changes the answer: price at sale at $316/cwt")
    assert s.flip_line(a_flip(SWINGS[1])) == "No single number changes the answer within its likely range."
    assert "sorting gains nothing" in s.sorting_line(a_sorting(None))
    assert "keep calves lighter than 565 lb at weaning (about 27 head)" in s.sorting_line(a_sorting())
