"""Which country's money a text or a place names."""

from __future__ import annotations

import re

from slidefit.records.words.vocabulary import VOCABULARY, alternatives, words_of

_CURRENCIES: dict[str, re.Pattern[str]] = {code: words_of("money", code) for code in VOCABULARY["money"]}
_PROVINCES = frozenset("|".join(map(alternatives, VOCABULARY["provinces"].values())).split("|"))
_PROVINCE_NAMES = re.compile(rf"\b(?:{alternatives(VOCABULARY['provinces']['names'])})\b", re.IGNORECASE)


def is_province(text: str) -> bool:
    """Tell whether a cell names a province of Canada.

    >>> is_province("AB"), is_province("Saskatchewan"), is_province("MT")
    (True, True, False)
    """
    return text.strip().strip(".").lower() in _PROVINCES


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
    for code, pattern in _CURRENCIES.items():
        if pattern.search(text):
            return code
    return ""
