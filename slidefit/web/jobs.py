"""What is done in a process apart: held uploads looked at and added to the book, and fits made of it."""

from __future__ import annotations

import dataclasses
import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any, Literal

import pandas as pd

from slidefit.errors import SlidefitError
from slidefit.facts import spoken_by
from slidefit.market.market_fit import fit_market
from slidefit.market.saved_fit import save_fit
from slidefit.records.book.book_batches import AddResult
from slidefit.records.read import read
from slidefit.records.reading.read_options import Values
from slidefit.records.reading.source_card import SourceCard
from slidefit.records.result import FileAccount, ReadResult, set_aside_table
from slidefit.records.sale_book import SaleBook
from slidefit.records.sale_levels import WeightPrices, prices_by_weight
from slidefit.records.source_book import ask_about_same_sales, keep_cards
from slidefit.regions.moved.renewal import Renewal, SeasonWork, refreshed, renewed
from slidefit.regions.region import Region
from slidefit.web.door import PageDoor
from slidefit.web.security import Settings
from slidefit.web.workers import FITTING, Turn, run_apart

log = logging.getLogger("slidefit.page")

SHOWN_ASIDE = 40
SHOWN_FILES = 5


@dataclass(frozen=True)
class ReadingRequest:
    """Held files, and how the user says that they are to be read.

    Attributes
    ----------
    paths : tuple of Path
    mapping : mapping of heading to field
    stated : mapping
        ``market``, ``price_unit``, ``sale_day`` and the like, as far as the user said.
    values : mapping of field to a mapping of word to meaning
    cards : mapping of name to SourceCard
        The sources known to the book.
    book : Path or None
        The sale book, to hold the new prices against.
    """

    paths: tuple[Path, ...]
    mapping: Mapping[str, str]
    stated: Mapping[str, str | None]
    values: Values = dataclasses.field(default_factory=dict)
    cards: Mapping[str, SourceCard] = dataclasses.field(default_factory=dict)
    book: Path | None = None


@dataclass(frozen=True)
class OpenQuestion:
    """What a file leaves open: the message; each open heading, what it may be and its first cells; words of columns."""

    lines: tuple[str, ...]
    headings: tuple[tuple[str, str, tuple[str, ...]], ...] = ()
    words: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Look:
    """How files are understood, as far as a page shows it."""

    rows_seen: int
    accepted: int
    set_aside: int
    files: tuple[FileAccount, ...]
    file_count: int
    notes: tuple[str, ...]
    first_rows: pd.DataFrame
    aside: pd.DataFrame
    reasons: dict[str, int]
    questions: tuple[OpenQuestion, ...] = ()
    prices: tuple[WeightPrices, ...] = ()


@dataclass(frozen=True)
class Addition:
    """What an addition did to the book, and what the reading noted."""

    done: AddResult
    notes: tuple[str, ...]


def read_held(question: ReadingRequest) -> ReadResult:
    """Read held files as sale records."""
    return read(
        list(question.paths),
        mapping=question.mapping or None,
        values=question.values,
        cards=question.cards,
        **dict(question.stated),  # type: ignore[arg-type]
    )


def open_question(fault: SlidefitError) -> OpenQuestion:
    """Return what a fault of reading asks, in the words of the open door."""
    headings, words = (fault.values.get(name, ()) for name in ("headings", "words"))
    told = f"{fault.where}: {fault.what}. Say below what each is." if headings or words else fault.text()
    return OpenQuestion(tuple(told.split("\n")), headings, words)  # type: ignore[arg-type]


def look_at(turn: Turn, question: ReadingRequest) -> Look:
    """Return how held files are understood."""
    result = read_held(question)
    prices: tuple[WeightPrices, ...] = ()
    if question.book is not None:
        with turn.book():
            prices = prices_by_weight(result.records, question.book)
    with spoken_by(PageDoor()):
        questions = tuple(map(open_question, result.questions))
    return Look(
        result.rows_seen,
        result.accepted,
        result.set_aside_rows,
        tuple(result.files[:SHOWN_FILES]),
        len(result.files),
        tuple(result.notes),
        result.first_rows(),
        result.first_aside(SHOWN_ASIDE),
        result.reasons,
        questions,
        prices,
    )


def aside_of(_: Turn, question: ReadingRequest) -> pd.DataFrame:
    """Return the rows of held files that can't be used, in their own columns."""
    return set_aside_table(read_held(question))


def add_to(turn: Turn, question: ReadingRequest, book: Path) -> Addition:
    """Add held files to a book, as one batch."""
    result = read_held(question)
    with turn.book():
        ask_about_same_sales(book, result)
        done = SaleBook(book).add(result)
        keep_cards(book, result.cards)
    return Addition(done, tuple(result.notes))


def fit_book(
    turn: Turn, book: Path, markets: tuple[str, ...], since: date | None, until: date | None, target: Path
) -> None:
    """Fit the records of a book and save the fit."""
    save_fit(fit_market(SaleBook(book).table(markets, since, until), progress=turn.tell), target)


def renew_region(_: Turn, old: Region, book: Path, made: date) -> Renewal:
    """Return a region fitted anew to the records of a book."""
    records = SaleBook(book).records()
    return renewed(old, records[records["sale_date"] >= pd.Timestamp(old.source.first_sale)], made)


def refresh_regions(turn: Turn, folder: Path, book: Path, made: date) -> SeasonWork:
    """Return every region of a folder fitted anew to one reading of the book; nothing is written."""
    return refreshed(folder, lambda first: SaleBook(book).records(since=first), made, turn.tell)


State = Literal["idle", "running", "done", "failed"]
OUR_FAULT = "A fault of the program stopped the work; what stood there before is untouched."


@dataclass(frozen=True)
class FitProgress:
    """Where a piece of work stands: its state, the step it is at, and what went wrong."""

    state: State = "idle"
    step: str = ""
    fault: str = ""


class BackgroundWork:
    """Runs one piece of work at a time in a process of its own, and keeps what it made."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._progress = FitProgress()
        self.made: Any = None

    @property
    def progress(self) -> FitProgress:
        """Where the last piece of work stands."""
        with self._lock:
            return self._progress

    def begin(self, work: Callable[..., Any], *asked: Any) -> bool:
        """Start a piece of work; False when one is under way already."""
        with self._lock:
            if self._progress.state == "running":
                return False
            self._progress = FitProgress("running", "reading the book")
        threading.Thread(target=self._run, args=(work, asked), daemon=True).start()
        return True

    def _tell(self, step: str) -> None:
        with self._lock:
            self._progress = replace(self._progress, step=step)

    def end(self, progress: FitProgress) -> None:
        """Say how the work ended; idle where it is done with."""
        with self._lock:
            self._progress = progress

    def _run(self, work: Callable[..., Any], asked: tuple[Any, ...]) -> None:
        try:
            self.made = run_apart(work, *asked, limits=FITTING, tell=self._tell)
        except SlidefitError as fault:
            self.end(FitProgress("failed", fault=fault.text()))
        except Exception:
            log.exception("work in the background stopped")
            self.end(FitProgress("failed", fault=OUR_FAULT))
        else:
            self.end(FitProgress("done"))


class BackgroundFit(BackgroundWork):
    """Runs one fit at a time."""

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings

    def start(self, markets: Sequence[str], since: date | None, until: date | None) -> bool:
        """Start a fit of the book's records; False when one is under way already."""
        return self.begin(fit_book, self._settings.book, tuple(markets), since, until, self._settings.fit)
