"""Numbers as people write them in sale lists: money signs, thousands, decimal commas, footnote marks, ranges."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

from slidefit.records.words.vocabulary import VOCABULARY

_MISSING = frozenset(VOCABULARY["cells"]["missing"])
DITTO = frozenset(VOCABULARY["cells"]["ditto"])
_OF_TEXT = "'’`"  # before a number, make it a text in a spreadsheet
_NUMBER = r"(?:\d[\d.,'’]*+|[.,]\d++)"
_SPACED_THOUSANDS = re.compile(r"(?<![\d.,])(\d{1,3})((?:[   ]\d{3})+)(?![\d])")
_SINGLE = re.compile(rf"^(?P<before>[^\d.,]*?)(?P<sign>[-−]?)(?P<number>{_NUMBER})(?P<after>[^\d]*)$")
_RANGE = re.compile(
    rf"^(?P<before>[^\d.,]*+)(?P<low>{_NUMBER})(?P<mid>[^\d.,]*+)(?P<high>{_NUMBER})(?P<after>[^\d]*+)$"
)
_BETWEEN = re.compile(r"[-–—−&/~�]|\b(?:to|thru|through|a|à|bis|até|hasta)\b|(?=\$)", re.IGNORECASE)
_EURO = re.compile(r"^\d{1,3}(?:\.\d{3})+,\d+$|^\d+,\d{1,2}$|^\d+,\d{4,}$")
_US = re.compile(r"^\d{1,3}(?:,\d{3})+\.\d+$|^\d+\.\d{1,2}$|^\d+\.\d{4,}$")
_FRACTION = re.compile(r"(?<=\d)(?:\s+|\s?-\s?)([1357])\s?/\s?([248])(?!\d|/\d)|(?<=\d)\s?([½¼¾⅛⅜⅝⅞])")
_SIGNS = {"½": 0.5, "¼": 0.25, "¾": 0.75, "⅛": 0.125, "⅜": 0.375, "⅝": 0.625, "⅞": 0.875}


@dataclass(frozen=True)
class Numeral:
    """A number, or a range of numbers, and the words or signs that stood around it, in small letters."""

    low: float
    high: float
    marks: str = ""

    @property
    def value(self) -> float:
        """The number, or the lower end of the range."""
        return self.low


def is_missing(text: str) -> bool:
    """Tell whether a cell says that it holds nothing.

    >>> is_missing(" N/A "), is_missing("n/q"), is_missing("0")
    (True, True, False)
    """
    bare = text.strip().lower()
    return bare in _MISSING or bare.strip("*\u2020 ") in _MISSING


def no_number(text: str) -> bool:
    """Tell whether a cell of numbers holds none: nothing, or a formula left as text.

    >>> no_number("N/A"), no_number("@SUM(1)"), no_number("=B2*2"), no_number("@ 152.50")
    (True, True, True, False)
    """
    bare = text.strip()
    return is_missing(text) or (bare[:1] in ("=", "@") and bare[1:2].isalpha())


def number_style(texts: Sequence[str]) -> str:
    """Return the decimal sign of a column, ``,`` or ``.``, by the cells that prove it; blank when none does.

    >>> number_style(("1.049,50", "152,5")), number_style(("1,049", "152.5")), number_style(("2,512",))
    (',', '.', '')
    """
    bare = [re.sub(r"[^\d.,]", "", text) for text in texts]
    commas = sum(bool(_EURO.match(text)) for text in bare)
    points = sum(bool(_US.match(text)) for text in bare)
    return "," if commas > points else "." if points else ""


def to_float(digits: str, decimal: str = ".") -> float:
    """Return the number that digits with separators stand for.

    >>> to_float("1,004"), to_float("1.004,5", decimal=","), to_float("541.7")
    (1004.0, 1004.5, 541.7)
    """
    bare = re.sub(r"['’   ]", "", digits)
    bare = bare.replace(".", "").replace(",", ".") if decimal == "," else bare.replace(",", "")
    return float(bare.rstrip("."))


def with_decimals(text: str, decimal: str = ".") -> str:
    """Return a text whose numbers have decimals for fractions.

    >>> with_decimals("8 hd 456 lbs $361 3/4"), with_decimals("233½")
    ('8 hd 456 lbs $361.75', '233.5')
    """

    def decimals(found: re.Match[str]) -> str:
        part = _SIGNS[found[3]] if found[3] else int(found[1]) / int(found[2])
        return f"{part:g}"[1:].replace(".", decimal) if part < 1 else found.group()

    return _FRACTION.sub(decimals, text)


_FEWEST_COMMAS = 2
_COMMAS = re.compile(r"(?<![\d.,])(\d{1,4}|\d{1,3}(?:\.\d{3})+),(\d{1,2})(?![\d,]|\.\d)")
_POINTS = re.compile(r"(?<![\d.,])\d+\.\d{1,2}(?![\d.,])")
_THOUSANDS = re.compile(r"(?<![\d.,])\d{1,3}(?:\.\d{3})+(?![\d.])")


def pointed(text: str) -> str:
    """Return a text of several decimal commas, more of them than decimal points, with decimal points.

    >>> pointed("5 taures, 449 lb, 6,16 $; 7 taures, 1.487 lb, 5,79 $"), pointed("pens 4,5 at 6.16")
    ('5 taures, 449 lb, 6.16 $; 7 taures, 1487 lb, 5.79 $', 'pens 4,5 at 6.16')
    """
    commas = len(_COMMAS.findall(text))
    if commas < _FEWEST_COMMAS or commas <= len(_POINTS.findall(text)):
        return text
    text = _THOUSANDS.sub(lambda found: found.group().replace(".", ""), text)
    return _COMMAS.sub(r"\1.\2", text)


def parse_number(text: str, decimal: str = ".") -> Numeral | None:
    """Return the one number in a cell, or None when there is none or more than one.

    >>> parse_number("$1,049.00"), parse_number("'142.10*").value, parse_number("n/q")
    (Numeral(low=1049.0, high=1049.0, marks='$'), 142.1, None)
    """
    if text.isascii() and decimal == "." and text[:1].isdecimal() and "_" not in text:
        with suppress(ValueError):
            return Numeral(number := float(text), number)
    return _marked(text, decimal)


def _marked(text: str, decimal: str) -> Numeral | None:
    if is_missing(text):
        return None
    bare = with_decimals(text.strip().lstrip(_OF_TEXT), decimal)
    found = _SINGLE.match(_SPACED_THOUSANDS.sub(lambda m: re.sub(r"\s", "", m.group()), bare))
    if found is None:
        return None
    try:
        value = to_float(found["number"], decimal)
    except ValueError:
        return None
    marks = f"{found['before'].strip()} {found['after'].strip()}".strip().lower()
    value = -value if found["sign"] else value
    return Numeral(value, value, marks)


def parse_range(text: str, decimal: str = ".") -> Numeral | None:
    """Return the range in a cell; a single number is a range of one point.

    >>> parse_range("$167- $182").high, parse_range("$57$62").low, parse_range("739").high
    (182.0, 57.0, 739.0)
    >>> parse_range("300 à 400").low
    300.0
    """
    single = parse_number(text, decimal)
    if single is not None or is_missing(text):
        return single
    bare = with_decimals(text.strip().lstrip(_OF_TEXT), decimal)
    found = _RANGE.match(bare)
    between = _BETWEEN.search(bare, found.start("mid")) if found is not None else None
    if found is None or between is None or between.end() > found.end("mid"):
        return None
    mid, mid2 = bare[found.start("mid") : between.start()], bare[between.end() : found.end("mid")]
    if not between.group() and re.search(r"[a-z]", mid, re.IGNORECASE):
        return None
    try:
        low, high = to_float(found["low"], decimal), to_float(found["high"], decimal)
    except ValueError:
        return None
    marks = " ".join(filter(None, (part.strip() for part in (found["before"], mid, mid2, found["after"]))))
    return Numeral(low, high, marks.lower())


ONES = (
    "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen"
    "|eighteen|nineteen"
)
TENS = r"(?:twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety)"


def digits_of(words: str) -> str:
    """Return the digits of a number in words up to a hundred.

    >>> digits_of("a single"), digits_of("Seven"), digits_of("sixty-two")
    ('1', '7', '62')
    """
    tens, ones = TENS[3:-1].split("|"), ONES.split("|")
    told = re.split(r"[- ]", words.lower().replace("a single", "one"))
    return str(sum(10 * tens.index(word) + 20 if word in tens else ones.index(word) + 1 for word in told))
