"""A folder of region files: which there are, how old, how far behind the book, and which markets feed which."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd

from slidefit.errors import RegionError
from slidefit.regions.age import age_days, is_stale
from slidefit.regions.reading import read_region
from slidefit.regions.region import FORMAT, Region


@dataclass(frozen=True)
class FolderEntry:
    """One region file of a folder.

    Attributes
    ----------
    path : Path
    region : Region or None
        None where the file is at fault; ``fault`` then says why.
    age_days : int
        Since the last sale behind it.
    stale : bool
        Over a year old.
    behind : int or None
        Records of its markets in the book since its last sale; None without a book.
    fault : str
    """

    path: Path
    region: Region | None
    age_days: int
    stale: bool
    behind: int | None
    fault: str = ""


@dataclass(frozen=True)
class MarketFeed:
    """A market, how many records the book holds of it, and the regions that it feeds."""

    market: str
    records: int
    regions: tuple[str, ...]


def file_name(name: str) -> str:
    """Return the file name of a region.

    >>> file_name("High Plains, west")
    'high_plains_west.toml'
    """
    return f"{re.sub(r'[^a-z0-9]+', '_', name.lower()).strip('_') or 'region'}.toml"


def region_files(folder: str | Path) -> list[Path]:
    """Return the TOML files of a folder that say they are regions, those at fault included."""
    return [path for path in sorted(Path(folder).glob("*.toml")) if _says_region(path)]


def _says_region(path: Path) -> bool:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return False
    try:
        return bool(tomllib.loads(text).get("format") == FORMAT)
    except tomllib.TOMLDecodeError:
        return FORMAT in text


def folder_entries(folder: str | Path, today: date, sales: pd.DataFrame | None = None) -> list[FolderEntry]:
    """Return what a folder of regions holds.

    Parameters
    ----------
    sales : DataFrame, optional
        ``market`` and ``sale_date`` of the book's records.
    """
    entries = []
    for path in region_files(folder):
        try:
            region = read_region(path)
        except RegionError as fault:
            entries.append(FolderEntry(path, None, 0, False, None, str(fault.problems[0])))
            continue
        behind = None if sales is None else records_behind(region, sales)
        entries.append(FolderEntry(path, region, age_days(region, today), is_stale(region, today), behind))
    return entries


def records_behind(region: Region, sales: pd.DataFrame) -> int:
    """Return how many records of the region's markets were sold after its last sale."""
    later = sales["sale_date"] > pd.Timestamp(region.source.last_sale)
    return int((later & sales["market"].isin(region.markets)).sum())


def market_feeds(regions: Mapping[str, Sequence[str]], records: Mapping[str, int]) -> list[MarketFeed]:
    """Return each market of the book or of a region, by name, with the regions that it feeds.

    Parameters
    ----------
    regions : mapping of a region's name to its markets
    records : mapping of a market to its records in the book
    """
    names = sorted({*records, *(market for markets in regions.values() for market in markets)})
    return [
        MarketFeed(name, records.get(name, 0), tuple(r for r, markets in regions.items() if name in markets))
        for name in names
    ]


def batches_sha256(records: pd.DataFrame) -> str:
    """Return the SHA-256 over the batches that tidy records came from: each batch's name and its records, in order."""
    digest = hashlib.sha256()
    for batch, rows in sorted(records.groupby("batch", sort=True), key=lambda pair: str(pair[0])):
        ordered = rows.sort_values(["source_row", "sale_date", "sex", "weight_lb"], kind="stable")
        text = ordered.to_csv(index=False, date_format="%Y-%m-%d", lineterminator="\n")
        digest.update(f"{batch} {hashlib.sha256(text.encode()).hexdigest()}\n".encode())
    return digest.hexdigest()
