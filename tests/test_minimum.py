"""The lowest points against scipy's: its simplex, on the same function."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize, minimize_scalar, rosen

from slidefit.minimum import lowest_around, lowest_between, zero_between


@pytest.mark.parametrize("at", [-3.9, -1.0, 0.3, 4.9])
def test_lowest_between(at: float) -> None:
    def valley(x: float) -> float:
        return float(np.exp(x - at) - (x - at))

    best = minimize_scalar(valley, bounds=(-4.0, 5.0), method="bounded", options={"xatol": 1e-6}).x
    assert lowest_between(valley, (-4.0, 5.0), within=0.1) == pytest.approx(best, abs=1e-3)


def test_a_valley_at_the_end_ends_there() -> None:
    assert lowest_between(lambda x: x, (1.0, 2.0), within=0.01) == pytest.approx(1.0, abs=0.01)
    assert lowest_between(lambda x: -x, (1.0, 2.0), within=0.01) == pytest.approx(2.0, abs=0.01)


def test_zero_between() -> None:
    assert zero_between(lambda x: np.cos(x), 0.0, 3.0, within=1e-12) == pytest.approx(np.pi / 2, abs=1e-12)
    assert zero_between(lambda x: x - 1.0, 5.0, 0.0, within=1e-12) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("start", [(-1.2, 1.0), (2.5, -2.0)])
def test_simplex_ends_where_that_of_scipy_does(start: tuple[float, float]) -> None:
    options = {"xatol": 1e-6, "fatol": 1e-6, "maxiter": 400}
    best = minimize(rosen, start, method="Nelder-Mead", options=options).x
    found = lowest_around(rosen, np.array(start), near=1e-6, alike=1e-6, most_steps=400)
    np.testing.assert_allclose(found, best, atol=1e-5)


def test_simplex_stops_after_its_steps() -> None:
    calls: list[float] = []

    def counted(at: np.ndarray) -> float:
        calls.append(1.0)
        return float(rosen(at))

    lowest_around(counted, np.array([-1.2, 1.0]), near=0.0, alike=0.0, most_steps=5)
    assert 8 <= len(calls) <= 3 + 5 * 4
