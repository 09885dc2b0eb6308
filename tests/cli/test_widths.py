"""Every table of the commands at 60, 80 and 120 columns: no number is cut, no column goes without a word."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from slidefit.report.render.terminal import LEFT_OUT, columns_of
from tests.cli.conftest import ROOT, Run, first_lots

COMMANDS = (
    "slide --month 3", "season", "book", "compare {plan}", "compare {plan} --detail", "months {plan}", "flip {plan}",
    "flip {plan} --grid gain,feed_cost", "flip {plan} --sort", "region show {region}", "region check {region}",
    "add {barn} --dry-run",
)  # fmt: skip
NUMBER = re.compile(r"(?<![\w.])[+-]?\$?\d[\d,]*(?:\.\d+)?%?(?![\w.])")


@pytest.mark.parametrize("command", COMMANDS)
def test_nothing_is_cut_or_lost(
    run: Run, demo_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    data = ROOT / "data_demo"
    barn = first_lots("cold_kettle_auction.csv", tmp_path)
    words = command.format(plan=data / "plan.toml", region=data / "kettle_fork.toml", barn=barn).split()
    if words[0] in ("slide", "season", "compare", "months", "flip"):
        words += ["--fit", str(demo_folder / "slide.json")]
    if words[0] == "book":
        words += ["--book", str(demo_folder / "sales.duckdb")]
    told: dict[int, str] = {}
    for width in (120, 80, 60):
        monkeypatch.setattr(
            "shutil.get_terminal_size", lambda _=None, wide=width: os.terminal_size((wide, 24))
        )
        done = run(*words)
        assert done.code == 0, done.err
        told[width] = done.out
        wide_lines = [
            line for line in done.out.splitlines() if columns_of(line) > width and len(line.split()) > 1
        ]
        assert not wide_lines and "…" not in done.out
    assert LEFT_OUT not in told[120]
    for width in (80, 60):
        lost = set(NUMBER.findall(told[120])) - set(NUMBER.findall(told[width]))
        assert not lost or LEFT_OUT in told[width], (width, sorted(lost)[:5])
