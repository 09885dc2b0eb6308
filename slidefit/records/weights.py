"""Weight classes as they are written: 500-550, 400+, over 900, 5-6 hundredweight, 5-600, 6-May."""

from __future__ import annotations

import re
from dataclasses import dataclass

from slidefit.records.numerals import is_missing, parse_range

LB_PER_KG = 2.20462262
HUNDREDWEIGHT_BELOW = 16.0
_OPEN = re.compile(
    r"\d\s*(?:lbs?\.?|pounds?|kgs?|#)?\s*(?:\+|plus\b|[-–/ ]*(?:and|&|or)\s+(?:up|over|above"
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
    r"^(?P<hundreds>\d{1,2})\s*-?\s*(?:w(?:eigh)?ts?\b\.?|['’]s)$|^(?P<hundreds2>\d{1,2})00\s?['’]?s$", re.I
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
