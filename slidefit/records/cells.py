"""Price and weight cells as read: numbers, whether they are ranges, and the units and marks written in the cell."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from slidefit.records.numerals import no_number, parse_number, parse_range
from slidefit.records.units import PER_HEAD, currency_of, price_unit_of
from slidefit.records.weights import parse_weight_class

REMEMBERED = 1 << 17
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


@lru_cache(maxsize=REMEMBERED)
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


@lru_cache(maxsize=REMEMBERED)
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
