"""Units of price and weight: how they are written, and what turns them into $/cwt and lb."""

from __future__ import annotations

import re

from slidefit.records.weights import LB_PER_KG

KG_PER_LB = 0.45359237

# price unit -> factor to money per hundredweight (of pounds); head and dressed can't be converted by a factor
PRICE_FACTORS: dict[str, float] = {
    "$/cwt": 1.0,
    "$/lb": 100.0,
    "cents/lb": 1.0,
    "$/kg": 100.0 * KG_PER_LB,
    "cents/kg": KG_PER_LB,
}
PER_HEAD = "$/head"
DRESSED = "dressed"
PRICE_UNITS: tuple[str, ...] = (*PRICE_FACTORS, PER_HEAD)
WEIGHT_FACTORS: dict[str, float] = {"lb": 1.0, "kg": LB_PER_KG, "cwt": 100.0}

_PER = r"\s*(?:/|per|\ba\b|by the|-)\s*"
_KILO = r"(?:kgs?|kilos?|kilograms?)\b"
_POUND = r"(?:lbs?|pounds?|#)(?![a-z])"
_CENTS = r"(?:c(?![a-z$])|ckg|¢|cts?\.?|cents?|(?<![a-z])p(?=\s*(?:/|per\b))|pence|centavos?)"
_MONEY = r"\b(?:usd|cad|aud|nzd|eur|gbp|mxn|brl|zar)\b"
_UNIT_PATTERNS: tuple[tuple[str, re.Pattern[str]], ...] = (
    (
        DRESSED,
        re.compile(
            r"\bd\.\s?w\.?|\bdw\b|\bcwe\b|carcass|carcase|dressed|\bhscw\b|\bhcw\b|hot weight|\bcwt? "
            r"?dw\b|rail (?:price|grade)"
        ),
    ),
    (
        PER_HEAD,
        re.compile(
            r"(?:/|\bper|by the|\$ ?a)\s*(?:head|hd|unit|family|pair|animal|calf|piece|each)\b|\beach\b"
            r"|dollars a head|\$hd\b"
        ),
    ),
    (
        "cents/kg",
        re.compile(rf"(?:{_CENTS}){_PER}{_KILO}|\bckg\b|\bc/kg|\bppkg?\b|(?:/|per)\s*100\s*{_KILO}"),
    ),
    ("$/kg", re.compile(rf"(?:/|\bper\b|\bpor\b|{_MONEY})\s*{_KILO}")),
    (
        "$/cwt",
        re.compile(
            r"\bc\.?w\.?t\.?\b|hundred\s?-?weights?|(?:/|per)\s*(?:100|hundred)\s*(?:lbs?|pounds?|#)?"
            r"|\$/c\b|per c\b"
        ),
    ),
    ("cents/lb", re.compile(rf"(?:{_CENTS}){_PER}{_POUND}")),
    ("$/lb", re.compile(rf"(?:/|\bper\b|\$ ?a|{_MONEY})\s*{_POUND}|\bppp\b|\$\s?lbs?\b")),
)
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
_UNIT_WORDS: dict[str, str] = {
    "cwt": "$/cwt",
    "usd/cwt": "$/cwt",
    "dollars/cwt": "$/cwt",
    "lb": "$/lb",
    "usd/lb": "$/lb",
    "c/lb": "cents/lb",
    "cent/lb": "cents/lb",
    "kg": "$/kg",
    "c/kg": "cents/kg",
    "cent/kg": "cents/kg",
    "head": PER_HEAD,
    "hd": PER_HEAD,
    "$/hd": PER_HEAD,
}


# codes in a column of units: sold by the head or by weight (common practice, no source)
_UNIT_CODES: dict[str, str] = {
    **dict.fromkeys(("h", "ph", "hp", "ea", "e", "u"), PER_HEAD),
    **dict.fromkeys(("w", "wt", "weight", "by weight", "c", "pc"), "$/cwt"),
    **dict.fromkeys(("p", "pp", "l"), "$/lb"),
}


def price_unit_of(text: str) -> str:
    """Return the price unit that a text names, or blank.

    >>> [price_unit_of(t) for t in ("Price c/kg Lwt", "$/Cwt", "Per Unit", "dollars per pound", "Avg Price")]
    ['cents/kg', '$/cwt', '$/head', '$/lb', '']
    """
    low = text.lower()
    for unit, pattern in _UNIT_PATTERNS:
        if pattern.search(low):
            return unit
    return ""


def row_price_unit(text: str) -> str:
    """Return the price unit in the cell of a column of units, codes included, or blank.

    >>> [row_price_unit(text) for text in ("Per Unit", "Lb", "H", "W", "Dollars")]
    ['$/head', '$/lb', '$/head', '$/cwt', '']
    """
    return (
        price_unit_of(text)
        or price_unit_of(f"per {text}")
        or _UNIT_CODES.get(text.strip().strip(".").lower(), "")
    )


def currency_of(text: str) -> str:
    """Return the three-letter code of the money that a text names, or blank.

    >>> currency_of("C$/cwt"), currency_of("$/cwt"), currency_of("pesos por kg")
    ('CAD', '', 'MXN')
    """
    for code, pattern in _CURRENCIES:
        if pattern.search(text):
            return code
    return ""


def named_price_unit(word: str) -> str | None:
    """Return the unit that a user's flag names, or None.

    >>> named_price_unit("cwt"), named_price_unit("$/head"), named_price_unit("bushel")
    ('$/cwt', '$/head', None)
    """
    bare = word.strip().lower().replace(" ", "")
    return bare if bare in PRICE_UNITS else _UNIT_WORDS.get(bare)
