"""The choice among slides."""

from dataclasses import replace

import numpy as np
import pytest

from slidefit.market.choose import choose, ladder
from slidefit.market.coding import lots_of
from slidefit.market.gates import Rung, rung_of
from tests.market.simulate import Truth, simulate

TOP = Rung("spline", 2, True, ())


def chosen_for(truth, seed=31, sales=110):
    lots = lots_of(simulate(seed, truth=truth, sales=sales, lots=16, days_between=13).records)
    return choose(lots, TOP)


FLAT = Truth(
    curves=(("steer", (0.0, -0.11, 0.0)), ("heifer", (-0.09, -0.08, 0.0))),
    slope_season=(0.0, 0.0),
    level_slope=0.0,
)


def test_a_straight_market_is_not_given_a_season():
    recipe, table = chosen_for(FLAT)
    assert recipe.season_harmonics == 0
    assert sum(c.chosen for c in table) == 1


def test_a_seasonal_slide_is_seen():
    recipe, _ = chosen_for(replace(FLAT, slope_season=(-0.03, 2.0)))
    assert recipe.season_harmonics >= 1


def test_a_bend_is_seen():
    bent = replace(FLAT, curves=(("steer", (0.0, -0.11, 0.03)), ("heifer", (-0.09, -0.08, 0.03))))
    recipe, _ = chosen_for(bent)
    assert recipe.curves[0].kind != "straight"


def test_the_simplest_within_one_standard_error_is_taken():
    _, table = chosen_for(Truth())
    assert [c.columns for c in table] == sorted(c.columns for c in table)
    best = min(c.excess for c in table)
    assert best == pytest.approx(0.0, abs=1e-9)
    place = next(i for i, c in enumerate(table) if c.chosen)
    assert table[place].excess <= table[place].excess_se + 1e-9
    assert all(c.excess > c.excess_se for c in table[:place])
    assert all(0.02 < c.error < 0.12 for c in table)


def test_the_choice_is_the_same_every_time():
    one, two = chosen_for(Truth()), chosen_for(Truth())
    assert one == two


@pytest.mark.parametrize(
    ("rung", "models"),
    [(Rung("quadratic", 0, False, ()), 2), (Rung("spline", 0, False, ()), 4), (Rung("spline", 1, True, ()), 8),
     (TOP, 12)],
)  # fmt: skip
def test_the_ladder_holds_what_the_rung_allows(rung, models):
    lots = lots_of(simulate(3, sales=60, lots=20, days_between=13).records)
    offered = ladder(lots, rung)
    assert len(offered) == models == len({label for label, _ in offered})
    assert max(r.season_harmonics for _, r in offered) == rung.harmonics
    assert {r.level for _, r in offered} == {rung.level}  # the price level is not left to chance


def test_held_out_error_is_that_of_new_sales():
    """The error told for the chosen model is near the true spread of a lot about its sale's mean."""
    truth = Truth()
    _, table = chosen_for(truth, sales=150)
    lots = lots_of(simulate(31, truth=truth, sales=150, lots=16, days_between=13).records)
    typical = np.sqrt(np.mean(truth.lot_sd**2 + truth.calf_sd**2 / lots.head)) * np.sqrt(15 / 16)
    assert next(c.error for c in table if c.chosen) == pytest.approx(typical, rel=0.06)
    assert rung_of(lots).curve == "spline"
