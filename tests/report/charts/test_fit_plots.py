"""A fit drawn from Python shows the fit's own numbers."""

import numpy as np
import pytest
from matplotlib.axes import Axes

from slidefit.market.market_fit import fit_market
from tests.market.simulate import simulate


@pytest.fixture(scope="module")
def fitted():
    return fit_market(simulate(41, sales=70, lots=16, days_between=13).records)


@pytest.mark.parametrize("name", ["slide", "season", "prices", "residuals"])
def test_each_picture_is_given_as_axes(fitted, name):
    axes = getattr(fitted.plot, name)()
    assert isinstance(axes, Axes) and axes.has_data()


def test_prices_and_residuals_are_the_fits(fitted):
    (line,) = fitted.plot.prices().lines
    np.testing.assert_array_equal(line.get_ydata(), fitted.prices()["price_cwt"])
    _, errors = fitted.plot.residuals().lines
    np.testing.assert_array_equal(errors.get_ydata(), fitted.season_fit.innovations)
