"""Three simulated markets, their fit, and the region's file made from it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from slidefit.market.market_fit import MarketFit, fit_market
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.region import Region
from slidefit.regions.region_file import read_region
from tests.market.simulate import simulate

DEMO = Path(__file__).parent.parent.parent / "data_demo"
SHIPPED = DEMO / "kettle_fork.toml"


@pytest.fixture(scope="session")
def records() -> pd.DataFrame:
    """Two barns of eight years and a third of one autumn, at the others' level: too short to tell one of its own."""
    parts = [
        simulate(5, sales=104, lots=10, days_between=28, market="Birch Landing").records,
        simulate(5, sales=104, lots=10, days_between=28, first="2017-10-06", market="Low Ferry").records,
        simulate(5, sales=5, lots=8, days_between=14, first="2025-07-09", market="Stone Gap").records,
    ]
    autumn = parts[0][parts[0]["sale_date"] >= parts[2]["sale_date"].min()]
    near = (autumn["price_cwt"].mean(), parts[2]["price_cwt"].mean())
    parts[2] = parts[2].assign(price_cwt=parts[2]["price_cwt"] * near[0] / near[1])
    together = pd.concat(parts, ignore_index=True)
    return together.assign(batch="b1", source_row=range(1, len(together) + 1))


@pytest.fixture(scope="session")
def fitted(records: pd.DataFrame) -> MarketFit:
    return fit_market(records)


@pytest.fixture(scope="session")
def region(fitted: MarketFit) -> Region:
    return region_of(fitted, "River country", Provenance(date(2025, 10, 1), "a" * 64))


@pytest.fixture(scope="session")
def shipped() -> Region:
    return read_region(SHIPPED)


@pytest.fixture(scope="session")
def shipped_text() -> str:
    return SHIPPED.read_text(encoding="utf-8")
