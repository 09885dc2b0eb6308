"""A region's file with any value in any field, any line lost, cut off anywhere: the same answer, or its faults told."""

from __future__ import annotations

import re

import numpy as np
import pytest

from slidefit.errors import RegionError
from slidefit.regions.region import Basis, Region, SexTable, spread_at
from slidefit.regions.region_file import parse_region
from slidefit.regions.region_outlook import outlook_of_region, price_sheet, region_slides
from slidefit.regions.region_text import write_region

VALUES = (
    "0", "-1", "1e9", "nan", "inf", "-inf", '""', '"x"', "true", "[]", "{}", "1979-05-27", "1" + "0" * 30,
)  # fmt: skip
# rows that are as others of their table
ALIKE = re.compile(r"(feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|[2-9]|1[0-2]|5\d\d-\d+) = ")
# what a file may do without, or what a missing line can't be told from: another file
FREE = re.compile(
    r'remarks|currency|"|\w+_(pct|head) = |shrink_pct|scale|spread_pct|\d+ = |weight_lb = |months = '
)


@pytest.fixture(scope="module")
def small(shipped: Region) -> Region:
    """The shipped region with few steps, one other sex and grade, and a basis."""
    steer = cut_to(shipped.sexes()["steer"], 450.0, 600.0)
    heifer = cut_to(shipped.sexes()["heifer"], 450.0, 600.0)
    grades = dict(list(shipped.grades.items())[:2])
    basis = Basis(spread_pct=3.0, month_share=0.5, month_pct=tuple(float(m) for m in range(-6, 6)))
    update = {"steer": steer, "heifer": heifer, "bull": None, "grades": grades, "basis": basis, "pool": None}
    return shipped.model_copy(update=update)


def cut_to(table: SexTable, low: float, high: float) -> SexTable:
    kept = {f"{a:g}-{b:g}": (s, e) for a, b, s, e in table.steps() if a >= low and b <= high}
    return table.model_copy(update={"slide": kept, "seen_lb": (low, high)})


@pytest.fixture(scope="module")
def lines(small: Region) -> list[str]:
    return write_region(small).split("\n")


def answer(region: Region) -> np.ndarray:
    """Every price, slide and range that others take from a file, as one array."""
    outlook = outlook_of_region(region)
    spreads = [spread_at(region.price, region.forecast, h) for h in (1.0, 6.0)]
    parts = [[outlook.log_level, outlook.level_sd, *spreads], outlook.season_log, outlook.season_cov.ravel()]
    parts += [
        each.ravel() for curve in outlook.curves.values() for each in (curve.log_relative, curve.slope_sd_cwt)
    ]
    slides = region_slides(region)[["percent_per_cwt", "percent_low", "percent_high"]]
    parts += [slides.to_numpy().ravel(), price_sheet(region, "heifer", 300.0).to_numpy().ravel()]
    return np.concatenate([np.asarray(part, dtype=float) for part in parts])


def outcome(text: str) -> Region | None:
    """The region that a text gives, or None where it is refused with place, fault and remedy."""
    try:
        return parse_region(text, "west.toml")
    except RegionError as fault:
        for problem in fault.problems:
            assert "west.toml" in str(problem.where) and str(problem.what) and str(problem.remedy), str(
                problem
            )
        return None


def test_any_value_in_any_field(lines: list[str]) -> None:
    refused = accepted = 0
    for at, line in enumerate(lines):
        parts = re.match(r'^("?[^=#\[]+"?) = (.*)$', line)
        if parts is None or ALIKE.match(line):
            continue
        for value in VALUES:
            region = outcome("\n".join([*lines[:at], f"{parts[1]} = {value}", *lines[at + 1 :]]))
            if region is None:
                refused += 1
            else:
                accepted += 1
                assert np.isfinite(answer(region)).all(), (line, value)
    assert refused > 400 and accepted > 50


@pytest.mark.parametrize("value", ["nan", "-1e9", "1e9", '"x"'])
def test_any_value_in_either_half_of_a_pair(lines: list[str], value: str) -> None:
    for at, line in enumerate(lines):
        pair = re.match(r"^(\S+) = \[ *([^,]+), +([^,]+)\]$", line)
        for changed in (
            (f"{pair[1]} = [{value}, {pair[3]}]", f"{pair[1]} = [{pair[2]}, {value}]") if pair else ()
        ):
            assert outcome("\n".join([*lines[:at], changed, *lines[at + 1 :]])) is None, changed


def test_every_line_lost(lines: list[str], small: Region) -> None:
    """A line lost is refused, or it was one that prices don't rest on."""
    before = answer(small)
    for at, line in enumerate(lines):
        region = outcome("\n".join([*lines[:at], *lines[at + 1 :]]))
        if region is not None and not FREE.match(line):
            np.testing.assert_array_equal(answer(region), before, err_msg=line)


def test_cut_off_anywhere(lines: list[str]) -> None:
    text = "\n".join(lines)
    end = len(text.rstrip())
    for cut in range(0, end, end // 200):
        assert outcome(text[:cut]) is None, text[max(cut - 60, 0) : cut]
