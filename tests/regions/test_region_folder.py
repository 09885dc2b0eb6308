"""A folder of regions: ages, records behind, faults, and the map of markets.

Former versions are kept, listed and put back; nothing is lost."""

from __future__ import annotations

import errno
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from slidefit.errors import OutputError, SlidefitError
from slidefit.regions.hand_edits import write_fitted
from slidefit.regions.region import Region
from slidefit.regions.region_file import read_region
from slidefit.regions.region_folder import (
    LONGEST_NAME,
    batches_sha256,
    folder_entries,
    formers,
    go_back,
    history_folder,
    keep_former,
    market_feeds,
    place_for,
    read_folder,
    region_files,
    save_region,
)


def test_a_folder(tmp_path: Path, shipped: Region) -> None:
    save_region(shipped, tmp_path / "a.toml")
    (tmp_path / "plan.toml").write_text('title = "no region"\n')
    broken = (tmp_path / "a.toml").read_text().replace("version = 1", "version = 7")
    (tmp_path / "b.toml").write_text(broken)
    (tmp_path / "c.toml").write_text('format = "slidefit region"\nversion = \n')
    (tmp_path / "d.txt").write_text("x")
    assert [p.name for p in region_files(tmp_path)] == ["a.toml", "b.toml", "c.toml"]
    market = shipped.markets[0]
    last = pd.Timestamp(shipped.source.last_sale)
    sales = pd.DataFrame(
        {
            "market": [market, market, "Elsewhere", market],
            "sale_date": [
                last,
                last + pd.Timedelta(days=3),
                last + pd.Timedelta(days=3),
                last + pd.Timedelta(days=9),
            ],
        }
    )
    good, newer, torn = folder_entries(tmp_path, date(2027, 10, 13), sales)
    assert (good.age_days, good.stale, good.behind) == (366, True, 2)
    assert newer.region is None and "newer slidefit" in newer.fault
    assert torn.region is None and "line 2" in torn.fault
    fresh = folder_entries(tmp_path, date(2026, 10, 20))[0]
    assert (fresh.age_days, fresh.stale, fresh.behind) == (8, False, None)
    assert folder_entries(tmp_path, date(2020, 1, 1))[0].age_days == 0


def test_a_region_that_cannot_be_opened_is_told(
    tmp_path: Path, shipped: Region, monkeypatch: pytest.MonkeyPatch
) -> None:
    save_region(shipped, tmp_path / "a.toml")
    save_region(shipped, tmp_path / "b.toml")
    opened = Path.open

    def held(path: Path, *how: Any, **options: Any) -> Any:
        if path.name == "b.toml":
            raise PermissionError(errno.EACCES, "Permission denied")
        return opened(path, *how, **options)

    monkeypatch.setattr(Path, "open", held)
    regions, faults = read_folder(tmp_path)
    assert [*regions] == ["a.toml"] and "Permission denied" in faults["b.toml"]


def test_map_of_markets() -> None:
    feeds = market_feeds({"West": ["A", "B"], "All": ["A"]}, {"A": 5, "C": 2})
    assert [(f.market, f.records, f.regions) for f in feeds] == [
        ("A", 5, ("West", "All")), ("B", 0, ("West",)), ("C", 2, ()),
    ]  # fmt: skip


def test_the_sum_over_batches(records: pd.DataFrame) -> None:
    first = batches_sha256(records)
    assert len(first) == 64
    assert batches_sha256(records.sample(frac=1.0, random_state=1)) == first
    dearer = records.assign(price_cwt=records["price_cwt"].where(records["source_row"] != 7, 1.0))
    assert batches_sha256(dearer) != first
    assert batches_sha256(records.assign(batch="b2")) != first


def renamed(region: Region, name: str) -> Region:
    return region.model_copy(update={"name": name})


def test_versions_come_and_go(tmp_path: Path, shipped: Region) -> None:
    file = tmp_path / "west.toml"
    assert write_fitted(renamed(shipped, "one"), file)[0] is None
    file.write_text(file.read_text().replace("remarks = []", 'remarks = ["by hand"]  # mine'))
    hand = file.read_bytes()
    kept = write_fitted(renamed(shipped, "two"), file)[0]
    assert kept is not None and kept.read_bytes() == hand
    write_fitted(renamed(shipped, "three"), file)[0]
    assert [(f.number, f.region.name) for f in formers(file) if f.region] == [(1, "one"), (2, "two")]
    assert go_back(file, 1).number == 1
    assert file.read_bytes() == hand
    assert [f.region.name for f in formers(file) if f.region] == ["one", "two", "three"]
    go_back(file)
    assert read_region(file).name == "three"


def test_no_such_version(tmp_path: Path, shipped: Region) -> None:
    file = save_region(shipped, tmp_path / "west.toml")
    with pytest.raises(SlidefitError, match="no former version"):
        go_back(file)
    keep_former(file)
    with pytest.raises(SlidefitError, match=r"no former version 9.*versions are: 1"):
        go_back(file, 9)


def test_a_former_version_that_is_damaged_is_listed_as_such(tmp_path: Path, shipped: Region) -> None:
    file = save_region(shipped, tmp_path / "west.toml")
    keep_former(file)
    (history_folder(file) / "0002.toml").write_text("format = 1")
    (history_folder(file) / "notes.txt").write_text("mine")
    assert [(f.number, f.region is None) for f in formers(file)] == [(1, False), (2, True)]


def test_a_history_that_cannot_be_kept_stops_the_update(tmp_path: Path, shipped: Region) -> None:
    file = save_region(shipped, tmp_path / "west.toml")
    history_folder(file).write_text("in the way")
    before = file.read_bytes()
    with pytest.raises(OutputError, match="former version"):
        write_fitted(renamed(shipped, "new"), file)[0]
    assert file.read_bytes() == before


def test_a_regions_name_never_touches_another_file(tmp_path: Path, shipped: Region) -> None:
    """A plan, a region of another name, a file at fault, a name too long: each told, and nothing written."""
    (tmp_path / "plan.toml").write_text('title = "no region"\n')
    with pytest.raises(SlidefitError, match="not a region file"):
        place_for(tmp_path, "Plan")
    west = shipped.model_copy(update={"name": "West"})
    save_region(west, tmp_path / "west.toml")
    assert place_for(tmp_path, "West") == tmp_path / "west.toml"
    with pytest.raises(SlidefitError, match="is the file of the region West"):
        place_for(tmp_path, "West!")
    with pytest.raises(SlidefitError, match="300 characters"):
        place_for(tmp_path, "x" * 300)
    with pytest.raises(SlidefitError, match="is empty"):
        place_for(tmp_path, "  ")
    assert len(place_for(tmp_path, "x" * LONGEST_NAME).name) < 255 - len(".former")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plan.toml", "west.toml"]
