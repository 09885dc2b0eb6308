"""What DEVELOPERS.md says of the house is so, and a newcomer's first changes work as it says."""

from __future__ import annotations

import importlib
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

CHANGED = """
import slidefit
from slidefit.decision.comparison import compare
from plan_page import plan_document
from slidefit.plan.plan_file import build_plan
from slidefit.report.plan_labels import LABELS
from outlooks import make_outlook
from plans import changed_program, raw_plan

read = slidefit.read("odd.csv")
assert read.accepted == 2, read.notes
assert sorted(read.records["weight_lb"]) == [512.0, 604.0], read.records["weight_lb"]

def answer(**more):
    return compare(make_outlook(), build_plan(raw_plan(programs=changed_program(**more)))).groups[0].keep[0]

plain, bedded = answer(), answer(straw_head_day=1.0)
assert "straw_head_day" in plan_document()
lines = {line.label: line.amount_per_head for line in bedded.lines}
days = bedded.days
assert abs(lines["straw for the pens"] + days) < 1e-9, lines
moved = plain.budget_gain_per_head - bedded.budget_gain_per_head
assert days <= moved <= days * 1.1, (moved, days)
spent = [option.cash[-1].total_herd for option in (plain, bedded)]
assert abs(spent[1] - spent[0] - days * plain.head_kept) < 0.1 * days * plain.head_kept, spent
print("the changes work")
"""


def test_every_file_that_is_named_stands_there() -> None:
    named = set(re.findall(r"`?(slidefit/[\w/]+\.(?:py|toml))", PAGE)) - {"slidefit/a/b.py"}
    assert len(named) > 25
    assert not [name for name in named if not (ROOT / name).exists()]


def test_every_test_that_a_document_names_exists() -> None:
    pages = (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md")))
    text = "\n".join(page.read_text(encoding="utf-8") for page in pages)
    named = set(re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", text))
    assert len(named) > 45 and any(name for _, name in named)
    for path, name in named:
        assert not name or f"def {name}(" in (ROOT / path).read_text(encoding="utf-8"), f"{path}::{name}"
    assert not [path for path, _ in named if path != "tests/a/test_b.py" and not (ROOT / path).exists()]
    controls = re.findall(r"^\| (V\d+) [^|]*\|[^|]*\|([^|]*)\|$", text, re.MULTILINE)
    assert len(controls) == 14
    assert [name for name, held in controls if "::test_" not in held] == ["V9"]  # plain HTTP: told as not met


def test_every_central_type_stands_where_the_table_says() -> None:
    rows = re.findall(r"^\| `(\w+)` \|.*\| `slidefit/([\w/]+)\.py` \|$", PAGE, re.MULTILINE)
    assert len(rows) == 11
    for name, path in rows:
        module = importlib.import_module("slidefit." + path.replace("/", "."))
        assert getattr(module, name).__module__ == module.__name__


def test_a_heading_and_a_cost_are_one_row_each(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "slidefit", tmp_path / "slidefit", ignore=shutil.ignore_patterns("__pycache__"))
    words = tmp_path / "slidefit/records/words/vocabulary.toml"
    text = words.read_text(encoding="utf-8")
    row = re.search(r"^\[fields\.weight\]\n(?:.*\n)*?headings = '{1,3}\n?", text, re.MULTILINE)
    assert row, "the list of headings of a field stands elsewhere"
    words.write_text(f"{text[: row.end()]}poundage of a beast|{text[row.end() :]}", encoding="utf-8")
    costs = tmp_path / "slidefit/plan/costs.py"
    text = costs.read_text(encoding="utf-8")
    row = re.search(r"^KEEPING_COSTS = \(\n", text, re.MULTILINE)
    assert row
    new = '    Cost("straw_head_day", "straw for the pens", "$/head-day", "Straw.", 10, "day"),\n'
    costs.write_text(f"{text[: row.end()]}{new}{text[row.end() :]}", encoding="utf-8")
    (tmp_path / "odd.csv").write_text(
        "Sale Date,Class,Head,Poundage of a Beast,Price $/cwt\n"
        "2025-10-07,Steers,4,512,350.00\n2025-10-07,Steers,5,604,320.00\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", CHANGED],
        cwd=tmp_path, capture_output=True, text=True, check=False,
        env={"PYTHONPATH": f"{tmp_path}:{ROOT / 'tests' / 'decision'}:{ROOT / 'docs'}", "PATH": "/usr/bin:/bin"},
    )  # fmt: skip
    assert done.stdout.strip() == "the changes work", done.stderr[-2000:]
