"""What records of each size are allowed, and how thin cells are pooled."""

import numpy as np
import pandas as pd
import pytest

from slidefit.market.coding import lots_of
from slidefit.market.gates import (
    _grade_cells,
    recipe_for,
    rung_of,
    span_months,
    standard_grade,
    unseen_months,
)
from tests.market.simulate import Truth, simulate


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
    rung = rung_of(lots(sales, each, between))
    assert (rung.curve, rung.harmonics, rung.level) == (curve, harmonics, level)
    assert said in " ".join(rung.reasons)
    assert bool(rung.reasons) == bool(said)


def test_a_quarter_never_seen_shuts_the_season():
    whole = simulate(4, sales=150, lots=12, days_between=10).records
    months = whole["sale_date"].dt.month
    rung = rung_of(lots_of(whole[~months.isin([4, 5, 6])]))
    assert rung.harmonics == 0 and rung.level
    assert "a quarter of the year was never seen" in rung.reasons[0]
    assert rung_of(lots_of(whole[~months.isin([4, 5])])).harmonics == 2


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
