"""One simulated market and its fit, shared by the tests of this folder."""

from __future__ import annotations

import pytest

from slidefit.market.marketfit import fit_market
from tests.market.simulate import Truth, simulate


@pytest.fixture(scope="session")
def truth():
    return Truth()


@pytest.fixture(scope="session")
def drawn(truth):
    """Nine crop years, a sale every other week."""
    return simulate(11, truth=truth, sales=225, lots=14, days_between=14)


@pytest.fixture(scope="session")
def fitted(drawn):
    return fit_market(drawn.records)
