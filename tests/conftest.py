"""One thread of linear algebra for each test process, and a mark on the tests that drive a browser."""

from __future__ import annotations

import os

import pytest

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test that uses the ``chrome`` fixture as ``browser``: run them with ``pytest -m browser``."""
    for item in items:
        if "chrome" in getattr(item, "fixturenames", ()):
            item.add_marker("browser")


@pytest.fixture(scope="session")
def truth():
    from tests.market.simulate import Truth

    return Truth()


@pytest.fixture(scope="session")
def drawn(truth):
    """One simulated market of nine crop years, a sale every other week."""
    from tests.market.simulate import simulate

    return simulate(11, truth=truth, sales=225, lots=14, days_between=14)


@pytest.fixture(scope="session")
def fitted(drawn):
    from slidefit.market.market_fit import fit_market

    return fit_market(drawn.records)
