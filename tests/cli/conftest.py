"""The command run in this process, and the demonstration done once."""

from __future__ import annotations

import json
import shutil
import time
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


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that ``slidefit demo`` leaves: made once for all processes of the tests, and a copy for each."""
    own = tmp_path_factory.mktemp("demo") / "out"
    base = tmp_path_factory.getbasetemp()
    shared = (base.parent if base.name.startswith("popen") else base) / "demo-of-all"
    try:
        shared.mkdir()
    except FileExistsError:
        for _ in range(1200):
            if (shared / "made").exists():
                break
            time.sleep(0.1)
    else:
        words = ["demo", "--out", str(shared / "out"), "--json"]
        code = run_safely(lambda: slidefit.main(words, standalone_mode=False))
        (shared / "made").write_text(str(code))
    assert (shared / "made").read_text() == "0"
    return Path(shutil.copytree(shared / "out", own))
