"""A folder of regions: written, listed, former versions kept."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from slidefit.errors import OutputError, RegionError, SlidefitError
from slidefit.files import write_whole
from slidefit.regions.region import FORMAT, MONTH_KEYS, Region, SexTable, Source, age_days, is_stale
from slidefit.regions.region_file import read_region
from slidefit.toml_tables import TomlTable, toml_value


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


LONGEST_NAME = 100
"""Characters of a region's name: its file's and its former versions' stay under the 255 bytes of file systems."""


def place_for(folder: str | Path, name: str) -> Path:
    """Return where a region of a name goes: a free place, or the file of the region of that very name.

    Raises
    ------
    SlidefitError
        The name is empty or too long, or its file would take the place of something else: a file that is not a region,
        or a region of another name.
    """
    check_name(name)
    path = Path(folder) / file_name(name)
    check_place(path, name)
    return path


def check_name(name: str) -> None:
    """Check a region's name.

    Raises
    ------
    SlidefitError
        It is empty or too long.
    """
    if not name.strip() or len(name) > LONGEST_NAME:
        what = "is empty" if not name.strip() else f"has {len(name)} characters"
        raise SlidefitError(
            f"the region's name {what}", remedy=f"Give it a name of 1 to {LONGEST_NAME} characters."
        )


def check_place(path: Path, name: str) -> None:
    """Check that a region of a name may be written to a place.

    Raises
    ------
    SlidefitError
        A file that is not a region stands there, or a region of another name.
    """
    if not path.exists():
        return
    if path.is_dir() or not _says_region(path):
        raise SlidefitError(
            "stands there and is not a region file",
            where=str(path),
            remedy="Give the region another name, or its file another place.",
        )
    try:
        other = read_region(path).name
    except RegionError:
        return
    if other != name:
        raise SlidefitError(
            f"is the file of the region {other}",
            where=str(path),
            remedy=f"Give {name} a name that differs from it by letters or digits, or its file another place.",
        )


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


OPENING = """# Regional defaults for slidefit: prices by weight and season, for those without records.
# Weights are pounds, prices dollars per hundredweight ($/cwt), percentages are in percent (2 is two percent).
# Edit any number; "slidefit region check FILE" tells what doesn't hold. An estimate from past sales, no promise."""


def save_region(region: Region, path: str | Path) -> Path:
    """Write a region's file, whole or not at all.

    Raises
    ------
    OutputError
        The folder is missing, read-only or full; what was there before stays.
    """
    return write_whole(path, write_region(region))


def write_region(region: Region) -> str:
    """Return the region as TOML, with a word on what each table is; it reads back to the same region."""
    head = [OPENING, "", *_fields(region, ("format", "version", "name", "markets", "currency", "remarks"))]
    parts = [
        head,
        ["[price]  # of the standard calf; seen_cwt: lowest and highest in the records", *_all(region.price)],
        ["[standard]  # the calf that all prices are told against", *_all(region.standard)],
        [
            "[season]  # price of the same calf, mean of the year = 100; one standard error in percent",
            *_fields(region.season, ("waves", "unseen")),
            *_months(region.season.months()),
        ],
        [
            "[slide_season]  # points added to every slide below, at 450 lb and at 750 lb, straight between",
            *_months(region.slide_season.months(), sign=True),
        ],
        *(part for sex, table in region.sexes().items() for part in _sex(sex, table)),
        *_grades(region),
        [
            "[forecast]  # how far the price may wander, in percent (one standard error)",
            *_fields(region.forecast, ("walk_pct_month", "drift_pct_month", "scale")),
        ],
        [
            "[forecast.spread_pct]  # by months ahead, made from the numbers above and price.se_pct; season apart",
            *_pairs(region.forecast.spread_pct.items()),
        ],
        ["[noise]  # how one lot strays from the expected price", *_all(region.noise)],
        [
            "[selling]  # typical costs; used where a plan has no [selling] of its own",
            *_given(region.selling),
        ],
    ]
    if region.basis is not None:
        parts.append(
            ["[basis]  # cash above the nearest feeder cattle contract, January first", *_all(region.basis)]
        )
    if region.pool is not None:
        parts.append(
            ["[pool]  # the slide of a market with few sales is drawn toward these markets together"]
        )
        parts[-1] += _fields(region.pool, ("name", "markets"))
        between = ", ".join(f"{sex} = {toml_value(sd)}" for sex, sd in region.pool.between_pct.items())
        parts[-1].append(f"between_pct = {{ {between} }}")
    # last, and its notes the last of it: a file that is cut off can't be read as a whole one
    parts.append(["[source]  # where the numbers came from", *_source(region.source)])
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _fields(table: TomlTable, names: Iterable[str]) -> list[str]:
    return [f"{name} = {toml_value(getattr(table, name))}" for name in names]


def _all(table: TomlTable) -> list[str]:
    return _fields(table, type(table).model_fields)


def _source(source: Source) -> list[str]:
    plain = _fields(source, [name for name in Source.model_fields if name != "notes"])
    return [*plain, "notes = [", *(f"  {toml_value(note)}," for note in source.notes), "]"]


def _given(table: TomlTable) -> list[str]:
    return _fields(table, [name for name in type(table).model_fields if getattr(table, name) is not None])


def _months(rows: Sequence[tuple[float, float]], *, sign: bool = False) -> list[str]:
    texts = [tuple(f"{value:+}" if sign else repr(value) for value in row) for row in rows]
    return [f"{key} = [{a:>6}, {b:>6}]" for key, (a, b) in zip(MONTH_KEYS, texts, strict=True)]


def _pairs(items: Iterable[tuple[str, Any]]) -> list[str]:
    return [f"{key} = {toml_value(value)}" for key, value in items]


def _sex(sex: str, table: SexTable) -> Iterable[list[str]]:
    names = [name for name in SexTable.model_fields if name != "slide"]
    yield [
        f"[{sex}]  # discount against the standard calf; _more: points added when prices rise by 10 percent",
        *_fields(table, names),
    ]
    yield [
        f"[{sex}.slide]  # from-to lb = [fall of price in percent per cwt, its standard error], mean of the year",
        *(f"{key} = [{slide!r:>5}, {error!r:>4}]" for key, (slide, error) in table.slide.items()),
    ]


def _grades(region: Region) -> Iterable[list[str]]:
    rows = [
        f"{toml_value(name)} = {{ discount_pct = {grade.discount_pct!r}, slide_more = {grade.slide_more!r}, "
        f"discount_se = {grade.discount_se!r} }}"
        for name, grade in region.grades.items()
    ]
    yield [
        "[grades]  # against the standard grade: discount at 550 lb, points added to its slide, error of the discount",
        *rows,
    ]


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
