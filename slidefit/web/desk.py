"""What the views share: the book, the fit and the answers worked out lately, read anew when their files change."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import pandas as pd

from slidefit.decision.comparison import compare
from slidefit.decision.flips import FlipResult, flip
from slidefit.decision.plan import Plan
from slidefit.decision.results import Comparison
from slidefit.errors import FitError, SlidefitError
from slidefit.market.marketfit import MarketFit
from slidefit.market.outlook import Outlook
from slidefit.market.saved import load_fit
from slidefit.records.book import BookSummary, SaleBook
from slidefit.web.settings import Settings

Made = TypeVar("Made")
KEPT_ANSWERS = 128
KEPT_TABLES = 4
MOST_OPTIONS = 600
MOST_DRAWS = 50_000
LIVE_DRAWS = 10_000


class Kept:
    """A bounded store of results; what was used longest ago goes first."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._items: OrderedDict[Hashable, object] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """Return what is kept under a key, or make it (a fault is not kept)."""
        with self._lock:
            if key in self._items:
                self._items.move_to_end(key)
                return self._items[key]  # type: ignore[return-value]
        made = make()
        with self._lock:
            self._items[key] = made
            while len(self._items) > self._most:
                self._items.popitem(last=False)
        return made


@dataclass(frozen=True)
class Stamp:
    """Which state of a file a result was made from."""

    path: Path
    changed_ns: int
    size: int


def stamp(path: Path) -> Stamp:
    """Return the state of a file; zeros when there is none."""
    try:
        found = path.stat()
    except OSError:
        return Stamp(path, 0, 0)
    return Stamp(path, found.st_mtime_ns, found.st_size)


class Desk:
    """The library behind the views."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.book_lock = threading.Lock()
        self._answers = Kept(KEPT_ANSWERS)
        self._flips = Kept(KEPT_ANSWERS)
        self._tables = Kept(KEPT_TABLES)

    @property
    def book(self) -> SaleBook:
        """The sale book."""
        return SaleBook(self.settings.book)

    def has_book(self) -> bool:
        """Tell whether there is a book."""
        return self.settings.book.exists()

    def has_fit(self) -> bool:
        """Tell whether a fit was saved."""
        return self.settings.fit.exists()

    def summary(self) -> BookSummary:
        """Return what the book holds.

        Raises
        ------
        BookError
            There is no book, it is busy or it can't be read.
        """
        with self.book_lock:
            return self._tables.get(("summary", stamp(self.settings.book)), lambda: self.book.summary())

    def records(self) -> pd.DataFrame | None:
        """Return the book's records, or None where there is no book.

        Raises
        ------
        BookError
            The book is busy or can't be read.
        """
        if not self.has_book():
            return None
        with self.book_lock:
            return self._tables.get(("records", stamp(self.settings.book)), lambda: self.book.records())

    def fit(self) -> MarketFit:
        """Return the saved fit.

        Raises
        ------
        FitError
            There is none, or it can't be read.
        """
        if not self.has_fit():
            raise FitError("nothing is fitted yet", remedy="Add sale records, then fit the slide.")
        path = self.settings.fit
        return self._tables.get(("fit", stamp(path)), lambda: load_fit(path))

    def outlook(self) -> Outlook:
        """Return the price outlook of the saved fit.

        Raises
        ------
        FitError
            There is none, or it can't be read.
        """
        return self._tables.get(("outlook", stamp(self.settings.fit)), lambda: self.fit().outlook())

    def comparison(self, plan: Plan) -> Comparison:
        """Return the comparison of a plan, from the store if it was worked out lately.

        Raises
        ------
        FitError, OutlookError
            There is no fit, or it knows nothing of the plan's calves.
        SlidefitError
            The plan is larger than a page works out.
        """
        check_size(plan)
        return self._answers.get((plan, stamp(self.settings.fit)), lambda: compare(self.outlook(), plan))

    def flips(self, plan: Plan) -> tuple[FlipResult, ...]:
        """Return what would flip each group's answer; groups with nothing to compare are left out.

        Raises
        ------
        FitError, OutlookError
            There is no fit, or it knows nothing of the plan's calves.
        """
        comparison = self.comparison(plan)
        able = [group.group for group in comparison.groups if group.keep]
        return self._flips.get(
            (plan, stamp(self.settings.fit)),
            lambda: tuple(found for name in able for found in flip(self.outlook(), plan, name)),
        )


def lighter(plan: Plan) -> Plan:
    """Return a plan with as many draws as an answer that follows every keystroke can afford."""
    if plan.risk.draws <= LIVE_DRAWS:
        return plan
    return plan.model_copy(update={"risk": plan.risk.model_copy(update={"draws": LIVE_DRAWS})})


def check_size(plan: Plan) -> None:
    """Refuse a plan that would keep the page busy for everybody.

    Raises
    ------
    SlidefitError
        Too many options or draws.
    """
    dates = len(plan.dates.sale_months()) * (5 if plan.dates.every_week else 1)
    options = len(plan.groups) * len(plan.programs) * dates
    if options > MOST_OPTIONS:
        raise SlidefitError(
            f"the plan asks for up to {options:,} options; the page works out {MOST_OPTIONS:,}",
            remedy="Take fewer months, groups or programs, or use the command: slidefit compare PLAN.toml",
        )
    if plan.risk.draws > MOST_DRAWS:
        raise SlidefitError(
            f"the plan asks for {plan.risk.draws:,} draws; the page works out {MOST_DRAWS:,}",
            remedy="Lower the draws, or use the command: slidefit compare PLAN.toml",
        )
