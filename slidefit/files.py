"""Writing a result to a file: wholly, or not at all."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from slidefit.errors import OutputError

COPY_BYTES = 1 << 20
_NO_RIGHT = "Choose a folder that you may write to."
# what the system's numbers mean for whoever writes a file: the cause, and what to do
DISK_FAULTS: dict[int, tuple[str, str]] = {
    errno.ENOSPC: ("the disk is full", "Free some space, or choose a folder on another disk."),
    errno.EDQUOT: (
        "your share of the disk is used up",
        "Free some space, or choose a folder on another disk.",
    ),
    errno.EFBIG: (
        "the file is larger than the disk or your account allows",
        "Choose a folder on another disk.",
    ),
    errno.EROFS: ("the disk can only be read", "Choose a folder on another disk."),
    errno.EACCES: ("permission denied", _NO_RIGHT),
    errno.EPERM: ("permission denied", _NO_RIGHT),
    errno.EISDIR: ("it is a folder", "Give the name of a file."),
    errno.ENAMETOOLONG: ("the name is too long", "Give a shorter name."),
    errno.EINTR: ("interrupted system call", "Try again."),
    errno.EIO: ("the disk reports a fault", "Check the disk, or choose a folder on another one."),
}


def write_whole(path: str | Path, content: str | bytes) -> Path:
    """Write a file in one step: a reader sees the old content or the new, never half.

    Parameters
    ----------
    content : str or bytes
        Text is written as UTF-8, its line ends unchanged.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    OutputError
        The folder is missing, is not writable, or the disk is full; what stood there is untouched.
    """
    return write_pieces(path, [content.encode() if isinstance(content, str) else content])


def write_pieces(path: str | Path, pieces: Iterable[bytes], *, new: bool = False) -> Path:
    """Write a file from many pieces in one step, as `write_whole` does.

    Parameters
    ----------
    new : bool
        Whether a file that stands there is to stay.

    Raises
    ------
    OutputError
        The folder is missing, is not writable, the disk is full, or a file stands there that is to stay; what stood
        there is untouched.
    """
    target = Path(path)
    temporary = ""
    with told_as_output(target):
        try:
            if target.is_dir():
                raise IsADirectoryError(errno.EISDIR, "it is a folder")
            handle, temporary = tempfile.mkstemp(
                dir=target.parent, prefix=f".{target.name[:40]}.", suffix=".part"
            )
            with os.fdopen(handle, "wb") as file:
                for piece in pieces:
                    file.write(piece)
                file.flush()
                os.fsync(file.fileno())
            mode = target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask()
            Path(temporary).chmod(mode)
            if not new:
                Path(temporary).replace(target)
                sync_folder(target.parent)
            elif not put_new(Path(temporary), target):
                raise OutputError("stands there already", where=str(target), remedy="Give another name.")
        finally:
            if temporary:
                Path(temporary).unlink(missing_ok=True)
    return target


def pieces_of(path: Path) -> Iterator[bytes]:
    """Return the content of a file piece by piece."""
    with path.open("rb") as file:
        while piece := file.read(COPY_BYTES):
            yield piece


def put_new(made: Path, target: Path) -> bool:
    """Give a finished file its name, unless a file has that name already; tell whether it was put there."""
    try:
        os.link(made, target)
    except FileExistsError:
        return False
    except OSError:  # a file system without links, such as a memory stick's
        if target.exists():
            return False
        made.rename(target)
    sync_folder(target.parent)
    return True


def sync_folder(folder: Path) -> None:
    """Have the disk take in the names in a folder, so that a file put there outlives a power cut."""
    if os.name == "nt":
        return  # Windows opens no folder; its file system keeps a journal of names
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as fault:
        if fault.errno not in (errno.EINVAL, errno.ENOTSUP):  # network folders that can't be synced
            raise
    finally:
        os.close(handle)


@contextmanager
def told_as_output(target: Path) -> Iterator[None]:
    """Tell what the system refuses while a file is written: the cause, and what to do.

    Raises
    ------
    OutputError
        Anything that the system refused.
    """
    try:
        yield
    except OSError as fault:
        raise disk_fault(fault, target, "written") from fault


def disk_fault(fault: OSError, target: Path, done: str = "read or written") -> OutputError:
    """Return what the system refused as an error that names the cause, and what to do."""
    what, remedy = DISK_FAULTS.get(
        fault.errno or 0,
        (
            (fault.strerror or str(fault)).lower(),
            "Free some space, or choose a folder that you may write to.",
        ),
    )
    if not target.parent.exists():
        remedy = f"Make the folder {target.parent} first, or name another."
    return OutputError(f"can't be {done}: {what}", where=str(target), remedy=remedy)


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current
