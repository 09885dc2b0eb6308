"""Which country's money a text or a place names."""

from __future__ import annotations

import re

_CURRENCIES: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("USD", re.compile(r"\bus\s?\$|\bu\.s\. (?:dollars|per)|\busd\b|us dollars?", re.IGNORECASE)),
    (
        "CAD",
        re.compile(
            r"(?<![a-z])c\s?\$|(?<![a-z])ca\$|\bcad\b|\bcdn\b|canadian (?:dollars?|funds)", re.IGNORECASE
        ),
    ),
    ("AUD", re.compile(r"(?<![a-z])au?\s?\$|\baud\b|australian dollars?", re.IGNORECASE)),
    ("NZD", re.compile(r"\bnz\s?\$|\bnzd\b", re.IGNORECASE)),
    ("MXN", re.compile(r"\bmxn\b|\bpesos\b|\bpesos? mexican|\bmx\s?\$", re.IGNORECASE)),
    ("BRL", re.compile(r"(?<![a-z])r\$|\bbrl\b|\breais\b", re.IGNORECASE)),
    ("EUR", re.compile(r"€|\beur(?:os?)?\b", re.IGNORECASE)),
    ("GBP", re.compile(r"£|\bgbp\b|\bpence\b|(?<![a-z])p\s?/\s?kg\b|\bppkg?\b", re.IGNORECASE)),
    ("ZAR", re.compile(r"\bzar\b|\brands?\b(?= ?/| per)", re.IGNORECASE)),
)


PROVINCES = frozenset(
    [
        *(
            "alberta",
            "saskatchewan",
            "manitoba",
            "british columbia",
            "ontario",
            "quebec",
            "québec",
            "new brunswick",
        ),
        *("nova scotia", "prince edward island", "newfoundland", "newfoundland and labrador"),
        *("ab", "sk", "mb", "bc", "on", "qc", "nb", "ns", "pe", "pei", "nl"),
    ]
)
"""The provinces of Canada, by name and postal abbreviation (Canada Post), whose feeder prices are in CAD."""


_PROVINCE_NAMES = re.compile(
    r"\b(?:alberta|saskatchewan|manitoba|british columbia|ontario|qu[eé]bec|nova scotia|new brunswick)\b",
    re.IGNORECASE,
)


def is_province(text: str) -> bool:
    """Tell whether a cell names a province of Canada.

    >>> is_province("AB"), is_province("Saskatchewan"), is_province("MT")
    (True, True, False)
    """
    return text.strip().strip(".").lower() in PROVINCES


def names_province(text: str) -> bool:
    """Tell whether a title names a province of Canada by its full name.

    >>> names_province("Alder Coulee, Alberta"), names_province("Sale on Monday")
    (True, False)
    """
    return bool(_PROVINCE_NAMES.search(text))


def currency_of(text: str) -> str:
    """Return the three-letter code of the money that a text names, or blank.

    >>> currency_of("C$/cwt"), currency_of("$/cwt"), currency_of("pesos por kg")
    ('CAD', '', 'MXN')
    """
    for code, pattern in _CURRENCIES:
        if pattern.search(text):
            return code
    return ""
