"""Coefficients, intervals and predictions of a fit, against the regression with a dummy for every sale."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from slidefit.errors import FitError
from slidefit.market.fit.candidates import recipe_for
from slidefit.market.fit.chunk_passes import LotRows
from slidefit.market.fit.fit_results import predict, sale_means
from slidefit.market.fit.fixed_effects import fit_fixed_effects
from slidefit.market.fit.leastsquares import absorbed_variance
from slidefit.market.fit.slide_model import ErrorRule
from slidefit.market.market_fit import fit_market
from slidefit.market.saved_fit import load_fit, save_fit
from tests.market.coded import lots_of
from tests.market.simulate import simulate


@pytest.fixture(scope="module")
def dummies():
    """A fit within sales, and statsmodels.WLS of the same rows with a dummy for every sale."""
    from statsmodels.regression.linear_model import WLS

    lots = lots_of(simulate(81, sales=40, lots=12, days_between=30).records)
    recipe = recipe_for(lots, kind="quadratic", level=True)
    fit = fit_fixed_effects(lots, recipe)
    assert not len(fit.dropped)
    chunk = LotRows.of(lots, recipe).chunk(fit.level, fit.spread)
    marks = (chunk.sale[:, None] == np.arange(lots.sales)).astype(float)
    return lots, fit, chunk, WLS(chunk.y, np.hstack([chunk.X, marks]), weights=chunk.row_weight).fit()


def test_errors_of_predictions_are_those_of_the_full_dummy_model(dummies):
    lots, fit, chunk, full = dummies
    sales = sale_means(lots, fit, fit.recipe, fit.solution.coef)
    at = chunk.sale
    variance = absorbed_variance(chunk.X - sales.row_mean[at], fit.solution.bread, sales.row_weight[at])
    reference = full.get_prediction(weights=chunk.row_weight)
    assert np.sqrt(full.scale * variance) == pytest.approx(reference.se_mean, rel=1e-8)
    of_a_lot = np.sqrt(full.scale * (variance + 1.0 / chunk.row_weight))
    assert of_a_lot == pytest.approx(reference.se_obs, rel=1e-8)
    assert sales.effect[at] + chunk.X @ fit.solution.coef == pytest.approx(
        reference.predicted_mean, rel=1e-10
    )


def test_a_predicted_frame_is_the_same_rows(dummies, fitted):
    """The whole way from a frame of lots: the columns, the sale's effect and its error, and t intervals."""
    lots, fit, chunk, full = dummies
    records = simulate(81, sales=40, lots=12, days_between=30).records.sort_values("sale_date", kind="stable")
    model = replace(
        fitted.model, recipe=fit.recipe, coef=fit.solution.coef, cov=fit.solution.bread,
        rule=ErrorRule("lot", int(full.df_resid) + 1, 1.0),
    )  # fmt: skip
    places = dict(zip(lots.grades, fit.recipe.grade_of, strict=True))
    found = predict(model, sale_means(lots, fit, fit.recipe, fit.solution.coef), places, fit.spread, records)
    reference = full.get_prediction(weights=chunk.row_weight)
    assert found.mean == pytest.approx(reference.predicted_mean, rel=1e-10)
    assert found.mean_sd == pytest.approx(reference.se_mean / np.sqrt(full.scale), rel=1e-8)
    table = found.summary_frame(alpha=0.1)
    assert table.attrs["units"]["mean"] == "$/cwt"
    from scipy import stats

    reach = np.hypot(stats.t.ppf(0.95, full.df_resid) * found.mean_sd, stats.norm.ppf(0.95) * found.lot_sd)
    assert np.log(table["obs_ci_upper"] / table["mean"]).to_numpy() == pytest.approx(reach, rel=1e-9)


def test_single_lots_not_fitted_fall_inside_their_intervals_as_often_as_said(drawn):
    held = drawn.records.index % 5 == 0
    table = fit_market(drawn.records[~held]).predict(drawn.records[held]).summary_frame(alpha=0.2)
    price = drawn.records["price_cwt"][held].to_numpy()
    inside = (table["obs_ci_lower"].to_numpy() < price) & (price < table["obs_ci_upper"].to_numpy())
    assert len(inside) == 630 and inside.mean() == pytest.approx(0.80, abs=0.035)  # two of its own errors
    mean, lot = (table[f"{name}_ci_upper"] - table[f"{name}_ci_lower"] for name in ("mean", "obs"))
    assert (mean < lot).all()


def test_coefficients_are_labelled_and_their_intervals_are_t(fitted):
    from scipy import stats

    terms = list(fitted.model.recipe.names())
    assert list(fitted.params.index) == list(fitted.cov.columns) == terms
    assert fitted.bse.to_numpy() == pytest.approx(np.sqrt(np.diag(fitted.model.cov)))
    tidy = fitted.tidy()
    degrees = fitted.model.rule.groups - 1
    assert tidy["p_value"].to_numpy() == pytest.approx(
        2 * stats.t.sf(np.abs(tidy["statistic"]), degrees), rel=1e-9
    )
    reach = stats.t.ppf(0.95, degrees) * fitted.bse
    assert fitted.conf_int(0.1)["upper"].to_numpy() == pytest.approx((fitted.params + reach).to_numpy())
    assert tidy.loc["steer:weight0", "estimate"] == fitted.params["steer:weight0"]


def test_a_short_history_is_widened_in_errors_too(fitted):
    model = replace(fitted.model, rule=ErrorRule("sale", 60, 3.0))
    short = replace(fitted, slide_fit=replace(fitted.slide_fit, model=model))
    assert short.bse.to_numpy() == pytest.approx(3.0 * fitted.bse.to_numpy())
    assert "widened 3 times" in str(short.summary())


def test_a_summary_has_every_term_in_text_and_in_html(fitted):
    summary = fitted.summary()
    text, page = str(summary), summary._repr_html_()
    for term in fitted.model.recipe.names():
        assert term in text and term in page
    assert "clustered by crop year, 9 groups, t with 8 degrees of freedom" in text
    assert len(repr(fitted).splitlines()) < 10 and "Birch Landing" in fitted._repr_html_()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"sale_date": "1999-01-04"}, "row 1: nothing was sold at Birch Landing on 1999-01-04"),
        ({"sex": "calf"}, "no slide for sex calf"),
        ({"muscle": "9"}, "a grade that the records don't hold"),
    ],
)
def test_what_was_not_seen_is_refused(fitted, drawn, change, said):
    with pytest.raises(FitError, match=said):
        fitted.predict(drawn.records.head(2).assign(**change))


def test_a_missing_column_and_a_fit_from_a_file_are_refused(fitted, drawn, tmp_path):
    with pytest.raises(FitError, match="no column weight_lb"):
        fitted.predict(drawn.records.head(2).drop(columns="weight_lb"))
    again = load_fit(save_fit(fitted, tmp_path / "fit.json"))
    pd.testing.assert_frame_equal(again.tidy(), fitted.tidy())
    with pytest.raises(FitError, match="holds no figures of its single sales"):
        again.predict(drawn.records.head(2))


def test_frames_say_their_units(fitted):
    assert fitted.prices().attrs["units"] == {"price_cwt": "$/cwt"}
    assert set(fitted.slide().attrs["units"]) <= set(fitted.slide().columns)
    assert set(fitted.season().attrs["units"]) <= set(fitted.season().columns)
    assert fitted.prices()["price_cwt"].to_numpy() == pytest.approx(np.exp(fitted.index.sale_log))
