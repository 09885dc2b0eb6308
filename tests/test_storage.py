"""What stands in files comes back, and what is at fault is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit import storage
from slidefit.errors import FitError, PlanError, RegionError

DEMO = Path(__file__).parents[1] / "data_demo"


def test_a_region_comes_back_and_its_folder_names_it(tmp_path: Path) -> None:
    region = storage.load(DEMO / "kettle_fork.toml")
    storage.save(region, tmp_path / "any.toml")
    assert storage.load(tmp_path / "any.toml") == region
    assert list(storage.regions_in(tmp_path)) == [region.name]


def test_a_region_at_fault_stops_its_folder_with_file_and_line(tmp_path: Path) -> None:
    lines = (DEMO / "kettle_fork.toml").read_text().splitlines()
    place = next(number for number, line in enumerate(lines, 1) if line.startswith("name ="))
    lines[place - 1] = "name = 3"
    (tmp_path / "bad.toml").write_text("\n".join(lines))
    with pytest.raises(RegionError, match=rf"bad\.toml, line {place}\b"):
        storage.regions_in(tmp_path)


def test_what_is_not_there_or_is_nothing_to_save_is_told(tmp_path: Path) -> None:
    with pytest.raises(FitError, match=r"none\.json"):
        storage.load(tmp_path / "none.json")
    with pytest.raises(PlanError, match=r"none\.toml"):
        storage.load(tmp_path / "none.toml")
    with pytest.raises(TypeError):
        storage.save({"a": 1}, tmp_path / "a.toml")  # type: ignore[arg-type]
    storage.book(tmp_path / "sales.duckdb")
    assert storage.sources(tmp_path / "sales.duckdb") == {} and not list(tmp_path.iterdir())
