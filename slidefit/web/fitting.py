"""A fit under way, beside the requests: one at a time, its progress told, its fault told once."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Literal

from slidefit.errors import SlidefitError
from slidefit.market.marketfit import fit_market
from slidefit.market.record_table import RecordTable
from slidefit.market.saved import save_fit
from slidefit.web.desk import Desk

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

State = Literal["idle", "running", "done", "failed"]
OUR_FAULT = "A fault of the program stopped the fit; the fit from before is untouched."


@dataclass(frozen=True)
class Progress:
    """Where a fit stands: its state, the step it is at, and what went wrong."""

    state: State = "idle"
    step: str = ""
    fault: str = ""


@dataclass(frozen=True)
class _Locked:
    """A table of the book that holds the book's lock for as long as it is read."""

    table: RecordTable
    lock: threading.Lock

    @property
    def order(self) -> str:
        """SQL that puts the rows of one sale in order."""
        return self.table.order

    @contextmanager
    def opened(self) -> Iterator[DuckDBPyConnection]:
        """Give a connection that holds the records as ``tidy``."""
        with self.lock, self.table.opened() as connection:
            yield connection


class Fitting:
    """Runs one fit at a time in a thread of its own."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lock = threading.Lock()
        self._progress = Progress()

    @property
    def progress(self) -> Progress:
        """Where the last fit stands."""
        with self._lock:
            return self._progress

    def start(self, markets: Sequence[str], since: date | None, until: date | None) -> bool:
        """Start a fit of the book's records; False when one is under way already."""
        with self._lock:
            if self._progress.state == "running":
                return False
            self._progress = Progress("running", "reading the book")
        threading.Thread(target=self._run, args=(markets, since, until), daemon=True).start()
        return True

    def _tell(self, step: str) -> None:
        with self._lock:
            self._progress = replace(self._progress, step=step)

    def _end(self, progress: Progress) -> None:
        with self._lock:
            self._progress = progress

    def _run(self, markets: Sequence[str], since: date | None, until: date | None) -> None:
        try:
            table = _Locked(self._desk.book.table(markets, since, until), self._desk.book_lock)
            save_fit(fit_market(table, progress=self._tell), self._desk.settings.fit)
        except SlidefitError as fault:
            self._end(Progress("failed", fault=fault.text()))
        except Exception:
            self._end(Progress("failed", fault=OUR_FAULT))
        else:
            self._end(Progress("done"))
