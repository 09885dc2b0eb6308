"""Units, money, weight classes, price and weight cells."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce

from slidefit.records.words.dates import neighbors_in_date
from slidefit.records.words.numerals import is_missing, no_number, parse_number, parse_range
from slidefit.records.words.vocabulary import VOCABULARY, alternatives, words_of

LB_PER_KG = 2.20462262
HUNDREDWEIGHT_BELOW = 16.0
LIGHTEST_LB, HEAVIEST_LB = 75.0, 2_000.0  # of a calf that is believed: common practice, no source
_OPEN = words_of("weights", "open")
_WEIGHT_WORDS = words_of("weights", "words")
_HUNDREDS = words_of("weights", "hundreds")
_WEIGHT_UNITS = {unit: words_of("weight_units", unit) for unit in VOCABULARY["weight_units"]}


def _first_named(patterns: Mapping[str, re.Pattern[str]], text: str) -> str:
    """Return the first name whose expression a text holds, or blank."""
    return next((name for name, pattern in patterns.items() if pattern.search(text)), "")


@dataclass(frozen=True)
class Measure:
    """The range that a cell tells (equal ends for one number), in the unit that was written (blank: not said)."""

    low: float = math.nan
    high: float = math.nan
    unit: str = ""

    @property
    def single(self) -> float:
        """The one number, or not-a-number where there is none or a range."""
        return self.low if self.low == self.high else math.nan

    @property
    def middle(self) -> float:
        """The middle of the range."""
        return 0.5 * (self.low + self.high)


@dataclass(frozen=True)
class WeightCell(Measure):
    """A weight or a class of weights; ``open_ended`` when one edge is missing (400+, over 900, 0-200)."""

    open_ended: bool = False


def weight_unit_of(text: str) -> str:
    """Return lb, kg or cwt when the text says so, else blank.

    >>> weight_unit_of("Avg Wt (lbs)"), weight_unit_of("Weight Range kg"), weight_unit_of("Wt")
    ('lb', 'kg', '')
    """
    return _first_named(_WEIGHT_UNITS, text)


def parse_weight_class(text: str, decimal: str = ".") -> WeightCell | None:
    """Return the weight class written in a cell or heading, or None.

    >>> parse_weight_class("500-550"), parse_weight_class("5-600").low, parse_weight_class("900 plus").open_ended
    (WeightCell(low=500.0, high=550.0, unit='', open_ended=False), 500.0, True)
    >>> parse_weight_class("5 wts").high, parse_weight_class("500s").low, parse_weight_class("5 cwt").high
    (599.0, 500.0, 5.0)
    >>> parse_weight_class("6-May")
    WeightCell(low=5.0, high=6.0, unit='cwt', open_ended=False)
    """
    bare = text.strip().rstrip("*").lstrip("'’`")
    if is_missing(bare):
        return None
    if (as_date := neighbors_in_date(bare)) is not None:
        return WeightCell(float(as_date[0]), float(as_date[1]), "cwt")
    named = _HUNDREDS.match(bare)
    if named:  # "five weights" weigh 500 to 599 lb: common practice, no source
        low = 100.0 * float(named["hundreds"] or named["hundreds2"])
        return WeightCell(low, low + 99.0, "lb")
    found = parse_range(_WEIGHT_WORDS.sub(" ", bare).strip(" -–.,"), decimal)
    if found is None or found.marks.strip(" .,()-") or found.low < 0:
        return None
    low, high = found.low, found.high
    if low < HUNDREDWEIGHT_BELOW and high >= 100 and low * 100 < high:
        low *= 100
    opened = bool(_OPEN.search(bare)) or (low == 0 and high > 0)
    return WeightCell(low, high, weight_unit_of(bare), opened)


_KG_PER_LB = 0.45359237

# price unit -> factor to money per hundredweight (of pounds); head and dressed can't be converted by a factor
PRICE_FACTORS: dict[str, float] = {
    "$/cwt": 1.0,
    "$/lb": 100.0,
    "cents/lb": 1.0,
    "cents/cwt": 0.01,
    "$/kg": 100.0 * _KG_PER_LB,
    "cents/kg": _KG_PER_LB,
}
PER_HEAD = "$/head"
DRESSED = "dressed"
PRICE_UNITS: tuple[str, ...] = (*PRICE_FACTORS, PER_HEAD)
WEIGHT_FACTORS: dict[str, float] = {"lb": 1.0, "kg": LB_PER_KG, "cwt": 100.0}


_PARTS = VOCABULARY["price_unit_parts"]
_UNIT_PATTERNS = {unit: words_of("price_units", unit, _PARTS) for unit in VOCABULARY["price_units"]}
_UNIT_NAMES, _UNIT_CODES = (
    {word: unit for unit, words in VOCABULARY[section].items() for word in words.split("|")}
    for section in ("price_unit_names", "price_unit_codes")
)


def price_unit_of(text: str) -> str:
    """Return the price unit that a text names, or blank.

    >>> [price_unit_of(t) for t in ("Price c/kg Lwt", "$/Cwt", "Per Unit", "dollars per pound", "Avg Price")]
    ['cents/kg', '$/cwt', '$/head', '$/lb', '']
    """
    return _first_named(_UNIT_PATTERNS, text)


def whole_unit(unit: str, weight_unit: str) -> str:
    """Return a price unit as it is; cents alone are those of a unit of weight.

    >>> whole_unit("cents", "kg"), whole_unit("cents", ""), whole_unit("$/lb", "kg")
    ('cents/kg', 'cents/lb', '$/lb')
    """
    return unit if unit != "cents" else "cents/kg" if weight_unit == "kg" else "cents/lb"


def row_price_unit(text: str) -> str:
    """Return the price unit in the cell of a column of units, codes included, or blank.

    >>> [row_price_unit(text) for text in ("Per Unit", "Lb", "H", "W", "Dollars")]
    ['$/head', '$/lb', '$/head', '$/cwt', '']
    """
    code = text.strip().strip(".").lower()
    return price_unit_of(text) or price_unit_of(f"per {text}") or _UNIT_CODES.get(code, "")


def named_price_unit(word: str) -> str | None:
    """Return the unit that a user's flag names, or None.

    >>> named_price_unit("cwt"), named_price_unit("$/head"), named_price_unit("bushel")
    ('$/cwt', '$/head', None)
    """
    bare = word.strip().lower().replace(" ", "")
    return bare if bare in PRICE_UNITS else _UNIT_NAMES.get(bare)


_REMEMBERED = 1 << 17
_PRICE_MARKS = {
    "cents": re.compile(r"^(?:c|¢|cts?|cents?)\.?$"),
    PER_HEAD: re.compile(r"\b(?:hd|head|ea|each)\b"),
}
_FOOTNOTE = re.compile(r"\*+|†|‡|(?<=\d)[pr]$")
_NOT_SOLD = words_of("cells", "not_sold")
_ASKED = re.compile(r"\b(?:bid|ask|asking|asked|offer(?:ed)?|est|estimated?)\b", re.IGNORECASE)


def not_sold(text: str) -> bool:
    """Tell whether a word on a lot says that it was bid on but not sold, or taken back.

    >>> not_sold("No Sale"), not_sold("PO"), not_sold("Passed in"), not_sold("Sold"), not_sold("Possum Hollow")
    (True, True, True, False, False)
    """
    return bool(_NOT_SOLD.search(text.replace("_", " ")))


@dataclass(frozen=True)
class PriceCell(Measure):
    """A price or a range of prices, the money where it is written, and a footnote mark."""

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
    unit = price_unit_of(text) or _first_named(_PRICE_MARKS, words)
    return PriceCell(found.low, found.high, unit, currency_of(text), mark.group() if mark else "")


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
    return found if found is not None and found.high > 0 else NO_WEIGHT


def parse_head(text: str, decimal: str = ".") -> float:
    """Return a head count, or not-a-number when the cell holds none; zero is none.

    >>> parse_head("1,046"), parse_head("12 hd"), parse_head("None")
    (1046.0, 12.0, nan)
    """
    found = parse_number(text, decimal)
    return found.value if found is not None and found.value > 0 else math.nan


MONEY: dict[str, re.Pattern[str]] = {code: words_of("money", code) for code in VOCABULARY["money"]}
_NAMES, _CODES = (alternatives(VOCABULARY["provinces"][kind]) for kind in ("names", "codes"))
_PROVINCES = frozenset(f"{_NAMES}|{_CODES}".split("|"))
_PROVINCE_BEHIND = re.compile(rf",\s*(?:{_CODES.upper()}|(?i:{_NAMES}))(?=\s*(?:$|[,;.:|–-]|\d))")
_PROVINCE_LAST = re.compile(rf"(?<=[a-z])\s+\(?(?:{_CODES.upper()})\)?$")
_PROVINCE_NAMES = re.compile(rf"\b(?:{_NAMES})\b", re.IGNORECASE)


def is_province(text: str) -> bool:
    """Tell whether a cell names a province of Canada, or a place in one.

    >>> [is_province(text) for text in ("AB", "Saskatchewan", "Rill Lake, SK", "Rill Lake SK", "MT")]
    [True, True, True, True, False]
    """
    bare = text.strip().strip(".")
    of_place = None if bare.isupper() else _PROVINCE_LAST.search(bare)
    return bare.lower() in _PROVINCES or bool(of_place or _PROVINCE_BEHIND.search(bare))


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
    return _first_named(MONEY, text)


def without_money(text: str) -> str:
    """Return a text without the names of moneys.

    >>> without_money("Precio $ARS/kg"), without_money("Price")
    ('Precio $ /kg', 'Price')
    """
    return reduce(lambda left, named: named.sub(" ", left), MONEY.values(), text)


def cell_money(text: str) -> str:
    """Return the code of the money that a price cell names, or blank; a cell of digits names none.

    >>> cell_money("C$ 330.00"), cell_money("330.00")
    ('CAD', '')
    """
    return "" if text[:1].isdecimal() and text[-1:].isdecimal() else currency_of(text)


def money_code(text: str) -> str:
    """Return the code of the money that a cell holds and nothing else, or blank; any three letters may be one.

    >>> [money_code(text) for text in ("cad", "US$", "Canadian dollars", "n/a", "C$ 330.00")]
    ['CAD', 'USD', 'CAD', '', '']
    """
    bare = text.strip()
    named = "" if re.search(r"\d", bare) else currency_of(bare)
    return named or (bare.upper() if bare.isalpha() and len(bare) == 3 else "")


_NO_PRICES, _INDEX = words_of("titles", "no_prices"), words_of("titles", "index")


def refuses_prices(lines: Sequence[str]) -> bool:
    """Tell whether the titles say that the numbers are no prices (receipts, an index, changes, futures)."""
    return any(
        (_NO_PRICES.search(line) and not re.search(r"\$|price", line, re.IGNORECASE)) or _INDEX.search(line)
        for line in lines
    )
