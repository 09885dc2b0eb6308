"""The robust refit: as statsmodels has it, unmoved by misprints, and naming the lots that pull.

The slide year by year, and grade discounts that jump."""

import numpy as np
import pytest

from slidefit.market.fit.candidates import recipe_for
from slidefit.market.fit.chunk_passes import chunks
from slidefit.market.fit.slide_fit import fit_slide
from slidefit.market.fit.stability import (
    GradeJump,
    YearSlide,
    disagreements,
    fit_robust,
    grade_jumps,
    robust_notes,
    year_notes,
    year_slides,
)
from tests.market.coded import lots_of
from tests.market.simulate import Truth, simulate, true_percent


def fit_of(records):
    lots = lots_of(records)
    return lots, fit_slide(lots, recipe=recipe_for(lots, kind="quadratic", harmonics=1, level=True))


@pytest.fixture(scope="module")
def spoiled():
    """A sixth of the heavy heifers are priced 28 percent low: outliers, but no gross errors."""
    records = simulate(31, sales=150, lots=16, days_between=21).records
    heavy = (records["sex"] == "heifer") & (records["weight_lb"] > 620)
    records.loc[heavy & (records.index % 6 == 0), "price_cwt"] *= 0.72
    return records


def test_same_as_statsmodels_with_a_dummy_for_every_sale():
    """statsmodels.RLM, Huber's T, scale by the median absolute deviation, on root-weighted rows with sale dummies."""
    import statsmodels.api as sm

    records = simulate(32, sales=40, lots=30, days_between=60).records
    records.loc[records.index % 17 == 0, "price_cwt"] *= 0.85
    lots, slide = fit_of(records)
    within = slide.within
    (chunk,) = chunks(
        lots.take(~np.isin(np.arange(len(lots)), within.dropped)), within.recipe, within.level, within.spread
    )
    dummies = (chunk.sale[:, None] == np.unique(chunk.sale)).astype(float)
    root = np.sqrt(chunk.row_weight)[:, None]
    other = sm.RLM(
        chunk.y * root[:, 0], np.hstack([chunk.X, dummies]) * root, M=sm.robust.norms.HuberT()
    ).fit(tol=1e-10, maxiter=200)
    ours = fit_robust(lots, within)
    assert ours.coef == pytest.approx(other.params[: chunk.X.shape[1]], abs=3e-4)
    assert ours.trust[np.isfinite(ours.error)] == pytest.approx(other.weights, abs=1e-2)


def test_outlying_lots_are_held_back_and_named(spoiled):
    lots, slide = fit_of(spoiled)
    robust = fit_robust(lots, slide.within)
    price = spoiled.sort_values("sale_date", kind="stable")["price_cwt"].to_numpy()
    assert np.allclose(np.exp(lots.log_price), price)
    order = spoiled.sort_values("sale_date", kind="stable")
    hurt = ((order["sex"] == "heifer") & (order["weight_lb"] > 620) & (order.index % 6 == 0)).to_numpy()
    assert robust.trust[hurt & np.isfinite(robust.error)].mean() < 0.7 < 0.9 < robust.trust[~hurt].mean()
    found = disagreements(slide.within, robust, slide.model)
    heavy = [gap for gap in found if gap.sex == "heifer" and gap.weight_lb == 650.0]
    assert heavy and heavy[0].main < heavy[0].robust
    assert sum(hurt[list(heavy[0].rows)]) >= 3
    note = robust_notes(robust, tuple(heavy))[0]
    assert "heifers around 650 lb" in note and "Birch Landing, heifer" in note and "at $" in note


def test_on_clean_lots_the_two_agree(drawn):
    lots, slide = fit_of(drawn.records)
    robust = fit_robust(lots, slide.within)
    assert disagreements(slide.within, robust, slide.model) == ()
    assert robust.coef == pytest.approx(slide.within.solution.coef, abs=0.02)


def test_of_many_lots_whole_sales_are_drawn_and_that_is_said(spoiled, monkeypatch):
    lots, slide = fit_of(spoiled)
    monkeypatch.setattr("slidefit.market.fit.stability.MOST_ROWS", 1_200)
    robust = fit_robust(lots, slide.within)
    few = robust.drawn.lots
    assert 0 < few.sales < lots.sales and robust.of_lots == len(lots) == 2_400
    np.testing.assert_array_equal(few.sale_rows, lots.sale_rows[robust.drawn.sale])
    np.testing.assert_array_equal(few.log_price, lots.log_price[robust.drawn.row])
    again = fit_robust(lots, slide.within)
    np.testing.assert_array_equal(again.coef, robust.coef)
    found = disagreements(slide.within, robust, slide.model)
    assert any(gap.sex == "heifer" and gap.weight_lb == 650.0 for gap in found)
    said, told = robust_notes(robust, found)[:2]
    assert f"in {few.sales:,} whole sales drawn at random, {len(few):,} of 2,400 lots" in said
    assert "heifer" in told
    assert "do not bend the slide" in robust_notes(robust, ())[0]


@pytest.fixture(scope="module")
def wandering():
    return simulate(21, truth=Truth(drift_year_sd=0.02), sales=225, lots=16, days_between=14)


def test_each_year_has_its_own_slide(wandering):
    lots, slide = fit_of(wandering.records)
    years = year_slides(lots, slide.within, slide.model)
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
    years = year_slides(lots, slide.within, slide.model)
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
    assert 2019 not in [y.crop_year for y in year_slides(lots, slide.within, slide.model)]


def test_words_name_the_extremes():
    low = YearSlide(2018, 100, 10, 160.0, 8.0, 7.0, 9.0, 0.01)
    high = YearSlide(2022, 100, 10, 220.0, 12.0, 11.0, 13.0, -0.01)
    (note,) = year_notes((low, high), ())
    assert "lowest 8.0% per cwt (2018-19, at $160/cwt); highest 12.0% per cwt (2022-23, at $220/cwt)" in note
    (note,) = year_notes((), (GradeJump("ML 2", 2022, np.log(0.9), np.log(0.8)),))
    assert "grade ML 2 went from 10 to 20 percent in 2022-23" in note
