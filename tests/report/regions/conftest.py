"""A region as it is shipped, and one whose steers' slide is steeper."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.regions.region import Region
from slidefit.regions.region_file import read_region
from slidefit.regions.region_outlook import shifted


@pytest.fixture(scope="module")
def shipped() -> Region:
    return read_region(Path(__file__).parents[3] / "data_demo" / "kettle_fork.toml")


@pytest.fixture(scope="module")
def steeper(shipped: Region) -> Region:
    table = shipped.sexes()["steer"]
    return shipped.model_copy(update={"steer": shifted(table, [2.5] * len(table.slide))})


def shared(region: Region, part: float) -> tuple[float, float]:
    """Lots that both files used, and those of the new one."""
    return part * region.source.lots, region.source.lots
