"""The command run in this process, and the demonstration done once."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from slidefit.cli.main import slidefit
from slidefit.cli.speaking import run_safely

ROOT = Path(__file__).parent.parent.parent


@dataclass(frozen=True)
class Outcome:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Run = Callable[..., Outcome]


def first_lots(name: str, folder: Path) -> Path:
    """Write the first 1,100 rows of a barn's file of the demonstration."""
    lines = (ROOT / "data_demo" / name).read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / name).write_text("".join(lines[:1_101]), encoding="utf-8")
    return folder / name


def refused(outcome: Outcome, *words: str) -> None:
    """Hold that the input was at fault (code 2), that the words are in the message and nothing was answered."""
    assert outcome.code == 2, outcome
    assert outcome.out == ""
    assert outcome.err.startswith(("slidefit: ", "Usage:")) and "Traceback" not in outcome.err
    for word in words:
        assert word in outcome.err, (word, outcome.err)


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run ``slidefit`` with words, in a folder of its own."""
    monkeypatch.chdir(tmp_path)

    def call(*words: object) -> Outcome:
        capsys.readouterr()
        code = run_safely(lambda: slidefit.main([str(w) for w in words], standalone_mode=False))
        told = capsys.readouterr()
        return Outcome(code, told.out, told.err)

    return call
