"""Units, weight classes, price and weight cells."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from slidefit.records.words.currencies import currency_of
from slidefit.records.words.numerals import is_missing, no_number, parse_number, parse_range

LB_PER_KG = 2.20462262
HUNDREDWEIGHT_BELOW = 16.0
LIGHTEST_LB, HEAVIEST_LB = 75.0, 2_000.0  # of a calf that is believed: common practice, no source
_OPEN = re.compile(
    r"\d\s*+(?:lbs?\.?|pounds?|kgs?|cwts?|w(?:eigh)?ts?\.?|#)?\s*+(?:\+|plus\b|[-–/ ]*+(?:and|&|or)\s+(?:up|over|above"
    r"|heavier|more|under|below|less|lighter)\b"
    r"|-?\s*up\b|-\s*over\b|[-–]\s*$)"
    r"|\b(?:over|above|under|below|less than|more than|up to|from|at least)\s*\$?\d|^[<>≥≤]",
    re.IGNORECASE,
)
_MONTHS = {
    m: i
    for i, m in enumerate(
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"], 1
    )
}
_AS_DATE = re.compile(r"^(\d{1,2})-([A-Za-z]{3})$|^([A-Za-z]{3})-(\d{1,2})$")
_ISO_DATE = re.compile(r"^\d{4}-(\d{2})-(\d{2})(?:[T ][0:.]*)?$")
_KG = re.compile(r"\bkgs?\b|kilo", re.IGNORECASE)
_LB = re.compile(r"\blbs?\b|pounds?|#", re.IGNORECASE)
_CWT = re.compile(r"\bcwts?\b|hundred\s?weights?|\b\d-?\s?w(?:eigh)?ts?\b", re.IGNORECASE)


_WEIGHTS = re.compile(
    r"^(?P<hundreds>\d{1,2})\s*+-?\s*+(?:w(?:eigh)?ts?\b\.?|['’]s)$|^(?P<hundreds2>\d{1,2})00\s?['’]?s$", re.I
)


@dataclass(frozen=True)
class WeightClass:
    """A weight or a class of weights, in the unit that was written (blank: not said).

    ``open_ended`` is true when one edge is missing (400+, over 900, 0-200).
    """

    low: float
    high: float
    unit: str = ""
    open_ended: bool = False


def weight_unit_of(text: str) -> str:
    """Return lb, kg or cwt when the text says so, else blank.

    >>> weight_unit_of("Avg Wt (lbs)"), weight_unit_of("Weight Range kg"), weight_unit_of("Wt")
    ('lb', 'kg', '')
    """
    if _KG.search(text):
        return "kg"
    if _CWT.search(text):
        return "cwt"
    return "lb" if _LB.search(text) else ""


def parse_weight_class(text: str, decimal: str = ".") -> WeightClass | None:
    """Return the weight class written in a cell or heading, or None.

    >>> parse_weight_class("500-550"), parse_weight_class("5-600").low, parse_weight_class("900 plus").open_ended
    (WeightClass(low=500.0, high=550.0, unit='', open_ended=False), 500.0, True)
    >>> parse_weight_class("5 wts").high, parse_weight_class("500s").low, parse_weight_class("5 cwt").high
    (599.0, 500.0, 5.0)
    >>> parse_weight_class("6-May")
    WeightClass(low=5.0, high=6.0, unit='cwt', open_ended=False)
    """
    bare = text.strip().rstrip("*").lstrip("'’`")
    if is_missing(bare):
        return None
    as_date = _weights_from_date(bare)
    if as_date is not None:
        return as_date
    named = _WEIGHTS.match(bare)
    if named:  # "five weights" weigh 500 to 599 lb: common practice, no source
        low = 100.0 * float(named["hundreds"] or named["hundreds2"])
        return WeightClass(low, low + 99.0, "lb")
    unit = weight_unit_of(bare)
    open_ended = bool(_OPEN.search(bare))
    plain = re.sub(
        r"(?i)\b(?:lbs?|pounds?|kgs?|kilos?|cwts?|w(?:eigh)?ts?|hundred\s?weights?|over|under|above"
        r"|below|less than|more than|up to|from|at least|plus|and|or|up|"
        r"heavier|lighter|more|less)\b\.?|(?<=\d)(?:lbs?|kgs?|cwt)\b\.?|[#+<>≥≤]",
        " ",
        bare,
    ).strip(" -–.,")
    found = parse_range(plain, decimal)
    if found is None or found.marks.strip(" .,()-") or found.low < 0:
        return None
    low, high = found.low, found.high
    if low < HUNDREDWEIGHT_BELOW and high >= 100 and low * 100 < high:
        low *= 100
    return WeightClass(low, high, unit, open_ended or (low == 0 and high > 0))


def _weights_from_date(text: str) -> WeightClass | None:
    """Return the class behind a date that a spreadsheet made of 5-6."""
    iso = _ISO_DATE.match(text)
    if iso:
        first, second = int(iso[1]), int(iso[2])
    else:
        named = _AS_DATE.match(text)
        if named is None:
            return None
        month = _MONTHS.get((named[2] or named[3]).lower())
        if month is None:
            return None
        first, second = month, int(named[1] or named[4])
    if abs(first - second) != 1 or max(first, second) > HUNDREDWEIGHT_BELOW:
        return None
    return WeightClass(float(min(first, second)), float(max(first, second)), "cwt")


_KG_PER_LB = 0.45359237

# price unit -> factor to money per hundredweight (of pounds); head and dressed can't be converted by a factor
PRICE_FACTORS: dict[str, float] = {
    "$/cwt": 1.0,
    "$/lb": 100.0,
    "cents/lb": 1.0,
    "$/kg": 100.0 * _KG_PER_LB,
    "cents/kg": _KG_PER_LB,
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


def named_price_unit(word: str) -> str | None:
    """Return the unit that a user's flag names, or None.

    >>> named_price_unit("cwt"), named_price_unit("$/head"), named_price_unit("bushel")
    ('$/cwt', '$/head', None)
    """
    bare = word.strip().lower().replace(" ", "")
    return bare if bare in PRICE_UNITS else _UNIT_WORDS.get(bare)


_REMEMBERED = 1 << 17
_CENTS_MARK = re.compile(r"^(?:c|¢|cts?|cents?)\.?$")
_FOOTNOTE = re.compile(r"\*+|†|‡|(?<=\d)[pr]$")
_NOT_SOLD = re.compile(
    r"\b(?:n\.?\s?/?\s?s\.?|p\.?\s?/?\s?o\.?|no[ -]?sales?|no bids?|pass(?:ed)?(?: (?:out|in))?|unsold|not sold|"
    r"buy[ -]?back|bought back|withdrawn|w/?d|scratch(?:ed)?|void(?:ed)?|cancel\w*|reject\w*|pulled|retained"
    r"|reserve not met)(?![\w])",
    re.IGNORECASE,
)
_ASKED = re.compile(r"\b(?:bid|ask|asking|asked|offer(?:ed)?|est|estimated?)\b", re.IGNORECASE)
_HEAD_WORDS = re.compile(r"\b(?:hd|head|ea|each)\b")


def not_sold(text: str) -> bool:
    """Tell whether a word on a lot says that it was bid on but not sold, or taken back.

    >>> not_sold("No Sale"), not_sold("PO"), not_sold("Passed in"), not_sold("Sold"), not_sold("Possum Hollow")
    (True, True, True, False, False)
    """
    return bool(_NOT_SOLD.search(text))


@dataclass(frozen=True)
class PriceCell:
    """A price cell: its range (equal ends for one price), unit and money where written, and a footnote mark."""

    low: float = math.nan
    high: float = math.nan
    unit: str = ""
    currency: str = ""
    mark: str = ""

    @property
    def given(self) -> bool:
        """Tell whether there is a price at all; zero and less mean that there was no sale."""
        return self.high > 0


NO_PRICE = PriceCell()


@lru_cache(maxsize=_REMEMBERED)
def parse_price(text: str, decimal: str = ".") -> PriceCell:
    """Return what a price cell holds.

    Examples
    --------
    >>> parse_price("$1,049.00").low, parse_price("340c").unit, parse_price("825/hd").unit
    (1049.0, 'cents', '$/head')
    >>> parse_price("n/q").given, parse_price("0").given, parse_price("340c or $1227").given
    (False, False, False)
    """
    if no_number(text):
        return NO_PRICE
    plain = parse_number(text, decimal)
    if plain is not None and not plain.marks:
        return PriceCell(plain.value, plain.value)
    mark = _FOOTNOTE.search(text.strip())
    found = parse_range(_FOOTNOTE.sub("", text.strip()).strip(), decimal)
    if found is None:
        return PriceCell(mark=mark.group() if mark else "")
    if not_sold(found.marks) or _ASKED.search(found.marks):
        return NO_PRICE
    words = re.sub(r"[().,]", " ", found.marks).strip()
    unit = price_unit_of(text)
    if not unit and _CENTS_MARK.match(words):
        unit = "cents"
    if not unit and _HEAD_WORDS.search(words):
        unit = PER_HEAD
    return PriceCell(found.low, found.high, unit, currency_of(text), mark.group() if mark else "")


@dataclass(frozen=True)
class WeightCell:
    """A weight cell: its class, unit where written, and whether an edge is open."""

    low: float = math.nan
    high: float = math.nan
    unit: str = ""
    open_ended: bool = False


NO_WEIGHT = WeightCell()


@lru_cache(maxsize=_REMEMBERED)
def parse_weight(text: str, decimal: str = ".") -> WeightCell:
    """Return what a weight cell holds.

    >>> parse_weight("462#").low, parse_weight("600-up").open_ended, parse_weight("None").low
    (462.0, True, nan)
    """
    plain = parse_number(text, decimal)
    if plain is not None and not plain.marks:
        return WeightCell(plain.value, plain.value) if plain.value > 0 else NO_WEIGHT
    found = parse_weight_class(text, decimal)
    if found is None or found.high <= 0:
        return NO_WEIGHT
    return WeightCell(found.low, found.high, found.unit, found.open_ended)


def parse_head(text: str, decimal: str = ".") -> float:
    """Return a head count, or not-a-number when the cell holds none; zero is none.

    >>> parse_head("1,046"), parse_head("12 hd"), parse_head("None")
    (1046.0, 12.0, nan)
    """
    found = parse_number(text, decimal)
    if found is None or found.value <= 0:
        return math.nan
    return found.value
