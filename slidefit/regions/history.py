"""The former versions of a region's file, kept beside it: nothing that once stood in it is lost."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from slidefit.errors import OutputError, RegionError, SlidefitError
from slidefit.output import write_whole
from slidefit.regions.reading import read_region
from slidefit.regions.region import Region
from slidefit.regions.writing import save_region

NUMBERED = re.compile(r"(\d{4,})\.toml")


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
    OutputError
        The copy can't be written.
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
    return write_whole(folder / f"{number:04d}.toml", content)


def replace_region(region: Region, path: str | Path) -> Path | None:
    """Write a region's file after keeping what stood there; return where that is kept.

    Raises
    ------
    OutputError
        Either can't be written; the file is then as it was.
    """
    kept = keep_former(path)
    save_region(region, path)
    return kept


def go_back(path: str | Path, number: int | None = None) -> Former:
    """Put a former version in place again, by default the last; what stood there is kept too.

    Raises
    ------
    SlidefitError
        There is no such version.
    OutputError
        The file can't be written.
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
    content = chosen[0].path.read_bytes()
    keep_former(path)
    write_whole(path, content)
    return chosen[0]
