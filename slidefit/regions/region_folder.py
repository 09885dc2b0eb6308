"""A folder of regions: written, listed, former versions kept."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from slidefit.errors import OutputError, RegionError, SlidefitError
from slidefit.files import told_as_output, write_whole
from slidefit.regions.region import FORMAT, Region, age_days, is_stale
from slidefit.regions.region_file import read_region
from slidefit.regions.region_text import write_region

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class FolderEntry:
    """One region file of a folder.

    Attributes
    ----------
    region : Region or None. None where the file is at fault; ``fault`` then says why.
    age_days : int. Since the last sale behind it.
    stale : bool. Over a year old.
    behind : int or None. Records of its markets in the book since its last sale; None without a book.
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


LONGEST_NAME = 100
"""Characters of a region's name: its file's and its former versions' stay under the 255 bytes of file systems."""


def place_for(folder: str | Path, name: str) -> Path:
    """Return where a region of a name goes: a free place, or the file of the region of that very name.

    Raises
    ------
    SlidefitError. As `check_place`.
    """
    path = Path(folder) / file_name(name)
    check_place(path, name)
    return path


def check_place(path: Path, name: str) -> None:
    """Check that a region of a name may be written to a place.

    Raises
    ------
    SlidefitError
        The name is empty or too long, or a file stands there that is not a region, or a region of another name.
    """
    if not name.strip() or len(name) > LONGEST_NAME:
        what = "is empty" if not name.strip() else f"has {len(name)} characters"
        remedy = f"Give it a name of 1 to {LONGEST_NAME} characters."
        raise SlidefitError(f"the region's name {what}", remedy=remedy)
    if not path.exists():
        return
    with told_as_output(path):
        content = b"" if path.is_dir() else path.read_bytes()
    if not _says_region(content):
        remedy = "Give the region another name, or its file another place."
        raise SlidefitError("stands there and is not a region file", where=str(path), remedy=remedy)
    try:
        other = read_region(path).name
    except RegionError:
        return
    if other != name:
        remedy = f"Give {name} a name that differs from it by letters or digits, or its file another place."
        raise SlidefitError(f"is the file of the region {other}", where=str(path), remedy=remedy)


def region_files(folder: str | Path) -> list[Path]:
    """Return the TOML files of a folder that say they are regions, those at fault or never opened included."""
    return [path for path in sorted(Path(folder).glob("*.toml")) if says_region(path, unread=True)]


def says_region(path: str | Path, *, unread: bool = False) -> bool:
    """Return whether a file says that it is a region's, sound or not; ``unread`` where it can't be opened."""
    try:
        return _says_region(Path(path).read_bytes())
    except OSError:
        return unread and Path(path).is_file()


def _says_region(content: bytes) -> bool:
    try:
        text = content.decode("utf-8-sig")
        return bool(tomllib.loads(text).get("format") == FORMAT)
    except UnicodeDecodeError:
        return False
    except (tomllib.TOMLDecodeError, RecursionError):
        return FORMAT in text


def read_folder(folder: str | Path) -> tuple[dict[str, Region], dict[str, str]]:
    """Return the regions of a folder by file name, and of those at fault what the fault is."""
    regions, faults = {}, {}
    for path in region_files(folder):
        try:
            regions[path.name] = read_region(path)
        except RegionError as fault:
            faults[path.name] = str(fault.problems[0])
    return regions, faults


def folder_entries(folder: str | Path, today: date, sales: pd.DataFrame | None = None) -> list[FolderEntry]:
    """Return what a folder of regions holds.

    Parameters
    ----------
    sales : DataFrame, optional. ``market`` and ``sale_date`` of the book's records.
    """
    regions, faults = read_folder(folder)
    entries = [FolderEntry(Path(folder) / name, None, 0, False, None, why) for name, why in faults.items()]
    for name, region in regions.items():
        behind = None if sales is None else records_behind(region, sales)
        path, stale = Path(folder) / name, is_stale(region, today)
        entries.append(FolderEntry(path, region, age_days(region, today), stale, behind))
    return sorted(entries, key=lambda entry: entry.path)


def records_behind(region: Region, sales: pd.DataFrame) -> int:
    """Return how many records of the region's markets were sold after its last sale."""
    import pandas as pd

    later = sales["sale_date"] > pd.Timestamp(region.source.last_sale)
    return int((later & sales["market"].isin(region.markets)).sum())


def market_feeds(regions: Mapping[str, Sequence[str]], records: Mapping[str, int]) -> list[MarketFeed]:
    """Return each market of the book or of a region, by name, with the regions that it feeds.

    Parameters
    ----------
    regions : mapping of a region's name to its markets
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


def save_region(region: Region, path: str | Path) -> Path:
    """Write a region's file, whole or not at all.

    Raises
    ------
    OutputError. The folder is missing, read-only or full; what was there before stays.
    """
    return write_whole(path, write_region(region))


NUMBERED = re.compile(r"(?<!\d)(\d{4,})\.toml")
FITTED = "fitted.toml"
"""Among the former versions: the present file as it was fitted, before anybody set a number by hand."""


@dataclass(frozen=True)
class Former:
    """A former version; ``region`` is None where it can't be read any more."""

    number: int
    path: Path
    region: Region | None


def history_folder(path: str | Path) -> Path:
    """Return the folder that holds a file's former versions.

    >>> history_folder("west.toml").name
    'west.former'
    """
    return Path(path).with_suffix(".former")


def formers(path: str | Path) -> list[Former]:
    """Return the former versions of a region's file, oldest first."""
    folder = history_folder(path)
    found = []
    for file in sorted(folder.iterdir()) if folder.is_dir() else []:
        matched = NUMBERED.fullmatch(file.name)
        if matched is None:
            continue
        try:
            region = read_region(file)
        except RegionError:
            region = None
        found.append(Former(int(matched.group(1)), file, region))
    return found


def keep_former(path: str | Path) -> Path | None:
    """Copy a file as it stands, hand edits and all, among its former versions; None where there is no file.

    Raises
    ------
    OutputError. The copy can't be written.
    """
    file = Path(path)
    if not file.exists():
        return None
    folder = history_folder(file)
    try:
        folder.mkdir(exist_ok=True)
        content = file.read_bytes()
    except OSError as fault:
        raise OutputError(
            f"the former version can't be kept: {fault.strerror}",
            where=str(folder),
            remedy="Check who may write there.",
        ) from fault
    number = max((former.number for former in formers(file)), default=0) + 1
    fitted = folder / FITTED
    if fitted.exists():
        write_whole(folder / f"{number:04d}.fitted", fitted.read_bytes())
    return write_whole(folder / f"{number:04d}.toml", content)


def go_back(path: str | Path, number: int | None = None) -> Former:
    """Put a former version in place again, by default the last; what stood there is kept too.

    Raises
    ------
    SlidefitError. There is no such version.
    OutputError. The file can't be written.
    """
    known = formers(path)
    chosen = [f for f in known if f.number == number] if number is not None else known[-1:]
    if not chosen:
        told = ", ".join(str(f.number) for f in known)
        raise SlidefitError(
            "has no former version" if not known else f"has no former version {number}",
            where=str(path),
            remedy=f"The versions are: {told}." if told else "A version is kept at every update.",
        )
    content, fitted = chosen[0].path.read_bytes(), chosen[0].path.with_suffix(".fitted")
    keep_former(path)
    write_whole(path, content)
    if fitted.exists():
        write_whole(history_folder(path) / FITTED, fitted.read_bytes())
    else:  # nothing tells what was fitted then: no number may pass for one set by hand
        (history_folder(path) / FITTED).unlink(missing_ok=True)
    return chosen[0]
