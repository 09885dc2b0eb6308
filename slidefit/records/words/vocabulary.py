"""The words of sale lists, kept as data: headings of fields, classes of animals, traits, and words of titles."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

VOCABULARY: dict[str, Any] = tomllib.loads(
    Path(__file__).with_name("vocabulary.toml").read_text(encoding="utf-8")
)


def alternatives(text: str) -> str:
    """Return an entry as one expression: a line end stands for "or".

    >>> alternatives("steers?\\nstrs?\\n")
    'steers?|strs?'
    """
    return "|".join(text.split("\n")).strip("|")


def phrases_of(text: str) -> tuple[str, ...]:
    """Return the plain phrases of an entry, the surest first."""
    return tuple(filter(None, alternatives(text).split("|")))


def look_of(section: str, name: str, parts: Mapping[str, str]) -> str:
    """Return the expression of an entry, in which words in braces stand for parts.

    >>> "october" in look_of("dates", "year_month_name", {"month": "october"})
    True
    """
    look = alternatives(VOCABULARY[section][name])
    for part, meaning in parts.items():
        look = look.replace(f"{{{part}}}", alternatives(meaning))
    return look


def words_of(section: str, name: str, parts: Mapping[str, str] | None = None) -> re.Pattern[str]:
    """Return the compiled expression of an entry.

    >>> bool(words_of("animals", "steer").search("12 BLK STRS"))
    True
    """
    return re.compile(look_of(section, name, parts or {}), re.IGNORECASE)


_TOGETHER = re.compile(r"(?<=[a-z])(?=[A-Z][a-z]|[A-Z]{2,}\b)|_")


def apart(text: str) -> str:
    """Return a text with the words apart that capitals or low lines hold together.

    >>> apart("FeederSteers"), apart("price_CWT"), apart("STRs")
    ('Feeder Steers', 'price CWT', 'STRs')
    """
    return _TOGETHER.sub(" ", text)
