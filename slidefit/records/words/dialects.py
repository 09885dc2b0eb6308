"""Published formats of sale reports, declared as data: the names of their fields, what these mean, and their units."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from slidefit.records.words.fields import normal
from slidefit.records.words.vocabulary import VOCABULARY, alternatives, phrases_of


@dataclass(frozen=True)
class PublishedFormat:
    """One published format: ``fields`` has the field of each plain name and how sure it is (0 the surest).

    Records are known by names that all have; a text by a ``line`` of its names, which ``names`` finds one by one.
    ``breaks`` are what a report that lost its line ends gets them back by: each expression and what takes its place.
    """

    fields: Mapping[str, tuple[str, int]]
    known_by: frozenset[str]
    price_unit: str
    weight_unit: str
    line: re.Pattern[str] | None
    names: re.Pattern[str]
    breaks: tuple[tuple[str, str], ...]
    heading: re.Pattern[str]

    @classmethod
    def of(cls, told: Mapping[str, Any]) -> PublishedFormat:
        """Return the format that a table of the vocabulary declares."""
        fields = {
            phrase: (name, rank)
            for name, phrases in told["columns"].items()
            for rank, phrase in enumerate(phrases_of(phrases))
        }
        looks = {phrase: r"\.? +".join(phrase.split()) + r"\.?" for phrase in sorted(fields, reverse=True)}
        first = looks.get(told.get("line_begins", ""))
        names, rest = ("|".join(look for look in looks.values() if look != left) for left in ("", first))
        breaks = {"before": r"\n\g<0>", "behind": r"\g<0>\n"}
        return cls(
            fields,
            frozenset(phrases_of(told.get("known_by", ""))),
            told["price_unit"],
            told["weight_unit"],
            re.compile(rf"\b{first}(?: +(?:{rest})){{2,}}", re.IGNORECASE) if first else None,
            re.compile(names, re.IGNORECASE),
            tuple((told[key], put) for key, put in breaks.items() if key in told),
            re.compile(alternatives(told.get("heading", "(?!)")), re.IGNORECASE),
        )


DIALECTS = tuple(map(PublishedFormat.of, VOCABULARY["dialects"].values()))


def dialect_of(headings: Iterable[str]) -> PublishedFormat | None:
    """Return the format whose names the headings of a table of records have, or None."""
    plain = set(map(normal, headings))
    return next((each for each in DIALECTS if each.known_by and each.known_by <= plain), None)


def text_dialect(text: str) -> PublishedFormat | None:
    """Return the format of a report in text, known by its line of column names, or None.

    >>> text_dialect("Head   Wt Range   Avg Wt    Price Range   Avg Price").price_unit, text_dialect("Head,Avg Wt")
    ('$/cwt', None)
    """
    return next((each for each in DIALECTS if each.line and each.line.search(text)), None)
