"""The slide as a scikit-learn regressor."""

import numpy as np
import pandas as pd
import pytest
from sklearn.model_selection import GridSearchCV, GroupKFold, cross_val_score
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import FunctionTransformer
from sklearn.utils.estimator_checks import parametrize_with_checks

import slidefit
from slidefit.market.regressor import SlideRegressor
from tests.market.simulate import simulate


@parametrize_with_checks([SlideRegressor(), SlideRegressor(curve="spline"), SlideRegressor(curve="straight")])
def test_scikit_learn_takes_it_for_a_regressor(estimator, check):
    check(estimator)


@pytest.fixture(scope="module")
def tidy():
    records = simulate(41, sales=60, lots=20).records
    return records[["market", "sale_date", "sex", "muscle", "weight_lb"]], np.log(records["price_cwt"])


def test_it_is_a_public_name():
    assert slidefit.SlideRegressor is SlideRegressor


def test_same_as_statsmodels_with_a_dummy_for_every_sale(tidy):

    import statsmodels.api as sm

    X, y = tidy
    fitted = SlideRegressor().fit(X, y)
    x = (X["weight_lb"] - fitted.weight_mean_) / fitted.weight_scale_
    columns = pd.concat(
        [x, x**2, X["sex"] == "steer", X["muscle"] == "1-2", pd.get_dummies(X["sale_date"])], axis=1
    ).astype(float)
    other = sm.OLS(y.to_numpy(), columns.to_numpy()).fit()
    assert fitted.predict(X) == pytest.approx(other.fittedvalues, rel=1e-9)


def test_weights_are_row_weights(tidy):
    X, y = tidy
    twice = np.where(np.arange(len(y)) % 2 == 0, 2.0, 1.0)
    again = SlideRegressor().fit(
        X.loc[X.index.repeat(twice.astype(int))], y.loc[y.index.repeat(twice.astype(int))]
    )
    weighted = SlideRegressor().fit(X, y, sample_weight=twice)
    assert again.predict(X) == pytest.approx(weighted.predict(X), abs=1e-9)


def test_grid_search_in_a_pipeline_holds_out_whole_sales(tidy):
    X, y = tidy
    pipe = make_pipeline(FunctionTransformer(lambda frame: frame[frame.columns]), SlideRegressor())
    search = GridSearchCV(
        pipe, {"slideregressor__curve": ["straight", "quadratic", "spline"]}, cv=GroupKFold(3)
    ).fit(X, y, groups=X["sale_date"])
    assert search.best_params_["slideregressor__curve"] in ("straight", "quadratic", "spline")
    assert len(cross_val_score(SlideRegressor(), X, y, cv=3)) == 3


def test_an_unseen_sale_is_at_the_mean_level(tidy):
    X, y = tidy
    fitted = SlideRegressor().fit(X, y)
    strange = X.head(1).assign(sale_date="2001-01-01")
    known = X.head(1)
    key = next(iter(fitted.sale_effect_))
    gap = fitted.predict(known)[0] - fitted.predict(strange)[0]
    assert gap == pytest.approx(fitted.sale_effect_[key] - fitted.mean_effect_)


def test_an_unknown_curve_is_refused(tidy):
    with pytest.raises(ValueError, match="curve is 'wavy'; use one of"):
        SlideRegressor(curve="wavy").fit(*tidy)


def frame_of(n=60, seed=3):
    rng = np.random.default_rng(seed)
    frame = pd.DataFrame(
        {
            "sale_date": np.repeat(np.arange(n // 6), 6), "sex": rng.choice(["heifer", "steer"], n),
            "weight_lb": rng.uniform(400.0, 700.0, n), "head": rng.integers(1, 40, n).astype(float),
        }
    )  # fmt: skip
    return frame, 5.0 - 0.001 * frame["weight_lb"] + 0.002 * frame["head"] + rng.normal(0.0, 0.02, n)


def test_columns_in_another_order_new_or_missing_are_refused():
    X, y = frame_of()
    fitted = SlideRegressor().fit(X, y)
    assert fitted.feature_names_in_.tolist() == list(X.columns) and fitted.n_features_in_ == 4
    for other in (X[X.columns[::-1]], X.drop(columns="head"), X.assign(extra=1.0)):
        with pytest.raises(ValueError, match="feature names"):
            fitted.predict(other)


def test_a_sale_or_weight_column_that_is_missing_is_refused():
    X, y = frame_of()
    with pytest.raises(ValueError, match="no column saledate that sale= names"):
        SlideRegressor(sale="saledate").fit(X, y)
    with pytest.raises(ValueError, match="no column market that sale= names"):
        SlideRegressor(sale=("market", "sale_date")).fit(X, y)
    with pytest.raises(ValueError, match="no column market or sale_date"):
        SlideRegressor().fit(X.drop(columns="sale_date"), y)
    with pytest.raises(ValueError, match="no column weight_lb; name the weight's"):
        SlideRegressor().fit(X.rename(columns={"weight_lb": "wt"}), y)


def test_an_unknown_word_raises_or_is_the_first_by_a_declared_rule():
    X, y = frame_of()
    strange = X.head(2).assign(sex="hiefer")
    with pytest.raises(ValueError, match="column sex holds 'hiefer', which the training rows did not"):
        SlideRegressor().fit(X, y).predict(strange)
    calm = SlideRegressor(handle_unknown="ignore").fit(X, y)
    np.testing.assert_array_equal(calm.predict(strange), calm.predict(X.head(2).assign(sex="heifer")))
    with pytest.raises(ValueError, match="handle_unknown is 'guess'"):
        SlideRegressor(handle_unknown="guess").fit(X, y)


def test_coefficients_have_names():
    X, y = frame_of()
    fitted = SlideRegressor().fit(X, y)
    assert fitted.get_feature_names_out().tolist() == ["weight_lb", "weight_lb:1", "sex_steer", "head"]
    assert fitted.coefficients_["head"] == pytest.approx(0.002, abs=5e-4)
    np.testing.assert_array_equal(fitted.coefficients_.to_numpy(), fitted.coef_)


def test_the_error_of_a_prediction_is_that_of_the_regression_with_dummies():
    """statsmodels OLS with a dummy for every sale: standard error of the mean, and of a new row."""
    import statsmodels.api as sm

    X, y = frame_of()
    fitted = SlideRegressor().fit(X, y)
    x = (X["weight_lb"] - fitted.weight_mean_) / fitted.weight_scale_
    columns = [x, x**2, X["sex"] == "steer", X["head"], pd.get_dummies(X["sale_date"])]
    other = sm.OLS(y.to_numpy(), pd.concat(columns, axis=1).astype(float).to_numpy()).fit()
    mean, std = fitted.predict(X, return_std=True)
    reference = other.get_prediction()
    assert mean == pytest.approx(reference.predicted_mean, rel=1e-10)
    assert std == pytest.approx(reference.se_obs, rel=1e-8)
    _, unseen = fitted.predict(X.assign(sale_date=99), return_std=True)
    assert (unseen > fitted.residual_sd_).all()


def test_polars_frames_give_what_pandas_frames_give():
    import polars

    X, y = frame_of()
    other = SlideRegressor().fit(polars.DataFrame(X.to_dict("list")), y)
    fitted = SlideRegressor().fit(X, y)
    np.testing.assert_array_equal(other.predict(polars.DataFrame(X.to_dict("list"))), fitted.predict(X))
    assert other.feature_names_in_.tolist() == list(X.columns)


def test_behind_a_step_that_sets_its_output_to_frames():
    X, y = frame_of()
    keep = FunctionTransformer(validate=False, feature_names_out="one-to-one").set_output(transform="pandas")
    piped = make_pipeline(keep, SlideRegressor()).fit(X, y)
    np.testing.assert_allclose(piped.predict(X), SlideRegressor().fit(X, y).predict(X))
