"""Foreign files are read and fits are made in processes of their own, with limits of time and memory."""

from __future__ import annotations

import multiprocessing
import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, TypeVar

import anyio
import anyio.to_thread

from slidefit.errors import SlidefitError
from slidefit.files import disk_fault

Made = TypeVar("Made")


@dataclass(frozen=True)
class Limits:
    """What one job may use.

    Attributes
    ----------
    seconds : float
        Time from start to end, without the waiting for its turn.
    memory_bytes : int
        Most memory of the process; held by the system where it knows such a limit (Linux does).
    """

    seconds: float
    memory_bytes: int


READING = Limits(60.0, 3 << 30)
"""A million rows of 64 MB, the largest upload, are read in 2 to 8 s and under 1.5 GB (measured); twice that is room."""
FITTING = Limits(900.0, 8 << 30)
"""A fit of a million lots takes about a minute on two cores (measured); a slow laptop may need ten."""
READERS = 2
"""Uploads read at once; the others wait their turn, and no other request waits for them."""
KINDER = 19
"""How far a job steps back behind the page itself when both want the processor (POSIX nice)."""
PRELOADED = ["slidefit.web.jobs"]

TOO_LONG = "took longer than {seconds:.0f} seconds and was stopped; nothing was changed"
TOO_LARGE = "needed more memory than a page gives to one file and was stopped; nothing was changed"
REMEDY = "Split it into smaller files, or save it as CSV."


class Turn:
    """What a job says to the page while it works: the job's end of the line."""

    def __init__(self, line: Connection) -> None:
        self._line = line

    def tell(self, step: str) -> None:
        """Say which step it is at."""
        self._line.send(("step", step))

    @contextmanager
    def book(self) -> Iterator[None]:
        """Hold the sale book against the page's own uses while it is written."""
        self._line.send(("turn", None))
        self._line.recv()
        try:
            yield
        finally:
            self._line.send(("over", None))


def _limited(memory_bytes: int) -> None:
    os.nice(KINDER) if hasattr(os, "nice") else None
    try:
        import resource
    except ImportError:  # Windows knows no such limit; time is limited there all the same
        return
    _, most = resource.getrlimit(resource.RLIMIT_DATA)
    wanted = memory_bytes if most == resource.RLIM_INFINITY else min(memory_bytes, most)
    resource.setrlimit(resource.RLIMIT_DATA, (wanted, most))


def _work(line: Connection, job: Callable[..., object], args: tuple[object, ...], memory_bytes: int) -> None:
    """Run a job in the child and send what came of it."""
    _limited(memory_bytes)
    try:
        made: tuple[str, object] = ("done", job(Turn(line), *args))
    except SlidefitError as fault:
        made = _sent(fault)
    except MemoryError:
        made = ("memory", None)
    except OSError as fault:
        made = _sent(disk_fault(fault, Path(str(fault.filename or "."))))
    except Exception:
        import traceback

        made = ("crash", traceback.format_exc())
    line.send(made)
    line.close()


def _sent(fault: SlidefitError) -> tuple[str, object]:
    return "fault", (type(fault), fault.args, fault.__dict__)


class WorkerCrashError(RuntimeError):
    """A fault of the program inside a job; the message is the child's traceback."""


def _rebuilt(kind: type[SlidefitError], args: tuple[object, ...], state: dict[str, object]) -> SlidefitError:
    fault = kind.__new__(kind, *args)
    fault.args = args
    fault.__dict__.update(state)
    return fault


def run_apart(
    job: Callable[..., Made],
    *args: object,
    limits: Limits = READING,
    tell: Callable[[str], None] = lambda _: None,
    book: threading.Lock | None = None,
) -> Made:
    """Run ``job(turn, *args)`` in a process of its own and return what it returns; blocks until then.

    Parameters
    ----------
    job : function of a module
        Takes a `Turn` first; its arguments and its result must be picklable.
    tell : callable
        Called with each step that the job tells.
    book : Lock or None
        Held while the job holds the book.

    >>> run_apart(_example, 20, limits=Limits(30.0, 2 << 30))
    21
    """
    start = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(start)
    ours, theirs = context.Pipe()
    process: Any = context.Process(target=_work, args=(theirs, job, args, limits.memory_bytes), daemon=True)  # type: ignore[attr-defined]
    process.start()
    theirs.close()
    until = time.monotonic() + limits.seconds
    holding = False
    try:
        while True:
            if not ours.poll(max(until - time.monotonic(), 0.0)):
                raise SlidefitError(TOO_LONG.format(seconds=limits.seconds), remedy=REMEDY)
            kind, value = ours.recv()
            if kind == "done":
                return value  # type: ignore[no-any-return]
            if kind == "step":
                tell(value)
            elif kind == "turn":
                asked = time.monotonic()
                if book is not None:
                    holding = book.acquire()
                until += time.monotonic() - asked
                ours.send(None)
            elif kind == "over" and book is not None:
                book.release()
                holding = False
            elif kind == "fault":
                raise _rebuilt(*value)
            elif kind == "memory":
                raise SlidefitError(TOO_LARGE, remedy=REMEDY)
            elif kind == "crash":
                raise WorkerCrashError(value)
    except EOFError:
        process.join()
        if (
            process.exitcode is not None and process.exitcode < 0
        ):  # ended by a signal: the system does so for memory
            raise SlidefitError(TOO_LARGE, remedy=REMEDY) from None
        raise WorkerCrashError(f"the job's process ended with {process.exitcode}") from None
    finally:
        if holding and book is not None:
            book.release()
        if process.is_alive():
            process.kill()
        process.join()
        ours.close()


def _example(_: Turn, number: int) -> int:
    return number + 1


class Readers:
    """Lets a few uploads be read at once, without taking the threads that answer the other requests."""

    def __init__(self, most: int = READERS) -> None:
        self._most = most
        self._limiter: anyio.CapacityLimiter | None = None

    async def run(self, job: Callable[..., Made], *args: object, book: threading.Lock | None = None) -> Made:
        """Run a job apart when its turn comes; see `run_apart`."""
        if self._limiter is None:
            self._limiter = anyio.CapacityLimiter(self._most)
        return await anyio.to_thread.run_sync(lambda: run_apart(job, *args, book=book), limiter=self._limiter)


def warm() -> None:
    """Start loading the library for the jobs to come; returns at once.

    Each job is then forked from a process that has everything loaded, in some 20 ms instead of 2 s.
    """
    if "forkserver" in multiprocessing.get_all_start_methods():
        from multiprocessing import forkserver

        multiprocessing.get_context("forkserver").set_forkserver_preload(PRELOADED)
        forkserver.ensure_running()
