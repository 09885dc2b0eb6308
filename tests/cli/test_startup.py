"""What each command loads: a heavy library costs a third of a second and more, and creeps in by one import."""

from __future__ import annotations

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
import sys
from slidefit.cli.main import slidefit
for words in sys.argv[2:]:
    slidefit.main(words.split(), standalone_mode=False)
assert not set(sys.argv[1].split()) & set(sys.modules), set(sys.argv[1].split()) & set(sys.modules)
"""


@pytest.mark.parametrize(
    ("needed", "commands"),
    [
        ({}, ["--help"]),
        ({"numpy"}, ["slide", "season --json"]),
        ({"duckdb", "numpy"}, ["book", "book --json"]),
        ({"duckdb", "numpy", "threadpoolctl"}, ["fit --out again.json"]),
        ({"numpy", "pydantic"}, ["compare plan.toml", "months plan.toml --json", "flip plan.toml"]),
        (
            {"numpy", "pydantic"},
            ["region show regions/tern_hollow_country.toml", "region check regions/tern_hollow_country.toml"],
        ),
    ],
    ids=["help", "market", "book", "fit", "plan", "region"],
)
def test_commands_load_no_more_than_they_need(
    demo_folder: Path, needed: set[str], commands: list[str]
) -> None:
    done = subprocess.run(
        [sys.executable, "-c", RUN, " ".join(HEAVY - set(needed)), *commands],
        capture_output=True,
        text=True,
        cwd=demo_folder,
        env={"PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout
