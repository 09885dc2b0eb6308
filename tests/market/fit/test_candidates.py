"""The choice among slides.

What records of each size are allowed, and how thin cells are pooled."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from slidefit.market.fit.candidates import (
    Eligibility,
    _grade_cells,
    candidate_models,
    choose,
    eligibility_of,
    recipe_for,
    simplest_good,
    span_months,
    standard_grade,
    unseen_months,
)
from tests.market.coded import lots_of
from tests.market.simulate import Truth, simulate

TOP = Eligibility("spline", 2, True, ())


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


@pytest.mark.parametrize(("gap", "taken"), [(0.9, 0), (0.99, 0), (1.01, 1), (1.9, 1)])
def test_a_gap_just_within_one_standard_error_is_taken_and_just_over_is_not(gap, taken):
    """Ten folds whose gaps have mean ``gap`` and standard deviation root of ten: one standard error is exactly 1."""
    spread = np.tile([1.0, -1.0], 5) * np.sqrt(9.0)
    losses = np.vstack([5.0 + gap + spread, np.full(10, 5.0)])
    mean, gap_se, place = simplest_good(losses, np.ones(10))
    assert (mean[0] - mean[1], gap_se[0], place) == (pytest.approx(gap), pytest.approx(1.0), taken)


def test_the_choice_is_the_same_every_time():
    one, two = chosen_for(Truth()), chosen_for(Truth())
    assert one == two


@pytest.mark.parametrize(
    ("rung", "models"),
    [
        (Eligibility("quadratic", 0, False, ()), 2),
        (Eligibility("spline", 0, False, ()), 4),
        (Eligibility("spline", 1, True, ()), 8),
        (TOP, 12),
    ],
)  # fmt: skip
def test_the_ladder_holds_what_the_rung_allows(rung, models):
    lots = lots_of(simulate(3, sales=60, lots=20, days_between=13).records)
    offered = candidate_models(lots, rung)
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
    assert eligibility_of(lots).curve == "spline"


def lots(sales, each, between, **kwargs):
    return lots_of(simulate(3, sales=sales, lots=each, days_between=between, **kwargs).records)


@pytest.mark.parametrize(
    ("sales", "each", "between", "curve", "harmonics", "level", "said"),
    [
        (9, 60, 7, "pulled", 0, False, "too few to stand alone"),
        (40, 7, 14, "pulled", 0, False, "280 lots in 40 sales"),
        (20, 16, 7, "quadratic", 0, False, "320 lots over 4 months"),
        (90, 11, 14, "quadratic", 0, False, "a season takes 1,000 lots"),
        (60, 30, 4, "quadratic", 0, False, "over 8 months"),
        (54, 30, 7, "spline", 1, False, "not tied to the price level"),
        (19, 60, 40, "spline", 2, False, "not tied to the price level"),
        (60, 20, 13, "spline", 2, True, ""),
    ],
)  # fmt: skip
def test_the_rungs(sales, each, between, curve, harmonics, level, said):
    rung = eligibility_of(lots(sales, each, between))
    assert (rung.curve, rung.harmonics, rung.level) == (curve, harmonics, level)
    assert said in " ".join(rung.reasons)
    assert bool(rung.reasons) == bool(said)


def test_a_quarter_never_seen_shuts_the_season():
    whole = simulate(4, sales=150, lots=12, days_between=10).records
    months = whole["sale_date"].dt.month
    rung = eligibility_of(lots_of(whole[~months.isin([4, 5, 6])]))
    assert rung.harmonics == 0 and rung.level
    assert "a quarter of the year was never seen" in rung.reasons[0]
    assert eligibility_of(lots_of(whole[~months.isin([4, 5])])).harmonics == 2


def test_months_seen_and_spanned():
    some = lots(5, 4, 30, first="2020-01-10")
    assert unseen_months(some) == (6, 7, 8, 9, 10, 11, 12)
    assert span_months(some) == pytest.approx(120 / 30.4375)


@pytest.mark.parametrize(
    ("grades", "rows", "cells"),
    [
        (("ML 1", "ML 2"), (900, 100), ["ML 1", "ML 2"]),
        (("ML 1", "ML 2"), (900, 99), ["ML 1", "other"]),
        (("ML 1", "ML 2", "M 2"), (900, 60, 60), ["ML 1", "other 2", "other 2"]),
        (("ML 1", "ML 2", "M 3"), (900, 60, 60), ["ML 1", "other", "other"]),
        (("ML 1",), (40,), ["ML 1"]),
    ],
)
def test_thin_grades_are_pooled_by_muscle_and_then_altogether(grades, rows, cells):
    assert _grade_cells(grades, np.array(rows), "ML 1") == cells


def test_the_standard_grade_is_the_commonest_where_medium_and_large_1_is_rare():
    truth = Truth(grades=(("ML 1", 0.0, 0.03), ("ML 2", -0.1, 0.97)))
    assert standard_grade(lots(60, 20, 13, truth=truth)) == "ML 2"
    assert standard_grade(lots(60, 20, 13)) == "ML 1"


@pytest.mark.parametrize(
    ("bulls", "curve"),
    [(30, "straight"), (99, "straight"), (100, "quadratic"), (299, "quadratic"), (300, "spline")],
)
def test_a_sex_gets_the_curve_that_its_rows_bear(bulls, curve):
    records = simulate(8, sales=100, lots=16, days_between=13).records
    records.loc[: bulls - 1, "sex"] = "bull"
    recipe = recipe_for(lots_of(records), kind="spline", columns=4)
    kinds = dict(zip(recipe.sexes, (c.kind for c in recipe.curves), strict=True))
    assert kinds == {"steer": "spline", "heifer": "spline", "bull": curve}


def test_traits_need_rows_on_both_sides_and_no_age():
    records = simulate(9, sales=50, lots=10).records
    for word, rows in (("fleshy", 30), ("thin", 29), ("calves", 200), ("reported", 480)):
        records.loc[: rows - 1, "traits"] += f";{word}"
    assert recipe_for(lots_of(records), kind="straight").traits == ("fleshy",)


def test_head_needs_most_rows():
    records = simulate(10, sales=20, lots=10).records
    some = records.assign(head=np.where(records.index < 110, np.nan, records["head"]))
    assert not recipe_for(lots_of(some), kind="straight").head
    assert recipe_for(lots_of(records), kind="straight").head


def test_every_grade_of_the_records_has_a_place():
    records = simulate(12, sales=40, lots=20).records
    records.loc[:4, ["frame", "muscle"]] = ["S", "3"]
    records.loc[5:7, ["frame", "muscle"]] = ["", ""]
    found = lots_of(pd.DataFrame(records))
    recipe = recipe_for(found, kind="quadratic")
    assert len(recipe.grade_of) == len(found.grades)
    assert recipe.grades[0] == "ML 1" and recipe.grades[recipe.grade_of[found.grades.index("S 3")]] == "other"
