"""A region's file read, checked, described as JSON Schema.

Write it anew with ``python -m slidefit.regions.region_file > docs/region-schema.json``.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from statistics import median
from typing import Any

from pydantic import ValidationError

from slidefit.errors import RegionError, SlidefitError
from slidefit.regions.region import FORMAT, MONTH_KEYS, VERSION, Region, SexTable, spread_at, step_ends
from slidefit.toml_faults import Problem, Where, key_lines, placed, toml_tables_of, toml_text
from slidefit.toml_tables import problem_of

FRACTION_BELOW = 0.6
STEEP_PCT = 3.0
SPREAD_TOLERANCE = 0.03
SPREAD_ROUNDING = 0.02
YEAR_MEAN_TOLERANCE = 0.5
LEAST_CWT, MOST_CWT = 5.0, 5_000.0
"""Prices of calves that no record could hold: a twentieth of the lowest and over ten times the highest seen."""
SHORTEST_STEP_LB, LONGEST_STEP_LB = 5.0, 200.0


def region_problems(region: Region) -> Iterator[Problem]:
    """Yield what is wrong between fields that are each right by themselves."""
    if not region.markets:
        yield ("markets",), "is empty", "Name the places of sale."
    for name, part in (("standard", region.standard), ("basis", region.basis)):
        for where, what, remedy in part.problems() if part is not None else ():
            yield (name, *where), what, remedy
    low, high = region.price.seen_cwt
    if not LEAST_CWT < low <= high < MOST_CWT:
        remedy = f"Give the lower price first, both between {LEAST_CWT:g} and {MOST_CWT:,g}."
        yield ("price", "seen_cwt"), f"is {low:g} to {high:g}", remedy
    sexes = region.sexes()
    if region.standard.sex not in sexes:
        yield ("standard", "sex"), f"is {region.standard.sex}, which has no slide here", "Add its table."
    for sex, table in sexes.items():
        for where, what, remedy in sex_problems(table):
            yield (sex, *where), what, remedy
    yield from season_problems(region)
    if region.standard.grade not in region.grades:
        yield (
            ("standard", "grade"),
            f"is {region.standard.grade!r}, not among the grades",
            "Add it to [grades].",
        )
    yield from forecast_problems(region)
    if region.source.first_sale > region.source.last_sale:
        yield ("source", "first_sale"), "is after last_sale", "Put the dates in order."


def sex_problems(table: SexTable) -> Iterator[Problem]:
    """Yield broken steps, and slides given as fractions or with the wrong sign."""
    low, high = table.seen_lb
    if not low < high:
        yield ("seen_lb",), f"is {low:g} to {high:g}", "Give the lighter weight first."
    expected = low
    for key in table.slide:
        try:
            start, end = step_ends(key)
        except ValueError:
            yield ("slide", key), "is not a step of weight", "Write it like 500-550."
            return
        if start != expected:
            yield (
                ("slide", key),
                f"begins at {start:g} lb, where {expected:g} is next",
                "Leave no gap or overlap.",
            )
            return
        if not SHORTEST_STEP_LB <= end - start <= LONGEST_STEP_LB:
            yield ("slide", key), f"is {end - start:g} lb long", "Give steps of about 50 lb."
            return
        expected = end
    if not table.slide:
        yield ("slide",), "is empty", "Give the slide by steps of weight, such as 500-550 = [11.2, 0.4]."
    elif expected != high:
        yield (
            ("slide",),
            f"ends at {expected:g} lb, seen_lb at {high:g}",
            "Let the steps reach from end to end.",
        )
    else:
        yield from slip_problems(table)
    if not low <= table.discount_at_lb <= high:
        yield ("discount_at_lb",), f"is {table.discount_at_lb:g}, outside seen_lb", "Give a weight inside it."


def slip_problems(table: SexTable) -> Iterator[Problem]:
    """Yield slides that look like fractions or have the wrong sign, all together or one out of line."""
    slides = {key: value[0] for key, value in table.slide.items()}
    usual = median(slides.values())
    if all(abs(value) < FRACTION_BELOW for value in slides.values()) and any(slides.values()):
        key, value = next((key, value) for key, value in slides.items() if value)
        remedy = f"Give percent: {value:g} as a fraction is {100.0 * value:g}."
        yield ("slide", key), f"and the rest look like fractions ({value:g})", remedy
        return
    if usual < -1.0:
        key = next(key for key, value in slides.items() if value < 0)
        remedy = "Take the minus signs away: a slide is positive when heavier is cheaper."
        yield ("slide", key), f"is {slides[key]:g}: most slides here are negative, the wrong sign", remedy
        return
    names = list(slides)
    for place, key in enumerate(names):
        value = slides[key]
        around = [slides[n] for n in (*names[max(place - 2, 0) : place], *names[place + 1 : place + 3])]
        beside = median(around) if around else value
        if beside < STEEP_PCT:
            continue
        if value < 0 and abs(-value - beside) < abs(value - beside) / 2.0:
            remedy = "A slide is positive when heavier is cheaper: take the minus sign away."
            yield ("slide", key), f"is {value:g} between slides of about {beside:.1f}: the wrong sign", remedy
        elif 0 < value < FRACTION_BELOW and beside / 3.0 < 100.0 * value < beside * 3.0:
            remedy = f"Give percent: {value:g} as a fraction is {100.0 * value:g}."
            yield ("slide", key), f"is {value:g} between slides of about {beside:.1f}", remedy


def season_problems(region: Region) -> Iterator[Problem]:
    """Yield a season whose months don't average 100."""
    mean = sum(month[0] for month in region.season.months()) / 12.0
    if abs(mean - 100.0) > YEAR_MEAN_TOLERANCE:
        remedy = f"The mean of the year is 100: multiply all twelve by {100.0 / mean:.4f}, or fix the month."
        yield ("season",), f"has months that average {mean:.2f}", remedy


def forecast_problems(region: Region) -> Iterator[Problem]:
    """Yield rows of the spread by months ahead that their own parts don't give."""
    for key, given in region.forecast.spread_pct.items():
        if not re.fullmatch(r"\d{1,3}(?:\.\d+)?", key):
            yield ("forecast", "spread_pct", key), "is not a number of months ahead", "Write it like 3."
            continue
        months = float(key)
        made = spread_at(region.price, region.forecast, months)
        if abs(given - made) > max(SPREAD_TOLERANCE * made, SPREAD_ROUNDING):
            remedy = "Change walk_pct_month or drift_pct_month, which it is made from, and take this row out."
            yield ("forecast", "spread_pct", key), f"is {given:g}; the parts give {made:.2f}", remedy


def odd_notes(region: Region) -> tuple[str, ...]:
    """Return what is allowed but worth a second look: a slide that turns, a steeper one than the trade knows."""
    notes = []
    for sex, table in region.sexes().items():
        turned = [key for key, (value, _) in table.slide.items() if value < -0.5]
        steep = [key for key, (value, _) in table.slide.items() if value > 25.0]
        if turned:
            notes.append(
                f"{sex}: heavier calves bring more a pound from step {turned[0]} on ({len(turned)} steps); check that"
            )
        if steep:
            notes.append(f"{sex}: the slide is over 25 percent per cwt in step {steep[0]}; check that")
    return tuple(notes)


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
    RegionError. The text is not TOML, not a region, of a newer version, or at fault.
    """
    try:
        raw = toml_tables_of(text, name)
    except SlidefitError as fault:
        raise RegionError([fault]) from None
    lines = key_lines(text)
    if raw.get("format") != FORMAT:
        remedy = f'A region file begins with format = "{FORMAT}". Make one with: slidefit region make NAME'
        raise RegionError([SlidefitError("this is not a region file", where=name, remedy=remedy)])
    _check_version(raw.get("version"), name, lines)
    return build_region(raw, name, lines)


def _check_version(version: Any, name: str, lines: Mapping[Where, int]) -> None:
    """Refuse a version that this slidefit doesn't read."""
    newer = isinstance(version, int) and not isinstance(version, bool) and version > VERSION
    what, remedy = f"is {version!r}", f"Write version = {VERSION}."
    if newer:
        what = f"is {version}; this slidefit reads up to version {VERSION}"
        remedy = "Install a newer slidefit; the file itself is not at fault."
    if newer or version != VERSION or isinstance(version, bool):
        raise RegionError(placed([(("version",), what, remedy)], name, lines))


def build_region(raw: dict[str, Any], name: str, lines: Mapping[Where, int]) -> Region:
    """Check the tables of a file and build the region.

    Raises
    ------
    RegionError. Every problem found, in the order of the file.
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
    return where, what, remedy or "Give such a value, or put the former version in place again."


DIALECT = "https://json-schema.org/draft/2020-12/schema"


def region_schema() -> dict[str, Any]:
    """Return the JSON Schema of the tables of a region's file (dates as ISO text)."""
    return {"$schema": DIALECT, "$comment": f"region file, version {VERSION}", **Region.model_json_schema()}


def schema_text() -> str:
    """Return the schema as the text of its file."""
    return json.dumps(region_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.write(schema_text())
