"""The whole fit, from tidy records to a slide, a season and words."""

import numpy as np
import pandas as pd
import pytest

import slidefit
from slidefit.errors import FitError
from slidefit.market.market_fit import fit_market
from tests.market.simulate import Truth, simulate, true_percent


def slides(fit, **asked):
    return fit.slide(**asked)["percent_per_cwt"].to_numpy(dtype=float)


@pytest.fixture(scope="module")
def small():
    return simulate(41, sales=70, lots=16, days_between=13).records


@pytest.fixture(scope="module")
def small_fit(small):
    return fit_market(small)


@pytest.mark.parametrize("sex", ["steer", "heifer"])
@pytest.mark.parametrize("weight", [450.0, 550.0, 650.0])
def test_the_true_slide_is_in_the_interval(fitted, truth, sex, weight):
    row = fitted.slide(sex=sex, weight_lb=weight).iloc[0]
    level = fitted.model.level_mean - np.log(truth.price_cwt)
    true = true_percent(truth, sex, weight, level=level)
    assert row["percent_low"] < true < row["percent_high"]
    assert row["percent_high"] - row["percent_low"] < 3.0
    today = true_percent(truth, sex, weight, level=level + fitted.model.level_now)
    assert row["percent_today_low"] < today < row["percent_today_high"]


def test_the_true_season_is_found(fitted, truth):
    size, peak = truth.season
    wave = size * np.cos(2 * np.pi * (np.arange(12) - peak) / 12)
    table = fitted.season()
    assert table["index"].mean() == pytest.approx(100.0)
    np.testing.assert_allclose(np.log(table["index"] / 100.0), wave, atol=0.03)


def test_what_the_fit_says_of_itself(fitted, drawn):
    assert fitted.basis.lots == len(drawn.records)
    assert fitted.basis.sales == 225
    assert fitted.basis.first_sale == drawn.records["sale_date"].min().date()
    assert fitted.basis.last_sale == drawn.records["sale_date"].max().date()
    assert fitted.model.rule.kind == "crop year" and fitted.model.rule.groups == 9
    assert fitted.slide_fit.left_out == 0 and fitted.basis.markets == ("Birch Landing",)
    assert sum(c.chosen for c in fitted.slide_fit.candidates) == 1


def test_the_order_of_rows_changes_nothing(small, small_fit):
    again = fit_market(small.sample(frac=1.0, random_state=8))
    np.testing.assert_allclose(slides(again), slides(small_fit), rtol=1e-8)
    assert again.notes == small_fit.notes


def test_prices_in_another_unit_shift_the_index_and_nothing_else(small, small_fit):
    dearer = fit_market(small.assign(price_cwt=small["price_cwt"] * 1.35))
    np.testing.assert_allclose(slides(dearer), slides(small_fit), rtol=1e-7)
    np.testing.assert_allclose(dearer.season()["index"], small_fit.season()["index"], atol=0.05)
    lift = dearer.outlook().log_level - small_fit.outlook().log_level
    assert lift == pytest.approx(np.log(1.35), abs=1e-3)
    ratio = dearer.slide()["dollars_per_cwt_per_cwt"] / small_fit.slide()["dollars_per_cwt_per_cwt"]
    np.testing.assert_allclose(ratio, 1.35, rtol=1e-6)


def test_a_market_that_rises_between_sales_does_not_leak_into_the_slide():
    """Calves grow heavier through the autumn while prices climb 30 percent: the slide must not see it."""
    still = Truth(
        season=(0.0, 3.0), slope_season=(0.0, 0.0), level_slope=0.0, walk_sd_month=0.0, trend_year=0.0
    )
    records = simulate(6, truth=still, sales=60, lots=40, days_between=6).records
    days = (records["sale_date"] - records["sale_date"].min()).dt.days
    share = days / days.max()
    climbing = records.assign(price_cwt=records["price_cwt"] * np.exp(0.3 * share))
    heavier = climbing[(climbing["weight_lb"] - 350.0) / 450.0 > share - 0.35]
    pooled = np.polyfit((heavier["weight_lb"] - 550.0) / 100.0, np.log(heavier["price_cwt"]), 1)[0]
    assert pooled > -0.08  # what the pooled lots would say
    fall = slides(fit_market(heavier), sex="steer", weight_lb=550.0)[0]
    assert fall == pytest.approx(true_percent(still, "steer", 550.0), abs=0.8)


def test_kilograms_given_as_pounds_are_another_market(small):
    """The unit is the reader's business; in kilograms, hardly a calf is inside 300 to 900 lb."""
    with pytest.raises(FitError, match="steer, heifer or bull of 300 to 900 lb"):
        fit_market(small[small["weight_lb"] < 600].assign(weight_lb=lambda d: d["weight_lb"] * 0.45359237))


def test_single_lot_sales_are_refused_in_words(small):
    singles = small.drop_duplicates("sale_date")
    with pytest.raises(FitError) as refused:
        fit_market(singles)
    assert f"no two of the {len(singles)} lots were sold at the same market on the same day" in str(
        refused.value
    )
    assert "name the market" in str(refused.value.remedy)


def test_mixed_currencies_are_refused(small):
    with pytest.raises(FitError, match="different currencies"):
        fit_market(small.assign(currency=np.where(small.index % 2, "USD", "CAD")))


def test_months_only(small):
    monthly = small.assign(
        sale_date=small["sale_date"].dt.to_period("M").dt.to_timestamp(), date_precision="month"
    )
    fit = fit_market(monthly)
    assert fit.basis.sales == monthly["sale_date"].nunique()
    assert slides(fit, sex="steer", weight_lb=550.0)[0] == pytest.approx(11.0, abs=1.5)


def test_no_head_and_no_grades_are_said(small):
    bare = small.assign(head=np.nan, frame="", muscle="")
    fit = fit_market(bare)
    assert "most lots have no head count: all lots weigh the same" in fit.notes
    assert fit.outlook().head_slope == 0.0
    assert list(fit.grade_place) == [""]
    assert slides(fit, sex="steer", weight_lb=550.0)[0] == pytest.approx(11.0, abs=1.5)


def test_a_sex_with_few_lots_is_left_out_and_leaves_the_others_alone(small, small_fit):
    bulls = small[:29].assign(sex="bull", price_cwt=small["price_cwt"][:29] * 0.6)
    fit = fit_market(pd.concat([small, bulls], ignore_index=True))
    assert any("29 lots of bulls" in note for note in fit.notes)
    assert fit.model.recipe.sexes == ("steer", "heifer")
    np.testing.assert_allclose(slides(fit), slides(small_fit), rtol=1e-9)


def test_all_sexes_thin_keeps_the_commonest():
    records = simulate(9, sales=4, lots=12).records
    fit = fit_market(records)
    assert len(fit.model.recipe.sexes) == 1
    assert any("too few for a curve of their own" in note for note in fit.notes)


def test_thin_records_lean_on_the_usual_slide():
    steep = Truth(curves=(("steer", (0.0, -0.25, 0.0)), ("heifer", (-0.09, -0.25, 0.0))))
    nearly_nothing = fit_market(simulate(5, truth=steep, sales=2, lots=4).records)
    some = fit_market(simulate(5, truth=steep, sales=8, lots=30).records)
    first, second = (slides(f, sex="steer", weight_lb=550.0)[0] for f in (nearly_nothing, some))
    assert 9.5 < first < second < 22.0
    assert nearly_nothing.slide_fit.candidates == ()
    assert any("too few to stand alone" in note for note in nearly_nothing.notes)
    row = nearly_nothing.slide(sex="steer", weight_lb=550.0).iloc[0]
    assert row["percent_low"] < 10.0 < row["percent_high"]


def test_a_short_history_says_so_and_widens(small, small_fit):
    short = fit_market(small[small["sale_date"] < "2019-06-01"])
    assert short.model.rule.kind == "sale" and short.model.rule.inflation == 3.0
    assert any("crop years (July to June)" in note for note in short.notes)


def test_unseen_months_are_named_and_refused(small):
    months = small["sale_date"].dt.month
    fit = fit_market(small[~months.isin([7, 8])])
    assert fit.model.unseen_months == (7, 8)
    assert fit.outlook().unseen_months == (7, 8)
    if fit.model.recipe.season_harmonics:
        with pytest.raises(FitError, match="Jul"):
            fit.slide(month=7)


def test_weights_beyond_the_data(small_fit):
    high = small_fit.model.support["steer"].high_lb
    near = small_fit.slide(sex="steer", weight_lb=high)
    assert np.isfinite(near["percent_per_cwt"].iloc[0])
    with pytest.raises(FitError, match="over 50 lb outside the weights seen"):
        small_fit.slide(sex="steer", weight_lb=high + 1.0)


def test_misprints_are_counted(small):
    spoiled = small.copy()
    spoiled.loc[[100, 400], "price_cwt"] *= 10.0
    fit = fit_market(spoiled)
    assert fit.slide_fit.left_out == 2
    assert any(note.startswith("2 lots priced over eight standard deviations") for note in fit.notes)


def test_barns_are_pooled_with_their_own_level(small):
    other = small.assign(market="Otter Creek", price_cwt=small["price_cwt"] * 1.05)
    fit = fit_market(pd.concat([small, other], ignore_index=True))
    gap = fit.outlook("Otter Creek").log_level - fit.outlook("Birch Landing").log_level
    assert gap == pytest.approx(np.log(1.05), abs=4e-3)
    assert fit.basis.sales == 140


def test_it_tells_what_it_is_doing(small):
    told = []
    fit_market(small[:600], progress=told.append)
    assert len(told) >= 3 and all(told)


def test_from_python_in_one_line(small, small_fit):
    np.testing.assert_array_equal(slides(slidefit.fit(small)), slides(small_fit))
