"""What stands in a folder of slidefit's files, looked over: what can't be read, what is wrong, what is worth a look.

Only reads. Every rule is the one that the readers and the answers go by; nothing is judged here that they don't judge.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

import pandas as pd

from slidefit.errors import DocumentError, SlidefitError
from slidefit.facts import Action, Setting, Text, Words
from slidefit.market.checks import kin_of, market_spans
from slidefit.market.fit.coding import coded_lots
from slidefit.market.futures import OLDEST_QUOTE_DAYS
from slidefit.market.market_fit import MarketFit
from slidefit.market.saved_fit import FORMAT as FIT_FORMAT
from slidefit.market.saved_fit import load_fit
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import read_plan
from slidefit.records.book.book_file import opened
from slidefit.records.reading.source_card import CARD_LINES, read_card
from slidefit.records.sale_book import MarketInfo, SaleBook
from slidefit.records.sale_levels import off_sales, sale_levels
from slidefit.records.source_book import cards_folder, cards_of, same_sales
from slidefit.regions.hand_edits import hand_edits
from slidefit.regions.region import PRICE_STALE_DAYS, Region, age_notes
from slidefit.regions.region_file import odd_notes, read_region
from slidefit.regions.region_folder import (
    batches_sha256,
    folder_entries,
    formers,
    records_behind,
    says_region,
)
from slidefit.toml_faults import key_lines, toml_text

Level = Literal["unreadable", "fix", "look"]
LEVELS: tuple[Level, ...] = ("unreadable", "fix", "look")


@dataclass(frozen=True)
class Finding:
    """One thing found: how grave it is, of what kind, in which file, what it is, and what to do."""

    level: Level
    code: str
    file: str
    what: Words
    remedy: Words


@dataclass(frozen=True)
class Checkup:
    """What was looked at (each file and its kind) and what was found, the gravest first."""

    folder: str
    files: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...]

    @property
    def unreadable(self) -> int:
        """How many files can't be read."""
        return len({finding.file for finding in self.findings if finding.level == "unreadable"})


@dataclass(frozen=True)
class _Book:
    path: Path
    records: pd.DataFrame
    markets: tuple[MarketInfo, ...]


def look_over(folder: str | Path, today: date) -> Checkup:
    """Look over the sale books, source cards, fits, regions and plans of a folder; nothing is written.

    Raises
    ------
    SlidefitError
        The folder can't be read.
    """
    place = Path(folder)
    try:
        paths = sorted(place.iterdir())
    except OSError as fault:
        remedy = "Name a folder that is there and that you may read."
        raise SlidefitError(f"can't be read ({fault.strerror})", where=str(place), remedy=remedy) from fault
    books: list[_Book] = []
    files: list[tuple[str, str]] = []
    found: list[Finding] = []
    for path in (path for path in paths if path.suffix == ".duckdb"):
        files.append((str(path), "sale book"))
        try:
            book = SaleBook(path)
            with opened(
                path, write=False
            ):  # held for all the readings below: most of one's time is the opening
                books.append(_Book(path, book.records(), book.summary().markets))
                found += _of_book(books[-1], book, today)
        except SlidefitError as fault:
            found.append(_unreadable(path, fault))
        cards = _cards(path)
        files += [(str(card), "source card") for card in cards]
        faults = [finding for card in cards for finding in _read(card, read_card)]
        found += faults or _read(path, cards_of)
    for path in (path for path in paths if path.suffix == ".json" and _says_fit(path)):
        files.append((str(path), "fit"))
        try:
            found += _of_fit(path, load_fit(path), books)
        except SlidefitError as fault:
            found.append(_unreadable(path, fault))
    for entry in folder_entries(place, today):
        files.append((str(entry.path), "region"))
        if entry.region is None:
            every = Text("See every fault with its line: ", Action("read_region"), ".")
            found.append(Finding("unreadable", "region", str(entry.path), entry.fault, every))
        else:
            found += _of_region(entry.path, entry.region, books, today)
    for path in (path for path in paths if path.suffix == ".toml" and not says_region(path, unread=True)):
        kind, reader = _kind_of(path)
        files.append((str(path), kind))
        found += _read(path, reader)
    found += [_left_over(path) for path in paths if path.name.startswith(".") and path.suffix == ".part"]
    ordered = sorted(found, key=lambda finding: (LEVELS.index(finding.level), finding.file))
    return Checkup(str(place), tuple(files), tuple(ordered))


def _unreadable(path: Path, fault: SlidefitError) -> Finding:
    place = fault.where.removeprefix(str(path)).removeprefix(path.name).lstrip(", ")
    what = Text(f"{place}: " if place else "", fault.fact)
    return Finding("unreadable", fault.code, str(path), what, fault.advice)


def _read(path: Path, reader: Callable[[Path], object]) -> Iterator[Finding]:
    """Yield every fault that a reader tells of a file."""
    try:
        reader(path)
    except DocumentError as fault:
        yield from (_unreadable(path, problem) for problem in fault.problems)
    except SlidefitError as fault:
        yield _unreadable(path, fault)


TOML_KINDS: dict[str, tuple[Collection[str], Callable[[Path], object]]] = {
    "plan": (Plan.model_fields, read_plan),
    "source card": (CARD_LINES, read_card),
    "region": (Region.model_fields, read_region),
}
"""What a TOML file may be: the keys at its top, and its reader. A region that says so is told before."""


def _kind_of(path: Path) -> tuple[str, Callable[[Path], object]]:
    """Return what a TOML file is and its reader, by most of the keys at its top, sound TOML or not; of others' files
    nothing is read.
    """
    try:
        keys = {str(where[0]) for where in key_lines(toml_text(path))}
    except SlidefitError:
        return "TOML file", toml_text  # no text: its reader says so
    kind, (known, reader) = max(TOML_KINDS.items(), key=lambda each: len(keys & set(each[1][0])))
    return (kind, reader) if 2 * len(keys & set(known)) > len(keys) else ("other TOML file", str)


def _cards(book: Path) -> list[Path]:
    folder = cards_folder(book)
    return sorted(folder.glob("*.toml")) if folder.is_dir() else []


def _says_fit(path: Path) -> bool:
    """Return whether a file says that it is a fit, sound or not."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return path.name == "slide.json"
    return path.name == "slide.json" or json.dumps(FIT_FORMAT) in text[:200]


def _left_over(path: Path) -> Finding:
    what = "was left by a command that was stopped; nothing reads it"
    return Finding("look", "left_over", str(path), what, "Delete it, unless slidefit is at work here.")


def _of_book(book: _Book, source: SaleBook, today: date) -> Iterator[Finding]:
    """Yield what a book's own records say: old, gaps, sales in another unit, sales and barns under two names."""
    file, records = str(book.path), book.records
    if records.empty:
        yield Finding(
            "look", "empty", file, "holds no record", Text("Add sale records: ", Action("add"), ".")
        )
        return
    newest = max(market.last for market in book.markets)
    if (today - newest).days > PRICE_STALE_DAYS:
        what = f"its newest sale is of {newest}, {(today - newest).days:,} days ago"
        yield Finding("look", "old", file, what, Text("Add newer sales: ", Action("add"), "."))
    for market in book.markets:
        if odd := odd_gaps(market):
            what = f"{market.market or '(no name)'}: no sale in {_listed(odd)}, months that it sells in in most years"
            remedy = Text("Add those months' records if the barn sold then: ", Action("add"), ".")
            yield Finding("look", "gap", file, what, remedy)
    for sale in off_sales(sale_levels(records)):
        batches = records.loc[
            (records["sale_date"] == pd.Timestamp(sale.day)) & (records["market"] == sale.market), "batch"
        ]
        remedy = Text(
            f"Take out its batch ({', '.join(sorted(set(batches)))}): ", Action("undo"), ". Then add its file with ",
            Setting("price_unit"), ".",
        )  # fmt: skip
        yield Finding("fix", "level", file, sale.told(), remedy)
    twice: dict[tuple[str, ...], set[str]] = {}
    for same in same_sales(book.path, records):
        twice.setdefault(tuple(sorted((same.market, same.book_market))), set()).add(f"{same.day}")
    for (one, other), days in sorted(twice.items()):
        what = f"the same rows stand under {one or '(no name)'} and {other} on {_listed(sorted(days))}"
        yield Finding("fix", "same_sale", file, what, _make_one())
    spans = market_spans(records)
    for span in spans:
        for kin in kin_of((span.market,), span.last_sale, spans):
            what = (
                f"{span.market or '(no name)'} ends on {span.last_sale}; {kin.market or '(no name)'} begins on "
                f"{kin.first_sale}, and may be the same barn"
            )
            yield Finding("look", "two_names", file, what, _make_one("If it is one barn: "))
    quotes = source.quotes()
    if quotes and (age := (today - max(quote.as_of for quote in quotes)).days) > OLDEST_QUOTE_DAYS:
        what = (
            f"its newest futures are {age:,} days old, over the {OLDEST_QUOTE_DAYS} that count in an outlook"
        )
        yield Finding(
            "look", "futures", file, what, Text("Add newer ones: ", Action("add_quotes"), ", and fit again.")
        )


def odd_gaps(market: MarketInfo) -> tuple[str, ...]:
    """Return the months (YYYY-MM) without a sale whose calendar month has sales in most years: no season of rest."""
    span = Counter(month.month for month in pd.period_range(market.first, market.last, freq="M"))
    missing = Counter(int(gap[5:]) for gap in market.gaps)
    return tuple(gap for gap in market.gaps if 2 * missing[int(gap[5:])] < span[int(gap[5:])])


def _make_one(lead: str = "Make them one: ") -> Text:
    return Text(lead, Action("rename_market"), ".")


def _listed(parts: Sequence[str], most: int = 6) -> str:
    more = f" and {len(parts) - most} more" if len(parts) > most else ""
    return ", ".join(parts[:most]) + more


def _holding(books: Sequence[_Book], markets: Sequence[str]) -> _Book | None:
    """Return the book that holds most of some markets."""
    counts = [(len({m.market for m in book.markets} & set(markets)), book) for book in books]
    most, book = max(counts, key=lambda pair: pair[0], default=(0, None))
    return book if most else None


def _span(book: _Book, markets: Sequence[str], first: date, last: date) -> pd.DataFrame:
    days = book.records["sale_date"]
    inside = (days >= pd.Timestamp(first)) & (days <= pd.Timestamp(last))
    return book.records[inside & book.records["market"].isin(markets)]


def _of_fit(path: Path, fit: MarketFit, books: Sequence[_Book]) -> Iterator[Finding]:
    """Yield how far a fit is from the book that its markets stand in."""
    file, basis = str(path), fit.basis
    again = Text("Fit again: ", Action("fit"), ".")
    book = _holding(books, basis.markets)
    if book is None:
        what = f"no sale book here holds its markets ({', '.join(basis.markets)})"
        yield Finding("look", "no_book", file, what, Text("Put its book beside it, or fit again."))
        return
    lots = 0
    try:
        inside = _span(book, basis.markets, basis.first_sale, basis.last_sale)
        with coded_lots(inside) as coded:
            lots = len(coded.lots)
    except SlidefitError:
        pass  # no usable lot is left
    if lots != basis.lots:
        what = (
            f"it was made of {basis.lots:,} lots of {basis.first_sale} to {basis.last_sale}; {book.path.name} now "
            f"holds {lots:,} of those days and markets"
        )
        yield Finding("fix", "drift", file, what, again)
    later = _span(book, basis.markets, basis.last_sale, date.max.replace(year=2261))
    newer = int((later["sale_date"] > pd.Timestamp(basis.last_sale)).sum())
    if newer:
        what = f"{book.path.name} holds {newer:,} records newer than its last sale, {basis.last_sale}"
        yield Finding("look", "behind", file, what, again)


def _of_region(path: Path, region: Region, books: Sequence[_Book], today: date) -> Iterator[Finding]:
    """Yield a region's age, how far it is from its book, odd numbers, and former versions that can't be read."""
    file, source = str(path), region.source
    update = Text("Update it: ", Action("update"), ".")
    yield from (Finding("look", "old", file, note, update) for note in age_notes(region, today))
    odd = Text("Look whether it is meant: ", Action("read_region"), ".")
    yield from (Finding("look", "odd", file, note, odd) for note in odd_notes(region))
    book = _holding(books, region.markets)
    if book is not None:
        newer = records_behind(region, book.records)
        own = _span(book, region.markets, source.first_sale, source.last_sale)
        if newer:
            what = f"{book.path.name} holds {newer:,} records of its markets newer than {source.last_sale}"
            yield Finding("look", "behind", file, what, update)
        if source.batches_sha256 and batches_sha256(own) != source.batches_sha256:
            what = (
                f"the records that it was made of are not those that {book.path.name} holds of its days now"
            )
            yield Finding("look", "drift", file, what, update)
    for former in (former for former in formers(path) if former.region is None):
        what = f"former version {former.number} can't be read"
        yield Finding("fix", "former", str(former.path), what, "Fix it, or delete it if it isn't needed.")
    yield from _read(path, hand_edits)
