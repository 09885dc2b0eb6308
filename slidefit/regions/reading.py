"""From a file to a checked region, with every problem told at once and with its line."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from slidefit.errors import RegionError, SlidefitError
from slidefit.regions.checks import region_problems
from slidefit.regions.region import FORMAT, MONTH_KEYS, VERSION, Region
from slidefit.toml_faults import Problem, placed, syntax_fault, toml_text
from slidefit.toml_lines import Where, key_lines
from slidefit.toml_tables import problem_of

Migration = Callable[[dict[str, Any]], dict[str, Any]]

MIGRATIONS: dict[int, Migration] = {}
"""From a version to the next: a function of the file's tables. Empty while version 1 is the only one."""


def read_region(path: str | Path) -> Region:
    """Read a region's default file.

    Raises
    ------
    RegionError
        The file is missing, not text, not a region, of a newer version, or at fault; every problem has its line.
    """
    file = Path(path)
    try:
        text = toml_text(file)
    except SlidefitError as fault:
        raise RegionError([fault]) from None
    return parse_region(text, file.name)


def parse_region(text: str, name: str = "region") -> Region:
    """Read a region from TOML text; ``name`` stands in messages.

    Raises
    ------
    RegionError
        The text is not TOML, not a region, of a newer version, or at fault.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise RegionError([syntax_fault(fault, text, name)]) from None
    lines = key_lines(text)
    if raw.get("format") != FORMAT:
        remedy = f'A region file begins with format = "{FORMAT}". Make one with: slidefit region make NAME'
        raise RegionError([SlidefitError("this is not a region file", where=name, remedy=remedy)])
    return build_region(migrated(raw, name, lines), name, lines)


def migrated(raw: dict[str, Any], name: str, lines: Mapping[Where, int]) -> dict[str, Any]:
    """Return the tables of a file as this version has them, carried from an older one step by step.

    Raises
    ------
    RegionError
        The version is newer than this slidefit reads, or none at all.
    """
    version = raw.get("version")
    sound = isinstance(version, int) and not isinstance(version, bool) and version >= 1
    if not sound or not isinstance(version, int):
        problem: Problem = ("version",), f"is {version!r}", f"Write version = {VERSION}."
        raise RegionError(placed([problem], name, lines))
    if version > VERSION:
        what = f"is {version}; this slidefit reads up to version {VERSION}"
        raise RegionError(
            placed(
                [(("version",), what, "Install a newer slidefit; the file itself is not at fault.")],
                name,
                lines,
            )
        )
    while version < VERSION:
        raw = {**MIGRATIONS[version](raw), "version": version + 1}
        version += 1
    return raw


def build_region(raw: dict[str, Any], name: str, lines: Mapping[Where, int]) -> Region:
    """Check the tables of a file and build the region.

    Raises
    ------
    RegionError
        Every problem found, in the order of the file.
    """
    try:
        region = Region.model_validate(raw)
    except ValidationError as fault:
        found = [field_problem(error) for error in fault.errors(include_url=False)]
        raise RegionError(placed(found, name, lines)) from None
    problems = list(region_problems(region))
    if problems:
        raise RegionError(placed(problems, name, lines))
    return region


def field_problem(error: Any) -> Problem:
    """Return one fault of a field in the user's words, with the slips that region files are prone to."""
    where, what, remedy = problem_of(error, Region, "region file")
    value = error["input"]
    key = where[-1] if where else ""
    table = where[0] if where else ""
    if table == "season" and isinstance(value, float) and 0.5 < value < 2.0:
        return where, what, f"The mean of the year is 100, not 1: write {100.0 * value:g}."
    if error["type"] == "missing" and key in MONTH_KEYS:
        return where, "is missing: a season has twelve months", f"Add {key} = [index, standard error]."
    if error["type"] == "missing" and len(where) == 1:
        return where, "is missing", f"Add it: {Region.model_fields[str(key)].description}"
    return where, what, remedy
