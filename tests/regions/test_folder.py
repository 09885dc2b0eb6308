"""A folder of regions: ages, records behind, faults, and the map of markets."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd

from slidefit.regions.folder import batches_sha256, folder_entries, market_feeds, region_files
from slidefit.regions.region import Region
from slidefit.regions.writing import save_region


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
