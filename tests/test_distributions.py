"""The distributions against scipy's (version of the environment), and their ends."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special

from slidefit.distributions import (
    NORMAL_975,
    chi_square_beyond,
    log_gamma,
    normal_cdf,
    normal_quantile,
    student_quantile,
)


def test_normal() -> None:
    z = np.linspace(-8.0, 8.0, 201).reshape(3, 67)
    np.testing.assert_allclose(normal_cdf(z), special.ndtr(z), rtol=1e-13)
    p = special.ndtr(np.linspace(-6.0, 6.0, 101))
    np.testing.assert_allclose(normal_quantile(p), special.ndtri(p), rtol=1e-9, atol=1e-12)
    assert abs(float(normal_quantile(0.975)) - NORMAL_975) < 5e-7
    assert np.isnan(normal_cdf(np.nan)) and normal_cdf([]).shape == (0,)
    with pytest.raises(ValueError, match="p must be"):
        normal_quantile(1.0)


@pytest.mark.parametrize("degrees", [2, 4, 12])
def test_chi_square(degrees: int) -> None:
    for x in (0.0, 0.5, 9.0, 40.0):
        assert chi_square_beyond(degrees, x) == pytest.approx(special.chdtrc(degrees, x), rel=1e-12)


def test_log_gamma() -> None:
    x = np.array([0.25, 1.0, 7.5, 400.0])
    np.testing.assert_allclose(log_gamma(x), special.gammaln(x), rtol=1e-13)


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 5, 8, 29, 274, 20_001])
def test_student_quantile(degrees: int) -> None:
    for p in (0.5, 0.6, 0.9, 0.975, 0.9995):
        assert student_quantile(degrees, p) == pytest.approx(special.stdtrit(degrees, p), rel=1e-9, abs=1e-12)
