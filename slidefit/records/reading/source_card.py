"""The card of a source of files: how its headings, words, units, days and market names are read, kept as TOML."""

from __future__ import annotations

import dataclasses
import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from slidefit.errors import DocumentError, RecordsError, SlidefitError
from slidefit.public_result import PublicResult
from slidefit.records.reading.read_options import SALE_DAYS, ReadOptions, Values, checked_units, known_field
from slidefit.records.words.fields import normal
from slidefit.records.words.taught import allowed_meanings
from slidefit.toml_faults import Problem, key_lines, placed, suggest_key, toml_tables_of, toml_text
from slidefit.toml_tables import toml_value

_NAME = re.compile(r"^[\w][\w .-]{0,60}$")
MOST_WORDS = 60  # words of a column kept in the card, so that it stays readable
SETTINGS = ("market", "currency", "price_unit", "weight_unit", "date_order", "sale_day", "sheet")
_UNITS = ("price_unit", "weight_unit", "date_order")
RANGES = ("price_cwt", "weight_lb", "head")
CARD_TABLES = ("columns", "market_names", "values", "understood", "ranges")
CARD_LINES = ("name", "headings", *SETTINGS, "skip_rows", *CARD_TABLES)


@dataclass(frozen=True, repr=False)
class SourceCard(PublicResult):
    """How the files of one source are read.

    Attributes
    ----------
    name : str
    headings : tuple of str
        Headings of its table, by which its files are found again; for a report in text, its market.
    mapping, values, market_names, market, ... : what the user settled, as in ``ReadOptions``
    understood : mapping of field to words and their meanings
        What was read without help; for the reader of the card, and to notice new words.
    ranges : mapping of price_cwt, weight_lb and head to the lowest and highest seen
    """

    name: str
    headings: tuple[str, ...] = ()
    mapping: Mapping[str, str] = field(default_factory=dict)
    values: Values = field(default_factory=dict)
    market_names: Mapping[str, str] = field(default_factory=dict)
    market: str = ""
    currency: str = ""
    price_unit: str = ""
    weight_unit: str = ""
    date_order: str = ""
    sale_day: str = ""
    sheet: str = ""
    skip_rows: int = 0
    understood: Values = field(default_factory=dict)
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    @property
    def taught(self) -> bool:
        """Tell whether the user settled anything."""
        return any(
            getattr(self, name) for name in ("mapping", "values", "market_names", "skip_rows", *SETTINGS)
        )

    def matches(self, headings: Sequence[str]) -> bool:
        """Tell whether a table's headings are those of this source, in any order."""
        return bool(self.headings) and fingerprint(self.headings) == fingerprint(headings)

    def completes(self, options: ReadOptions) -> ReadOptions:
        """Return a request with the card behind it: what the user says now goes first."""
        values = {name: {**words, **options.values.get(name, {})} for name, words in self.values.items()}
        return dataclasses.replace(
            options,
            mapping={**self.mapping, **options.mapping},
            values={**options.values, **values},
            market_names={**self.market_names, **options.market_names},
            skip_rows=options.skip_rows or self.skip_rows,
            **{name: getattr(options, name) or getattr(self, name) for name in SETTINGS},
        )

    def learned(
        self, options: ReadOptions, understood: Values, ranges: Mapping[str, tuple[float, float]]
    ) -> SourceCard:
        """Return the card with what a reading settled, understood and saw added to it."""
        words: dict[str, dict[str, str]] = {}
        for name in dict.fromkeys((*self.understood, *understood)):
            all_words = {**self.understood.get(name, {}), **understood.get(name, {})}
            words[name] = dict(itertools.islice(all_words.items(), MOST_WORDS))
        wider = dict(self.ranges)
        for name, (low, high) in ranges.items():
            lowest, highest = wider.get(name, (low, high))
            wider[name] = min(low, lowest), max(high, highest)
        return dataclasses.replace(
            self,
            mapping=dict(options.mapping),
            values={name: dict(told) for name, told in options.values.items()},
            market_names=dict(options.market_names),
            skip_rows=options.skip_rows,
            understood=words,
            ranges=wider,
            **{name: getattr(options, name) for name in SETTINGS if name != "sale_day"},
            sale_day=options.sale_day if options.sale_day in SALE_DAYS else "",  # a day is of one file
        )


def fingerprint(headings: Sequence[str]) -> tuple[str, ...]:
    """Return what a source is found again by: its headings in small letters, in any order.

    >>> fingerprint(["Avg. Wt", "Head"]) == fingerprint(["head", "Avg Wt"])
    True
    """
    return tuple(sorted(filter(None, map(normal, headings))))


def source_name(text: str) -> str:
    """Return a plain name for a source, of small letters and strokes.

    >>> source_name("Rook Hill Auction"), source_name("2023 sales.csv"), source_name("...")
    ('rook-hill-auction', '2023-sales-csv', 'source')
    """
    return re.sub(r"[^\w]+", "-", text.lower()).strip("-_")[:60] or "source"


_UNDERSTOOD = "read so without help; move a line to values to settle it"


def card_toml(card: SourceCard) -> str:
    """Return a card as a TOML text that a person can read and change."""
    lines = [
        "# How slidefit reads the files of this source. Any line may be changed or left out;",
        "# what is missing is decided from each file.",
        f"name = {toml_value(card.name)}",
        "# the files are known by these headings (a report in text: by its market)",
        f"headings = {toml_value(list(card.headings))}",
    ]
    lines += [f"{name} = {toml_value(getattr(card, name))}" for name in SETTINGS if getattr(card, name)]
    lines += [f"skip_rows = {card.skip_rows}"] if card.skip_rows else []
    sections: list[tuple[str, str, Mapping[str, Any]]] = [
        ("columns", "heading in the file = its meaning", card.mapping),
        ("market_names", "name in the file = name in the book", card.market_names),
        *(
            (f"values.{_key(key)}", "word in the file = its meaning", told)
            for key, told in card.values.items()
        ),
        *((f"understood.{_key(key)}", _UNDERSTOOD, told) for key, told in card.understood.items()),
        ("ranges", "lowest and highest so far; a file far outside is asked about", card.ranges),
    ]
    for name, why, told in sections:
        if told:
            lines += ["", f"[{name}]  # {why}"]
            lines += [f"{_key(key)} = {toml_value(value)}" for key, value in told.items()]
    return "\n".join(lines) + "\n"


def _key(text: str) -> str:
    return text if re.fullmatch(r"[A-Za-z0-9_-]+", text) else toml_value(text)


def read_card(path: str | Path) -> SourceCard:
    """Read a card from a TOML file.

    Raises
    ------
    RecordsError
        There is no such file, or it is no text.
    DocumentError
        The text is no TOML, or a line of it is no line of a card; every fault with its line.
    """
    try:
        text = toml_text(Path(path))
    except SlidefitError as fault:
        raise RecordsError(fault.what, where=fault.where, remedy=fault.remedy) from fault
    return card_from(text, str(path))


def card_from(text: str, name: str) -> SourceCard:
    """Return the card in a TOML text; ``name`` is what faults call it.

    Raises
    ------
    DocumentError
        The text is no TOML, or a line of it is no line of a card.
    """
    try:
        told = toml_tables_of(text, name)
    except SlidefitError as fault:
        raise DocumentError([fault]) from fault
    problems = _problems(told)
    if problems:
        raise DocumentError(placed(problems, name, key_lines(text)))
    said = {key: told[key] for key in (*SETTINGS, "skip_rows") if key in told}
    said.update(zip(_UNITS, checked_units(*map(told.get, _UNITS)), strict=True))
    return SourceCard(
        name=told["name"],
        headings=tuple(told.get("headings", ())),
        mapping={heading: known_field(meaning) or "" for heading, meaning in told.get("columns", {}).items()},
        values={known_field(key) or key: dict(words) for key, words in told.get("values", {}).items()},
        market_names=dict(told.get("market_names", {})),
        understood={key: dict(words) for key, words in told.get("understood", {}).items()},
        ranges={key: (float(low), float(high)) for key, (low, high) in told.get("ranges", {}).items()},
        **said,
    )


def _problems(told: Mapping[str, Any]) -> list[Problem]:
    found: list[Problem] = [
        ((key,), "is not a line of a source card", suggest_key(key, CARD_LINES))
        for key in told
        if key not in CARD_LINES
    ]
    if not isinstance(told.get("name"), str) or not _NAME.match(told["name"]):
        what = "must be a name of letters, digits, blanks, - and _"
        found.append((("name",), what, 'Write name = "my-barn".'))
    found += [
        ((key,), f"is {told[key]!r}", "Write it in quotes.")
        for key in SETTINGS
        if not isinstance(told.get(key, ""), str)
    ]
    if not isinstance(told.get("skip_rows", 0), int) or told.get("skip_rows", 0) < 0:
        found.append((("skip_rows",), f"is {told['skip_rows']!r}", "Give a whole number of rows."))
    headings = told.get("headings", [])
    if not isinstance(headings, list) or not all(isinstance(text, str) for text in headings):
        found.append((("headings",), "must be a list of texts", 'Write headings = ["Head", "Avg Wt"].'))
    for key in CARD_TABLES:
        if not isinstance(told.get(key, {}), dict):
            found.append(((key,), "must be a table", f"Write [{key}] and its lines below it."))
            return found
    return found + _unit_problems(told) + _word_problems(told)


def _unit_problems(told: Mapping[str, Any]) -> list[Problem]:
    found: list[Problem] = []
    for key in (key for key in _UNITS if isinstance(told.get(key), str)):
        try:
            checked_units(*(told[key] if name == key else None for name in _UNITS))
        except RecordsError as fault:
            found.append(((key,), fault.what, fault.remedy))
    if told.get("sale_day", "title") not in SALE_DAYS:
        found.append((("sale_day",), f"is {told['sale_day']!r}", f"Use {' or '.join(SALE_DAYS)}."))
    return found


def _word_problems(told: Mapping[str, Any]) -> list[Problem]:
    found: list[Problem] = []
    for heading, meaning in told.get("columns", {}).items():
        if not isinstance(meaning, str) or known_field(meaning) is None:
            what = f"{meaning!r} is not a field of a sale record"
            found.append((("columns", heading), what, "See docs/records.md."))
    for key in ("values", "understood"):
        for name, words in told.get(key, {}).items():
            for word, meaning in words.items() if isinstance(words, dict) else [("", words)]:
                fault = "" if isinstance(words, dict) and isinstance(meaning, str) else "words and meanings"
                if not fault and key == "values":
                    fault = allowed_meanings(known_field(name) or name, meaning)
                if fault:
                    what = f"{meaning!r} is not a meaning of {name}"
                    found.append(((key, name, word), what, f"Use one of: {fault}."))
    for name, pair in told.get("ranges", {}).items():
        numbers = isinstance(pair, list) and len(pair) == 2 and all(isinstance(v, int | float) for v in pair)
        if name not in RANGES or not numbers or pair[0] > pair[1]:
            ask = f"Give the lowest and highest of {', '.join(RANGES)}."
            found.append((("ranges", name), f"is {pair!r}", ask))
    return found
