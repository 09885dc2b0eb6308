"""A file is written whole or not at all; what the system refuses is named."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from slidefit import files
from slidefit.errors import OutputError
from slidefit.files import put_new, write_pieces, write_whole

CAUSES = {
    errno.ENOSPC: "the disk is full",
    errno.EROFS: "the disk can only be read",
    errno.EACCES: "permission denied",
    errno.EIO: "the disk reports a fault",
    errno.EINTR: "interrupted system call",
}


@pytest.mark.parametrize("code", CAUSES)
@pytest.mark.parametrize("step", ["fsync", "replace", "mkstemp", "write"])
def test_a_fault_at_any_step_keeps_the_old_file_and_names_the_cause(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, step: str
) -> None:
    target = write_whole(tmp_path / "out.txt", "old")

    def fails(*_: object, **__: object) -> None:
        raise OSError(code, os.strerror(code))

    def pieces():  # type: ignore[no-untyped-def]
        yield b"half"
        if step == "write":
            fails()

    owner = {"fsync": os, "replace": Path, "mkstemp": files.tempfile, "write": os}[step]
    if step != "write":
        monkeypatch.setattr(owner, step, fails)
    with pytest.raises(OutputError, match=CAUSES[code]) as caught:
        write_pieces(target, pieces())
    monkeypatch.undo()
    assert caught.value.remedy and caught.value.where == str(target)
    assert target.read_text() == "old" and [path.name for path in tmp_path.iterdir()] == ["out.txt"]


def test_the_folder_is_synced_after_the_name_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[bool, bool]] = []

    def fsync(handle: int) -> None:
        seen.append((Path(f"/proc/self/fd/{handle}").is_dir(), (tmp_path / "out.txt").exists()))

    monkeypatch.setattr(os, "fsync", fsync)
    write_whole(tmp_path / "out.txt", "new")
    assert seen == [(False, False), (True, True)]


def test_a_new_file_never_takes_the_name_of_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made, target = tmp_path / "made", tmp_path / "target"
    made.write_text("new")
    assert put_new(made, target) and target.read_text() == "new"
    target.unlink()
    target.write_text("another's")
    assert not put_new(made, target) and target.read_text() == "another's"

    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "no links here")

    monkeypatch.setattr(os, "link", no_links)
    assert not put_new(made, target) and target.read_text() == "another's"
    target.unlink()
    assert put_new(made, target) and target.read_text() == "new" and not made.exists()


def test_a_name_that_is_too_long_is_told(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="name is too long"):
        write_whole(tmp_path / ("x" * 300), "new")
