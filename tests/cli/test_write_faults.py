"""A writing command with a fault at its n-th open, write, sync or rename: old or new, the cause named, nothing left.

A share of all, drawn by a seed; `tests/faults/run_faults.py` tries every n, with faults under DuckDB too, and kills.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
import random
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
import pytest

from slidefit.cli import plan_commands
from slidefit.cli.main import slidefit
from slidefit.regions.region_folder import keep_former
from slidefit.report.document import document
from tests.cli.conftest import Run
from tests.faults.run_faults import BEGUN, ERRORS, READING, prepare
from tests.faults.run_faults import COMMANDS as WRITING

KINDS = ("open", "write", "sync", "name")
NAMES = ("replace", "rename", "link", "mkdir")
EACH = 2  # faults of each kind for every command


class FaultyFile:
    """A file whose writes are counted, the n-th failing."""

    def __init__(self, file: Any, meet: Callable[[str], None]) -> None:
        self.file, self.meet = file, meet

    def __enter__(self) -> FaultyFile:
        return self

    def __exit__(self, *_: object) -> None:
        self.file.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self.file, name)

    def write(self, content: bytes) -> int:
        self.meet("write")
        return int(self.file.write(content))


@contextmanager
def fault_at(folder: Path, kind: str, n: int, number: int) -> Iterator[dict[str, int]]:
    """Let the n-th operation of a kind below the folder fail; give how many of each there were."""
    seen = dict.fromkeys(KINDS, 0)
    root = str(folder.resolve())

    def meet(what: str) -> None:
        seen[what] += 1
        if what == kind and seen[what] == n:
            raise OSError(number, os.strerror(number))

    def met(what: str, real: Callable[..., Any], at: int = 0) -> Callable[..., Any]:
        def called(*words: Any, **named: Any) -> Any:
            place = words[at] if len(words) > at else ""
            below = isinstance(place, str | Path) and str(Path(place).absolute()).startswith(root)
            if what == "sync" or below:
                meet(what)
            return real(*words, **named)

        return called

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "open", met("open", os.open))
        patch.setattr(io, "open", met("open", io.open))
        patch.setattr(builtins, "open", met("open", builtins.open))
        patch.setattr(os, "fsync", met("sync", os.fsync))
        fdopen = os.fdopen
        patch.setattr(os, "fdopen", lambda *words, **named: FaultyFile(fdopen(*words, **named), meet))
        for name in NAMES:
            patch.setattr(os, name, met("name", getattr(os, name), at=0 if name == "mkdir" else 1))
        yield seen


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder, here = tmp_path_factory.mktemp("base"), Path.cwd()
    try:
        prepare(folder, BEGUN[:3])
        keep_former(folder / "fen.toml")
        (folder / "out.csv").write_text("old")
    finally:
        os.chdir(here)
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.name.endswith(".wal")
    }


COMMANDS = {
    "export": ("export", "out.csv"),
    "backup": ("book", "backup", "out.duckdb"),
    "restore": ("book", "restore", "copy.duckdb"),
    "add": ("add", "new.csv", "--book", "first.duckdb", "--set-aside", "aside.csv"),
    "region make": ("region", "make", "Fen", "--out", "fen.toml"),
    "region back": ("region", "back", "fen.toml"),
    "region sheet": ("region", "sheet", "fen.toml"),
    "report": ("report", "plan.toml", "--out", "report.html", "--pdf", "out.pdf"),
    "handout": ("handout", "fen.toml"),
}


@pytest.mark.parametrize("name", COMMANDS)
def test_old_or_new_the_cause_named_and_nothing_left(
    run: Run, base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setattr(plan_commands, "_report_of", lambda *_: document("Keep."))
    if name == "region make":  # the fit is made once: what is tried is the writing
        from slidefit.market import market_fit

        made: list[Any] = []
        fit = market_fit.fit_market
        monkeypatch.setattr(
            market_fit, "fit_market", lambda *w, **n: (made or made.append(fit(*w, **n)) or made)[0]
        )
    place = tmp_path / "place"

    def once(kind: str, n: int, number: int) -> tuple[Any, dict[str, int], dict[str, bytes]]:
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(base, place)
        monkeypatch.chdir(place)
        with fault_at(place, kind, n, number) as seen:
            outcome = run(*COMMANDS[name])
        return outcome, seen, contents(place)

    before = contents(base)
    outcome, seen, after = once("", 0, 0)
    assert outcome.code == 0, outcome
    chance = random.Random(name)
    for kind in KINDS:
        for n in chance.sample(range(1, seen[kind] + 1), min(EACH, seen[kind])):
            number = chance.choice(list(ERRORS))
            outcome, _, now = once(kind, n, number)
            label = (kind, n, errno.errorcode[number], outcome)
            assert outcome.code in (0, 2), label
            for path in before.keys() | after.keys() | now.keys():
                same = now.get(path) in (before.get(path), after.get(path))
                assert same or (path.endswith(".duckdb") and path in now and path in after), (path, label)
            if outcome.code == 2:
                assert any(word in outcome.err.lower() for word in ERRORS[number]), label
                assert "Traceback" not in outcome.err


# the options that name a file or folder to read; each other one that takes a path writes there
READ_FROM = {"--book", "--fit", "--futures", "--map", "--plan", "--pool", "--region", "--regions", "--source"}


def leaves(command: click.Command, words: tuple[str, ...] = ()) -> Iterator[tuple[str, click.Command]]:
    if isinstance(command, click.Group):
        for name, inner in command.commands.items():
            yield from leaves(inner, (*words, name))
    else:
        yield " ".join(words), command


def test_every_command_is_tried_as_one_that_writes_or_one_that_reads() -> None:
    for name, command in leaves(slidefit):
        writes, reads = (
            [each for each in table.values() if f"{each} ".startswith(f"{name} ")]
            for table in (WRITING, READING)
        )
        assert name == "serve" or bool(writes) != bool(reads), (
            f"{name}: no entry in tests/faults/run_faults.py"
        )
        targets = {
            option.opts[0]
            for option in command.params
            if isinstance(option, click.Option) and isinstance(option.type, click.Path)
        } - READ_FROM
        untried = {option for option in targets if not any(f" {option} " in each for each in writes)}
        assert not untried, f"{name}: {untried} in no entry of tests/faults/run_faults.py"
