"""Jobs that misbehave; a process apart finds them by this module's name."""

from __future__ import annotations

import errno
import os
import re
import signal
import time

from slidefit.errors import QuestionError
from slidefit.web.workers import Turn


def burn(_: Turn, *__: object) -> bool:
    """Match a pattern that takes longer than anybody lives, without ever letting another thread run."""
    return re.match(r"(a+)+$", "a" * 60 + "b") is None


def swell(_: Turn) -> int:
    return len(b"x" * (4 << 30))


def die(_: Turn, by_signal: bool) -> None:
    if by_signal:
        os.kill(os.getpid(), signal.SIGKILL)
    os._exit(3)


def ask(_: Turn) -> None:
    raise QuestionError("can be read in two ways", where="a.csv", remedy="Say which.")


def trip(_: Turn) -> None:
    raise ZeroDivisionError("inside")


def hold(turn: Turn, seconds: float) -> str:
    turn.tell("before")
    with turn.book():
        time.sleep(seconds)
    return "held"


def fill(_: Turn) -> None:
    raise OSError(errno.ENOSPC, "No space left on device", "/data/sales.duckdb")
