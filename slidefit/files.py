"""Writing a result to a file: wholly, or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from slidefit.errors import OutputError


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


def write_pieces(path: str | Path, pieces: Iterable[bytes]) -> Path:
    """Write a file from many pieces in one step, as `write_whole` does.

    Raises
    ------
    OutputError
        The folder is missing, is not writable, or the disk is full; what stood there is untouched.
    """
    target = Path(path)
    temporary = ""
    try:
        if target.is_dir():
            raise IsADirectoryError("it is a folder")
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
        with os.fdopen(handle, "wb") as file:
            for piece in pieces:
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
        mode = target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask()
        Path(temporary).chmod(mode)
        Path(temporary).replace(target)
    except OSError as fault:
        raise OutputError(
            f"can't be written: {(fault.strerror or str(fault)).lower()}",
            where=str(target),
            remedy=_remedy(target),
        ) from fault
    finally:
        if temporary:
            Path(temporary).unlink(missing_ok=True)
    return target


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current


def _remedy(target: Path) -> str:
    if target.is_dir():
        return "Give the name of a file."
    if not target.parent.exists():
        return f"Make the folder {target.parent} first, or name another."
    return "Free some space, or choose a folder that you may write to."
