"""Finding the card of a file's source again, what a reading adds to it, and what has changed since."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TypeVar

import numpy as np
import pandas as pd

from slidefit.errors import QuestionError, RecordsError
from slidefit.facts import Setting, Text
from slidefit.records.meaning.unit_choice import POUND_MONEY
from slidefit.records.reading.read_options import ReadOptions, Values
from slidefit.records.reading.source_card import RANGES, SourceCard, fingerprint, source_name
from slidefit.records.reading.tables import Table
from slidefit.records.result import WordMeaning
from slidefit.records.words.headings import Evidence

_TEXT_REPORT = "report in text"
_KEPT_FIELDS = ("sex", "category", "grade", "price_unit")
_NEAR_SHARE = (
    0.8  # of the headings of either list: the same source with a column more or less (a choice of ours)
)
_FAR_FACTOR = (
    2.0  # the median against the source's own range: another unit, not another year (a choice of ours)
)
# US feeder calves have brought 20 (about 1960) to 500 (2026) $/cwt: common practice, no source
_LOWEST_CWT, _HIGHEST_CWT = 10.0, 1500.0
_EDGES_PCT = (1.0, 99.0)
_MOST_SHOWN = 5


def headings_of(table: Table) -> tuple[str, ...]:
    """Return what a table's source is known by: its headings, or for a report in text its market."""
    if any(heading.how is Evidence.TEXT for heading in table.headings):
        place = next((at for at, heading in enumerate(table.headings) if heading.field == "market"), None)
        markets = sorted(set(table.columns[place].distinct())) if place is not None else []
        return (_TEXT_REPORT, *markets)
    return tuple(heading.text for heading in table.headings if heading.text)


def card_for(
    name: str, headings: Sequence[str], options: ReadOptions, cards: Iterable[SourceCard]
) -> SourceCard | None:
    """Return the card of the source whose files have these headings, or None where there is none.

    A market that the user names now picks the card of that market; one that no card has makes a new source.

    Raises
    ------
    QuestionError
        Sources of several markets have files of these headings, and no market is named.
    """
    found = [card for card in cards if card.matches(headings)]
    if options.market:
        found = [card for card in found if card.market in ("", options.market)]
        return next((card for card in found if card.market), found[0] if found else None)
    if len({card.market for card in found}) > 1:
        names = ", ".join(repr(card.name) for card in found)
        raise QuestionError(
            f"files of several sources have these headings: {names}",
            where=name,
            remedy=Text("Say which one it is with ", Setting("source", found[0].name), ", or a new name."),
        )
    return found[0] if found else None


Made = TypeVar("Made")


def with_card(
    name: str,
    options: ReadOptions,
    cards: Sequence[SourceCard],
    given: SourceCard | None,
    attempt: Callable[[ReadOptions], Made],
    tables_in: Callable[[Made], Iterable[Table]],
) -> tuple[Made, ReadOptions, SourceCard | None]:
    """Return what an attempt makes of a file by the card of its source, where one is known; the request; the card.

    Parameters
    ----------
    given : SourceCard or None
        The card that the user named.
    attempt : callable
        Reads the file by a request.
    tables_in : callable
        Returns the tables in what an attempt made.

    Raises
    ------
    RecordsError
        The content is of no kind that can be read.
    QuestionError
        The headings are nearly those of a source that was taught something.
    """
    if given is not None:
        options = given.completes(options)
        return attempt(options), options, given
    fault: RecordsError | None = None
    lists: list[tuple[str, ...]] = []
    try:
        made = attempt(options)
        lists = [*map(headings_of, tables_in(made))]
    except RecordsError as found:
        fault = found
    known = next(filter(None, (card_for(name, told, options, cards) for told in lists)), None)
    for item in (item for item in cards if item.mapping):  # headings that only a card explains
        if known is None:
            with suppress(RecordsError):
                tried = attempt(item.completes(options))
                if any(map(item.matches, map(headings_of, tables_in(tried)))):
                    known = card_for(name, item.headings, options, cards)
    if known is not None and known.taught:
        options = known.completes(options)
        return attempt(options), options, known
    if fault is not None:
        raise fault
    for headings in lists if known is None else ():
        _ask_about_change(name, headings, cards)
    return made, options, known


def _ask_about_change(name: str, headings: Sequence[str], cards: Iterable[SourceCard]) -> None:
    """Ask whether a table with nearly the headings of a taught source is of that source."""
    new = set(fingerprint(headings))
    for card in cards:
        old = set(fingerprint(card.headings))
        if not card.taught or new == old or len(new & old) < _NEAR_SHARE * max(len(new), len(old), 1):
            continue
        changes = [
            *(f"a new heading {text!r}" for text in sorted(new - old)),
            *(f"no {t!r}" for t in sorted(old - new)),
        ]
        raise QuestionError(
            f"looks like a file of the source {card.name!r}, but has {', '.join(changes[:_MOST_SHOWN])}",
            where=name,
            remedy=Text(
                "Say ",
                Setting("source", card.name),
                " when it is one, or ",
                Setting("source"),
                " and a new name if not.",
            ),
        )


def check_level(card: SourceCard | None, frame: pd.DataFrame, name: str, *, unit_settled: bool) -> list[str]:
    """Return what lies far outside the source's own range, in words; ``unit_settled``: the user named it now.

    Raises
    ------
    QuestionError
        Its prices lie so far outside that they are of another unit, or no calves ever brought them, and the user
        names none.
    """
    notes: list[str] = []
    for key in RANGES if card is not None and len(frame) else ():
        values = frame[key].dropna()
        low, high = card.ranges.get(key, (0.0, np.inf)) if card is not None else (0.0, np.inf)
        middle = float(values.median()) if len(values) else np.nan
        if not np.isfinite(high) or not (middle < low / _FAR_FACTOR or middle > high * _FAR_FACTOR):
            continue
        found = f"{key} is {middle:,.2f} in the middle; files of this source held {low:,.2f} to {high:,.2f}"
        if key == "price_cwt" and card is not None and not unit_settled:
            raise QuestionError(
                f"{found}: the unit may be another",
                where=name,
                remedy=Text(
                    "Say ",
                    Setting("price_unit"),
                    ", or ",
                    Setting("source"),
                    " and a new name if it is another source.",
                ),
            )
        notes.append(found)
    pounds = frame.loc[frame["currency"].isin(POUND_MONEY), "price_cwt"].dropna() if len(frame) else frame
    if len(pounds) and not _LOWEST_CWT <= (middle := float(np.median(pounds))) <= _HIGHEST_CWT:
        found = f"the prices are {middle:,.2f} in the middle, which calves don't bring"
        if not unit_settled:
            raise QuestionError(
                f"read as dollars per hundredweight, {found}",
                where=name,
                remedy=Text("Put back a lost decimal point, or say their unit: ", Setting("price_unit"), "."),
            )
        notes.append(f"by the unit that was given, in dollars per hundredweight, {found}")
    return notes


def new_words(
    card: SourceCard | None, words: Iterable[WordMeaning], options: ReadOptions
) -> list[WordMeaning]:
    """Return the words that no earlier file of the source had, in columns whose words are kept."""
    if card is None:
        return []
    seen = {
        name: {*map(str.lower, card.understood.get(name, {})), *_settled(options, name)}
        for name in _KEPT_FIELDS
    }
    return [
        word
        for word in words
        if word.field in _KEPT_FIELDS and seen[word.field] and word.text.lower() not in seen[word.field]
    ]


def _settled(options: ReadOptions, field: str) -> set[str]:
    """Return the words of a field that are taught, and what stands in their place once they are."""
    return {text.lower() for pair in options.values.get(field, {}).items() for text in pair}


def learned_card(
    card: SourceCard | None,
    name: str,
    headings: tuple[str, ...],
    options: ReadOptions,
    words: Iterable[WordMeaning],
    frame: pd.DataFrame,
) -> SourceCard:
    """Return the card of a source after a reading; a new one is named after the market, or the file."""
    understood: dict[str, dict[str, str]] = {}
    for word in words:
        taught = _settled(options, word.field)
        if word.field in _KEPT_FIELDS and word.meaning and word.text.lower() not in taught:
            understood.setdefault(word.field, {})[word.text] = word.meaning
    ranges = {}
    for key in RANGES:
        values = frame[key].dropna().to_numpy(dtype=float)
        if len(values):
            low, high = np.percentile(values, _EDGES_PCT)
            ranges[key] = (round(float(low), 2), round(float(high), 2))
    base = card or SourceCard(source_name(name), headings)
    return replace(base.learned(options, _plain(understood), ranges), headings=headings or base.headings)


def _plain(understood: dict[str, dict[str, str]]) -> Values:
    """Return words and meanings in the order of the alphabet, so that a card reads the same each time."""
    return {name: dict(sorted(words.items())) for name, words in sorted(understood.items())}


def free_name(card: SourceCard, taken: Mapping[str, SourceCard]) -> str:
    """Return the name of a new card, with a number behind it where another card has that name.

    >>> free_name(SourceCard("rook", ("a",)), {"rook": SourceCard("rook", ("b",))})
    'rook-2'
    """
    name, number = card.name, 2
    while name in taken:
        name, number = f"{card.name}-{number}", number + 1
    return name
