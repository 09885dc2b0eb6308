"""The slide as a scikit-learn regressor."""

import numpy as np
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
    import pandas as pd
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
