"""Work shared with other processes of this machine: this one works too, while they load what the work needs."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from queue import SimpleQueue
from threading import Thread
from types import TracebackType
from typing import Any, TypeVar

Item = TypeVar("Item")
Made = TypeVar("Made")

_START = "import sys; sys.path[:] = {path!r}; from slidefit.shared_work import serve; serve()"
_SETTINGS = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


def processors() -> int:
    """Return how many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Crew:
    """This process and others, which are all told one thing at first and then do work on it item by item.

    A process of its own program runs no script of the user's again, and dies with this one. One that is lost leaves its
    item to this process.

    Examples
    --------
    >>> with Crew(100, jobs=1) as crew:
    ...     list(crew.map(max, [99, 101]))
    [100, 101]
    """

    def __init__(self, told: object, jobs: int) -> None:
        """Start the others, ``jobs`` less this one."""
        self.told = told
        self.others = [_started() for _ in range(jobs - 1)] if sys.executable else []
        self._fed: set[int] = set()

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: object, trace: TracebackType | None) -> None:
        for other in self.others:
            other.kill()
            other.communicate()

    def map(self, work: Callable[[Any, Item], Made], items: Sequence[Item]) -> Iterator[Made]:
        """Yield ``work(told, item)`` of each item, in order.

        Parameters
        ----------
        work : function of a module, so that it can be sent
        """
        left = deque(enumerate(items))
        done: SimpleQueue[tuple[int, Item, tuple[bool, Any] | None]] = SimpleQueue()
        for other in self.others:
            Thread(target=self._feed, args=(other, work, left, done), daemon=True).start()
        made: dict[int, Made] = {}
        for place in range(len(items)):
            while place not in made:
                try:
                    at, item = left.popleft()
                except IndexError:
                    at, item, answer = done.get()
                    if answer is not None:
                        fine, value = answer
                        if not fine:
                            raise value from None
                        made[at] = value
                        continue
                made[at] = work(self.told, item)
            yield made.pop(place)

    def _feed(
        self,
        other: subprocess.Popen[bytes],
        work: Callable[[Any, Item], Made],
        left: deque[tuple[int, Item]],
        done: SimpleQueue[tuple[int, Item, tuple[bool, Any] | None]],
    ) -> None:
        assert other.stdin is not None and other.stdout is not None
        while True:
            try:
                at, item = left.popleft()
            except IndexError:
                return
            try:
                if other.pid not in self._fed:
                    pickle.dump(self.told, other.stdin)
                    self._fed.add(other.pid)
                pickle.dump((work, item), other.stdin)
                other.stdin.flush()
                done.put((at, item, pickle.load(other.stdout)))
            except Exception:  # whatever goes wrong on the way: the item is done here
                done.put((at, item, None))
                return


def _started() -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", _START.format(path=sys.path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, **_SETTINGS},
    )


def serve() -> None:
    """Do what another process asks for over this one's input and output, until it is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    asked, answers = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr
    try:
        told = pickle.load(asked)
        while True:
            work, item = pickle.load(asked)
            try:
                answer = True, work(told, item)
            except Exception as fault:
                answer = False, fault
            pickle.dump(answer, answers)
            answers.flush()
    except (EOFError, BrokenPipeError):
        return
