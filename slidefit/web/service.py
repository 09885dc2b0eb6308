"""Service: book, fit and answers kept while files stand; a fit under way."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import TypeVar

import pandas as pd

from slidefit.decision.comparison import GroupAnswer, compare, with_region_terms
from slidefit.decision.results import Comparison
from slidefit.decision.risk.answer_changes import FlipGrid, FlipResult, flip, flip_grid
from slidefit.decision.risk.sorting import Sorting, sort_by_weight
from slidefit.decision.typed_prices import outlook_for
from slidefit.errors import FitError, SlidefitError
from slidefit.market.market_fit import MarketFit
from slidefit.market.outlook import Outlook
from slidefit.market.saved_fit import load_fit
from slidefit.plan.plan import Plan
from slidefit.records.sale_book import BookSummary, SaleBook
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.hand_edits import write_fitted
from slidefit.regions.moved.renewal import Renewal
from slidefit.regions.region import Region
from slidefit.regions.region_file import read_region
from slidefit.regions.region_folder import batches_sha256, folder_entries, place_for, region_files
from slidefit.regions.region_outlook import outlook_of_region, region_season
from slidefit.web.forms.link import SENT, prices_sent, region_sent
from slidefit.web.jobs import renew_region
from slidefit.web.security import Settings
from slidefit.web.workers import FITTING, run_apart

Made = TypeVar("Made")
KEPT_ANSWERS = 128
KEPT_TABLES = 12
MOST_OPTIONS = 600
MOST_DRAWS = 50_000
LIVE_DRAWS = 4_096
GRID_SIDE = 5


class Cache:
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
class FileVersion:
    """Which state of a file a result was made from."""

    path: Path
    changed_ns: int
    size: int


def stamp(path: Path) -> FileVersion:
    """Return the state of a file; zeros when there is none."""
    try:
        found = path.stat()
    except OSError:
        return FileVersion(path, 0, 0)
    return FileVersion(path, found.st_mtime_ns, found.st_size)


class Service:
    """The library behind the views; what is missing, busy or can't be read is raised as a `SlidefitError`."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.book_lock = threading.Lock()
        self._fit_lock = threading.Lock()
        self._answers = Cache(KEPT_ANSWERS)
        self._groups = Cache(KEPT_ANSWERS)
        self._later = Cache(KEPT_ANSWERS)
        self._tables = Cache(KEPT_TABLES)
        self._pictures = Cache(KEPT_TABLES)

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
        """Return what the book holds."""
        with self.book_lock:
            return self._tables.get(("summary", stamp(self.settings.book)), lambda: self.book.summary())

    def records(self) -> pd.DataFrame | None:
        """Return the book's records, or None where there is no book."""
        if not self.has_book():
            return None
        with self.book_lock:
            return self._tables.get(("records", stamp(self.settings.book)), lambda: self.book.records())

    def fit(self) -> MarketFit:
        """Return the saved fit."""
        if not self.has_fit():
            raise FitError("nothing is fitted yet", remedy="Add sale records, then fit the slide.")
        path = self.settings.fit
        return self._tables.get(("fit", stamp(path)), lambda: load_fit(path))

    def picture(self, which: Hashable, make: Callable[[], bytes]) -> bytes:
        """Return a picture of the fit and the book, from the store while both stand."""
        state = (stamp(self.settings.fit), stamp(self.settings.book), date.today())
        return self._pictures.get((which, state), make)

    def outlook(self, prices: str = "") -> Outlook:
        """Return the price outlook of the saved fit, or of a region's file."""
        if not prices:
            return self._tables.get(("outlook", stamp(self.settings.fit)), lambda: self.fit().outlook())
        today = date.today()
        key = ("outlook", self._state(prices), today)
        return self._tables.get(key, lambda: outlook_of_region(self.region(prices), today))

    def region(self, prices: str) -> Region:
        """Return the region of a file's name, or the one that came with a link."""
        return region_sent(prices) if prices.startswith(SENT) else read_region(self.region_path(prices))

    def sent(self, prices: str) -> str:
        """Return prices as a link carries them: a region's, or those of the fit as a region of its own."""
        if prices.startswith(SENT):
            return prices
        if prices:
            return prices_sent(self.region(prices))
        return prices_sent(region_of(self.fit(), "the sender's records", Provenance(date.today(), "0" * 64)))

    def _state(self, prices: str) -> Hashable:
        """Return what an answer at these prices is good for: a state of their file, or the link's own text."""
        if prices.startswith(SENT):
            return prices
        return stamp(self.region_path(prices) if prices else self.settings.fit)

    def season(self, prices: str) -> pd.DataFrame:
        """Return the season of the saved fit, or of a region's file."""
        return region_season(self.region(prices)) if prices else self.fit().season()

    def with_terms(self, plan: Plan, prices: str) -> Plan:
        """Return a plan with a region's usual costs of selling, where it has none of its own."""
        return with_region_terms(plan, self.region(prices)) if prices else plan

    def comparison(self, plan: Plan, prices: str = "") -> Comparison:
        """Return the comparison of a plan, from the store if it was worked out lately."""
        check_size(plan)
        state = (prices, self._state(prices), date.today())

        def known(key: Hashable, make: Callable[[], GroupAnswer]) -> GroupAnswer:
            return self._groups.get((key, state), make)

        return self._answers.get(
            (plan, state), lambda: compare(self._given_outlook(plan, prices), plan, known=known)
        )

    def flips(self, plan: Plan, prices: str = "", group: str = "") -> tuple[FlipResult, ...]:
        """Return what would flip each group's answer, or one group's; groups with nothing to compare are left out."""
        able = [each.group for each in self.comparison(plan, prices).groups if each.keep]
        outlook = self._given_outlook(plan, prices)
        return tuple(
            found
            for name in able
            if not group or name == group
            for found in self._once("flips", plan, prices, name, partial(flip, outlook, plan, name))
        )

    def two_ways(self, plan: Plan, prices: str, group: str) -> FlipGrid:
        """Return one group's gain from keeping over the price at sale and the daily gain."""
        make = partial(
            flip_grid, self._given_outlook(plan, prices), plan, "sale_price", "gain", group, steps=GRID_SIDE
        )
        return self._once("grid", plan, prices, group, make)

    def sorting(self, plan: Plan, prices: str, group: str) -> Sorting:
        """Return what sorting one group by weight would bring."""
        outlook = self._given_outlook(plan, prices)
        return self._once("sorting", plan, prices, group, partial(sort_by_weight, outlook, plan, group))

    def _once(self, what: str, plan: Plan, prices: str, group: str, make: Callable[[], Made]) -> Made:
        """Return what is worked out for one group when it is asked for, from the store if that was lately."""
        return self._later.get((what, plan, group, prices, self._state(prices), date.today()), make)

    def region_path(self, name: str) -> Path:
        """Return the region's file of a name that stands in the folder's own list; no other can be asked for."""
        for path in region_files(self.settings.regions):
            if path.name == name:
                return path
        raise SlidefitError("there is no such region", remedy="Choose one of the list.")

    def prices_for(self, wanted: str) -> str:
        """Return the prices that an address asks for; the only region where it asks for none and nothing is fitted."""
        if wanted or self.has_fit():
            return wanted
        regions = self.region_names()
        return regions[0][0] if len(regions) == 1 else wanted

    def price_sources(self, chosen: str) -> list[tuple[str, str]]:
        """Return where prices can come from, as value and name: the fit first, then the regions."""
        sent = [(chosen, "the prices sent with the link")] if chosen.startswith(SENT) else []
        fit = "your records" if self.has_fit() else "your records (nothing is fitted yet)"
        return [*sent, ("", fit), *((file, f"region {name}") for file, name in self.region_names())]

    def outlook_for(self, plan: Plan, prices: str) -> Outlook:
        """Return the outlook that a plan is priced by: typed prices stand in for records."""
        return outlook_for(self._given_outlook(plan, prices), plan)

    def _given_outlook(self, plan: Plan, prices: str) -> Outlook | None:
        return None if plan.prices is not None else self.outlook(prices)

    def region_names(self) -> list[tuple[str, str]]:
        """Return the regions that can be read: file and name."""
        entries = folder_entries(self.settings.regions, date.today())
        return [(entry.path.name, entry.region.name) for entry in entries if entry.region is not None]

    def make_region(self, name: str, made: date) -> str:
        """Write a region of the saved fit into the folder; return its file's name."""
        path = place_for(self.settings.regions, name)
        fit, records = self.fit(), self.records()
        if records is None:
            raise SlidefitError("there is no sale book", remedy="Add sale records first.")
        days = records["sale_date"].between(
            pd.Timestamp(fit.basis.first_sale), pd.Timestamp(fit.basis.last_sale)
        )
        behind = records[days & records["market"].isin(fit.basis.markets)]
        region = region_of(fit, name, Provenance(made, batches_sha256(behind)))
        write_fitted(region, path)
        return path.name

    def renewal(self, path: Path, made: date) -> Renewal:
        """Return a region fitted anew to the book's records, from the store if that was done lately."""
        if not self.has_book():
            raise SlidefitError("there is no sale book", remedy="Add sale records first.")
        old = read_region(path)
        book = self.settings.book
        key = ("renewal", stamp(path), stamp(book), made)
        with self._fit_lock:
            return self._tables.get(key, lambda: run_apart(renew_region, old, book, made, limits=FITTING))


def lighter(plan: Plan) -> Plan:
    """Return a plan with as many draws as an answer that follows every keystroke can afford."""
    if plan.risk.draws <= LIVE_DRAWS:
        return plan
    return plan.model_copy(update={"risk": plan.risk.model_copy(update={"draws": LIVE_DRAWS})})


def check_size(plan: Plan) -> None:
    """Refuse a plan that would keep the page busy for everybody."""
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
