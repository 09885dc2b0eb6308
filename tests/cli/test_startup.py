"""What each command loads: a heavy library costs a third of a second and more, and creeps in by one import."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = {
    *("duckdb", "jinja2", "joblib", "matplotlib", "numpy", "openpyxl", "pandas", "pyarrow", "pydantic"),
    *("reportlab", "rich", "scipy", "sklearn", "statsmodels", "threadpoolctl"),
}
ROOT = Path(__file__).parents[2]
RUN = """
import json, sys
from slidefit.cli.main import slidefit
heavy, steps = json.loads(sys.argv[1])
for needed, commands in steps:
    for words in commands:
        slidefit.main(words.split(), standalone_mode=False)
    more = set(heavy) & set(sys.modules) - set(needed)
    assert not more, (commands, more)
"""
REGION = "regions/tern_hollow_country.toml"


@pytest.mark.parametrize(
    "steps",
    [  # each process goes from the commands that need least to those that need more
        [
            ([], ["--help"]),
            (["numpy"], ["slide", "season --json"]),
            (["numpy", "duckdb"], ["book", "book --json"]),
            (["numpy", "duckdb", "threadpoolctl"], ["fit --out again.json"]),
        ],
        [
            (["numpy", "pydantic"], ["compare plan.toml", "months plan.toml --json", "flip plan.toml"]),
            (["numpy", "pydantic"], [f"region show {REGION}", f"region check {REGION}"]),
        ],
    ],
    ids=["records", "plan"],
)
def test_commands_load_no_more_than_they_need(
    demo_folder: Path, steps: list[tuple[list[str], list[str]]]
) -> None:
    done = subprocess.run(
        [sys.executable, "-c", RUN, json.dumps([sorted(HEAVY), steps])],
        capture_output=True,
        text=True,
        cwd=demo_folder,
        env={"PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout
