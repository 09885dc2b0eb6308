"""Read sale records from any file: find its tables, decide what they mean, and keep or set aside every row."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from operator import attrgetter
from pathlib import Path

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Text
from slidefit.records.file_reading import FileReading, decided, finished, interpreted, read_pieces, take
from slidefit.records.known_sources import free_name, headings_of, learned_card, with_card
from slidefit.records.large_files import PiecePlan, planned, worth_streaming
from slidefit.records.reading.contents import tables_of
from slidefit.records.reading.read_options import (
    ReadOptions,
    Values,
    checked_mapping,
    checked_sale_day,
    checked_units,
    checked_values,
)
from slidefit.records.reading.source_card import SourceCard
from slidefit.records.reading.sources import Source, sources
from slidefit.records.reading.tables import Table
from slidefit.records.result import ReadPart, ReadResult, RejectedRows

__all__ = ["ReadResult", "read"]
Progress = Callable[[int], None]


def read(
    paths: str | Path | Sequence[str | Path],
    *,
    mapping: Mapping[str, str] | None = None,
    market: str | None = None,
    currency: str | None = None,
    price_unit: str | None = None,
    weight_unit: str | None = None,
    date_order: str | None = None,
    sheet: str | None = None,
    values: Values | None = None,
    market_names: Mapping[str, str] | None = None,
    sale_day: str | None = None,
    source: str | SourceCard | None = None,
    cards: Mapping[str, SourceCard] | None = None,
    today: date | None = None,
    progress: Progress | None = None,
) -> ReadResult:
    """Read sale records from files, folders, archives or ``-`` (standard input).

    Parameters
    ----------
    paths, mapping, market, ... : as in `slidefit.read`
    cards : mapping of name to SourceCard, optional
        Known sources; the card of a file is found by its headings and applied. What is said here goes before it.
    progress : callable, optional
        Called with the number of rows seen so far.

    Raises
    ------
    RecordsError
        A file can't be read as a whole: missing, empty, no column of price, no sale in it.
    QuestionError
        A file can be read in two ways; the remedy names what settles it.
    """
    price, weight, order = checked_units(price_unit, weight_unit, date_order)
    options = ReadOptions(
        checked_mapping(mapping or {}),
        market or "",
        (currency or "").upper(),
        price,
        weight,
        order,
        sheet or "",
        0,
        today or date.today(),
        checked_values(values or {}),
        market_names or {},
        checked_sale_day(sale_day or "", today or date.today()),
    )
    known = _Known(dict(cards or {}), source)
    listed = [paths] if isinstance(paths, str | Path) else list(paths)
    readings: list[FileReading] = []
    digest = hashlib.sha256(options.key().encode())
    seen = 0

    def count(rows: int) -> None:
        nonlocal seen
        seen += rows
        if progress is not None:
            progress(seen)

    skipped: list[str] = []
    questions: list[QuestionError] = []
    for item in sources(listed):
        try:
            reading = _read_source(item, options, known, digest, count)
        except QuestionError as question:
            questions.append(_with_the_next(question, item, options, known))
        except RecordsError as fault:
            if len(listed) == 1 and not Path(listed[0]).is_dir() and "/" not in item.name:
                raise
            skipped.append(fault.text())
        else:
            readings.append(reading)
            known.learn(reading)
    if not readings and questions:
        raise questions[0]
    if not readings:
        raise RecordsError(
            "no file holds sale records that can be read", where=str(listed[0]), remedy=" ".join(skipped[:3])
        )
    notes = [f"{reading.name}: {note}" for reading in readings for note in reading.notes]
    return ReadResult(
        tuple(ReadPart(reading.name, reading.spool) for reading in readings),
        tuple(reading.account() for reading in readings),
        tuple(reading.aside for reading in readings),
        (*notes, *(f"not read: {text}" for text in skipped)),
        digest.hexdigest(),
        tuple(known.new.values()),
        tuple(questions),
    )


_MOST_AT_ONCE = 3


def _with_the_next(
    question: QuestionError, source: Source, options: ReadOptions, known: _Known
) -> QuestionError:
    """Return a question with those that come next when its headings are what it suggests."""
    asked = [question]
    while len(asked) < _MOST_AT_ONCE:
        told = {text: name for text, name, _ in asked[-1].values.get("headings", ()) if name}  # type: ignore[attr-defined]
        options = dataclasses.replace(options, mapping={**options.mapping, **told})
        try:
            if told:
                _read_source(source, options, known, hashlib.sha256(), lambda rows: None)
            break
        except QuestionError as after:
            if str(after.fact) == str(asked[-1].fact):  # what is suggested settles nothing
                break
            asked.append(after)
        except RecordsError:
            break
    if len(asked) == 1:
        return question
    return QuestionError(
        Text(question.fact, *(part for after in asked[1:] for part in (". Next: ", after.fact))),
        where=question.place,
        remedy=Text(asked[0].advice, *(part for after in asked[1:] for part in (" ", after.advice))),
        values={
            name: tuple(dict.fromkeys(item for each in asked for item in each.values.get(name, ())))  # type: ignore[attr-defined]
            for name in ("headings", "words")
        },
    )


class _Known:
    """The cards of the sources known so far, those found in earlier files of the same reading among them."""

    def __init__(self, cards: dict[str, SourceCard], source: str | SourceCard | None) -> None:
        self.cards = cards
        self.given = source if isinstance(source, SourceCard) else cards.get(source or "")
        self.name = source if isinstance(source, str) else ""
        self.new: dict[str, SourceCard] = {}

    def learn(self, reading: FileReading) -> None:
        """Add what a reading settled and understood to the card of its source."""
        frame = reading.spool.first()
        markets = frame["market"].unique()
        name = self.name or (str(markets[0]) if len(markets) == 1 and markets[0] else Path(reading.name).stem)
        card = learned_card(reading.card, name, reading.headings, reading.options, reading.words, frame)
        if reading.card is None and not self.name:
            taken = {**self.cards, **self.new}
            card = dataclasses.replace(card, name=free_name(card, taken))
        reading.card = card
        self.cards[card.name] = self.new[card.name] = card
        if self.name and self.given is None:
            self.given = card


def _table_planned(plan: PiecePlan | None) -> list[Table]:
    return [plan.table] if plan is not None else []


def _read_source(
    source: Source, options: ReadOptions, known: _Known, digest: hashlib._Hash, count: Progress
) -> FileReading:
    reading = FileReading(source.name, RejectedRows(source.name), unit_settled=bool(options.price_unit))
    cards = tuple(known.cards.values())
    if worth_streaming(source):
        plan, reading.options, reading.card = with_card(
            source.name, options, cards, known.given, partial(planned, source), _table_planned
        )
        if plan is not None:
            reading.headings = headings_of(plan.table)
            read_pieces(reading, plan, digest, count)
            return finished(reading)
    data = source.content()
    digest.update(data)
    if not data.strip():
        raise RecordsError(
            "the file is empty", where=source.name, remedy="Check that it was saved or downloaded whole."
        )
    contents, reading.options, reading.card = with_card(
        source.name, options, cards, known.given, partial(tables_of, source, data), attrgetter("tables")
    )
    tables, meanings = decided(contents, reading.options, reading)
    take(reading, tables, meanings, interpreted(tables, meanings, reading.options), whole=True)
    reading.other_lines += contents.other_lines
    reading.residue = contents.residue
    reading.note(*contents.notes)
    count(reading.seen)
    return finished(reading)
