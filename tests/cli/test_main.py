"""The command line as a whole: its names, its codes."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.cli.speaking import run_safely
from tests.cli.conftest import Run, refused


def test_wrong_words(run: Run, tmp_path: Path) -> None:
    (tmp_path / "barn.csv").write_text("Sale Date,Barn,Class,Grade,Head,Avg Wt,Price $/cwt\n")
    refused(run("add", "barn.csv", "--map", "Avg Wt"), "--map", "Avg Wt=weight_lb")
    refused(run("add", "barn.csv", "--map", "Avg Wt=wieght"), "wieght")
    refused(run("sell"), "sell")
    refused(run("fit", "--since", "spring"), "spring")
    refused(run("slide", "--month", 13), "13")


def test_a_fault_of_ours_is_told_apart(capsys: pytest.CaptureFixture[str]) -> None:
    def broken() -> None:
        raise ZeroDivisionError("division by zero")

    assert run_safely(broken) == 1
    assert "fault of the program" in capsys.readouterr().err


def test_interruption_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    def stopped() -> None:
        raise KeyboardInterrupt

    assert run_safely(stopped) == 130
    assert "stopped" in capsys.readouterr().err
