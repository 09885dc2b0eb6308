"""A region's file is read, and each slip of hand is told with its line and its remedy."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from slidefit.errors import RegionError
from slidefit.regions.region import Region
from slidefit.regions.region_file import parse_region, read_region
from slidefit.regions.region_folder import save_region
from slidefit.regions.region_text import write_region


def told(text: str) -> list[str]:
    with pytest.raises(RegionError) as caught:
        parse_region(text, "west.toml")
    return [str(problem) for problem in caught.value.problems]


def line_of(text: str, start: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), 1) if line.startswith(start))


def replaced(text: str, old: str, new: str, table: str = "") -> str:
    """Replace the first match of a pattern, after a table's heading."""
    at = text.index(table)
    changed, count = re.subn(old, new, text[at:], count=1, flags=re.MULTILINE)
    assert count == 1, old
    return text[:at] + changed


def test_it_reads_back_as_written(shipped: Region, region: Region) -> None:
    for each in (shipped, region):
        assert parse_region(write_region(each)) == each


def test_a_hand_edited_file_works(shipped: Region, shipped_text: str) -> None:
    edited = replaced(
        shipped_text, r"^500-550 = .*$", "500-550 = [13.5, 0.5]  # our own view", "[steer.slide]"
    )
    edited = edited.replace("remarks = []", 'remarks = ["steers steepened by hand"]')
    read = parse_region(edited)
    assert read.sexes()["steer"].slide["500-550"] == (13.5, 0.5)
    assert read.remarks == ("steers steepened by hand",)
    assert read.heifer == shipped.heifer


SLIPS = [
    ("misspelt key", "", r"^walk_pct_month", "walk_pct_mnth", "walk_pct_mnth", "walk_pct_month"),
    (
        "unknown key of a grade",
        "",
        r"discount_pct = 0.0, slide_more",
        "discont_pct = 0.0, slide_more",
        '"ML 1"',
        "discount_pct",
    ),
    ("wrong sign", "[steer.slide]", r"^500-550 = \[", "500-550 = [-", "500-550", "minus sign"),
    ("fraction", "[steer.slide]", r"^500-550 = .*$", "500-550 = [0.118, 0.2]", "500-550", "11.8"),
    ("month missing", "[season]", r"^may = .*\n", "", "[season]", "twelve months"),
    ("index about 1", "[season]", r"^may = .*$", "may = [1.02, 0.8]", "may", "write 102"),
    ("months off 100", "[season]", r"^may = .*$", "may = [122.0, 0.8]", "[season]", "multiply"),
    ("gap in the steps", "[heifer.slide]", r"^500-550 = .*\n", "", "550-600", "gap"),
    ("bad step", "[heifer.slide]", r"^500-550 = ", "5oo-550 = ", "5oo-550", "500-550"),
    (
        "spread of months gone by",
        "[forecast.spread_pct]",
        r"^7 = .*$",
        "-1 = 11.0",
        "-1 =",
        "Write it like 3",
    ),
    ("spread against its parts", "[forecast.spread_pct]", r"^6 = .*$", "6 = 30.0", "6 =", "walk_pct_month"),
    (
        "walk as a fraction",
        "[forecast]",
        r"^walk_pct_month = .*$",
        "walk_pct_month = 0.03",
        "walk_pct_month",
        "3 percent",
    ),
    (
        "another standard weight",
        "[standard]",
        r"^weight_lb = .*$",
        "weight_lb = 500.0",
        "weight_lb",
        "Write 550",
    ),
    ("price by the pound", "[price]", r"^standard_cwt = .*$", "standard_cwt = 3.62", "standard_cwt", "362"),
    (
        "dates out of order",
        "[source]",
        r"^first_sale = .*$",
        "first_sale = 2027-01-01",
        "first_sale",
        "order",
    ),
    (
        "commission as a fraction",
        "[selling]",
        r"^commission_pct = .*$",
        "commission_pct = 0.03",
        "commission_pct",
        "3 percent",
    ),
]


@pytest.mark.parametrize(
    ("table", "old", "new", "at", "remedy"), [s[1:] for s in SLIPS], ids=[s[0] for s in SLIPS]
)
def test_slips(shipped_text: str, table: str, old: str, new: str, at: str, remedy: str) -> None:
    edited = replaced(shipped_text, old, new, table)
    problems = told(edited)
    start = edited.index(table) if table else 0
    line = edited[:start].count("\n") + line_of(edited[start:], at)
    assert any(f"line {line}," in problem and remedy in problem for problem in problems), problems


def test_all_slides_as_fractions_or_with_the_wrong_sign(shipped_text: str) -> None:
    head, _, rest = shipped_text.partition("[heifer.slide]")
    table, _, tail = rest.partition("\n\n")
    shares = re.sub(
        r"\[ *([\d.]+), +([\d.]+)\]", lambda m: f"[{float(m[1]) / 100}, {float(m[2]) / 100}]", table
    )
    (problem,) = told(f"{head}[heifer.slide]{shares}\n\n{tail}")
    assert "fractions" in problem and "heifer.slide" in problem
    minus = re.sub(r"\[ *([\d.]+)", r"[-\1", table)
    (problem,) = told(f"{head}[heifer.slide]{minus}\n\n{tail}")
    assert "wrong sign" in problem


def test_a_slide_may_turn_where_heavier_is_dearer(shipped_text: str) -> None:
    edited = re.sub(r"^850-892 = .*$", "850-892 = [-0.9, 0.8]", shipped_text, flags=re.MULTILINE)
    edited = re.sub(r"^800-850 = .*$", "800-850 = [1.1, 0.7]", edited, flags=re.MULTILINE)
    edited = re.sub(r"^750-800 = .*$", "750-800 = [2.5, 0.7]", edited, flags=re.MULTILINE)
    assert parse_region(edited).sexes()["steer"].slide["850-892"][0] == -0.9


def test_all_problems_at_once_in_the_order_of_the_file(shipped_text: str) -> None:
    edited = shipped_text.replace("walk_pct_month", "walk").replace("standard_cwt", "standrd_cwt")
    problems = told(edited)
    lines = [int(m[1]) for p in problems if (m := re.search(r"line (\d+)", p))]
    assert len(problems) >= 4 and lines == sorted(lines)


def test_versions(shipped_text: str) -> None:
    (problem,) = told(shipped_text.replace("version = 1", "version = 2"))
    assert "newer slidefit" in problem and "line 6" in problem
    assert "Write version = 1" in told(shipped_text.replace("version = 1", 'version = "one"'))[0]
    assert "Write version = 1" in told(shipped_text.replace("version = 1", "version = 0"))[0]


def test_what_is_no_region(tmp_path: Path, shipped_text: str) -> None:
    with pytest.raises(RegionError, match="no such file"):
        read_region(tmp_path / "gone.toml")
    with pytest.raises(RegionError, match="not a region file"):
        parse_region('title = "a plan"\n')
    with pytest.raises(RegionError, match=r"line 3.*quotes"):
        parse_region("a = 1\nb = 2\nc = \n")
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(RegionError, match="as text"):
        read_region(tmp_path / "binary.toml")
    path = save_region(parse_region(shipped_text), tmp_path / "west.toml")
    assert read_region(path) == parse_region(shipped_text)
