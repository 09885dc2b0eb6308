"""The tokens of a quoted sale: weights, money, head, averages, units, bare numbers and words, by how they look."""

from __future__ import annotations

import re
from dataclasses import dataclass

from slidefit.records.words.animals import grade_spans
from slidefit.records.words.dates import ENGLISH_MONTHS
from slidefit.records.words.numerals import ONES, TENS, digits_of
from slidefit.records.words.units import HEAVIEST_LB, LIGHTEST_LB

_NUM = r"(?<!\d)(?<!\d,)(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?)"
_TO = r"\s*(?:-|–|—|�|\bto\b)\s*"
_LB = r"(?:lbs?\b\.?|pound(?:er)?s?\b|#|kgs?\b|-?weights?\b)"
_CURRENCY = r"(?:\b(?:C|CA|CAD|A|AU|US)\s?(?=\$))?"
_CWT = r"(?:cwts?\b|w(?:eigh)?ts?\b\.?|hundred\s?weights?\b)"
_UP = r"(?:\s*+(?:\+|(?:and|&|or|-)?\s*+(?:up|over|heavier|under|down)\b))"
_RANGE = rf"(?:{_NUM})(?:{_TO}(?:{_NUM}))?"
_MONTH = rf"(?:{'|'.join(ENGLISH_MONTHS)})\b\.?"
_DAYS = r"\d{1,2}(?:st|nd|rd|th)?(?:\s*(?:-|&|and|to)\s*\d{1,2}(?:st|nd|rd|th)?)?(?!\d)"
_YEAR = r"(?:19|20)\d{2}\b"
_MASKS = tuple(  # numbers that are neither weights nor prices nor head
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        r"\b\d{1,2}:\d{2}(?::\d{2})?\b(?:\s?[ap]\.?m\b)?",
        r"(?<![\d.])\d{1,2}([/-])\d{1,2}\1(?:\d{4}|\d{2})\b|(?<![\d.])\d{1,2}\.\d{1,2}\.\d{4}\b|\b\d{4}-\d{2}-\d{2}\b",
        rf"\b\d{{1,2}}-{_MONTH}-\d{{2,4}}\b|\b{_MONTH}\s+{_DAYS}(?:,?\s+{_YEAR})?|\b{_DAYS}\s+{_MONTH},?\s+{_YEAR}|\b{_MONTH}\s+{_YEAR}",
        rf"\b{_RANGE}\s*(?:%|(?:per ?cent|days?|weeks?|mos?\.?|months?|y(?:ea)?rs?|a\.?m|p\.?m|loads?|miles?|bushels?"
        r"|consign\w+|buyers?|sellers?)\b)",
        r"\b(?:lot|pen|tag|draft|ring|chute|buyer|bidder)s?\s*(?:no\.?|number)?\s*#?\s*\d+\b(?!\s*-?\s*(?:head|hd)\b)"
        r"|(?<![\w.])#\s?\d{1,4}\b(?!\s*(?:head|hd)\b)",
        r"\.{2,}|\(?\d{3}\)?[-. ]\d{3}[-.]\d{4}\b|\bpage \d+(?: of \d+)?",
    )
)
_KINDS = {  # kind of token -> how it looks; the first that fits counts
    "weight": rf"(?:\b(?:over|under|above|below)\s+)?(?:{_RANGE}(?:/{_NUM})?{_UP}?[\s-]?{_LB}"
    rf"|(?<![\d.])\d{{1,2}}(?:{_TO}\d{{1,2}})?\s*-?\s?{_CWT})(?:{_UP}(?!\w))?",
    "head": rf"\b(?:{_NUM})\s?(?:head\b|hd\b\.?|of (?:them|those)\b|sold\b(?! (?:for|at|to|from)\b| \W?\d))",
    "average": rf"[(\[]\s*+(?:avg\.?|average|averaging)?\s*+\$?\s?(?:{_NUM})\s*[)\]]"
    r"|\b(?:avg\b\.?|averag(?:e|ed|ing)\b)"
    rf"\s*+(?:price|of|at)?\s*+\$?\s?(?:{_NUM})(?![\d.,]*\d|\s?{_LB})",
    "money": rf"(?<!\$){_CURRENCY}\$+\s?(?:{_NUM})(?:(?:{_TO}|(?=\$)){_CURRENCY}\$*\s?(?:{_NUM}))?"
    rf"|(?<![\d.,])\d{{1,4}}\.\d{{1,4}}(?:{_TO}\$*\s?(?:{_NUM}))?|(?<![\d.,])(?:{_NUM}){_TO}\d{{1,4}}\.\d{{1,4}}",
    "bare": rf"(?<![\w.,]){_RANGE}(?!(?!c/|¢)[\w%])",
    "unit": r"(?:(?<=\d)c(?=/)|¢|\bcents? ?(?=/|per))?"
    r"(?:/|\bper\b|\bby the\b|\ban?\b(?= \w))\s*(?:cwt|hundred(?:\s?weight)?|100 lbs?|lb|pound|head|hd"
    r"|pair|unit|kg)\b"
    r"(?:\.(?!\s|$))?(?:\s?/\s?(?:actual|estimated)(?: w(?:eigh)?t)?)?",
    "none": r"\b(?:not (?:established|tested|quoted)|no (?:test|quote|sales?)|untested"
    r"|(?:not enough|too few)(?: to \w+)?|n/?q)\b",
    "one": rf"\b(?:a single|(?:{TENS}[- ])?(?:{ONES})|{TENS})\b",
    "word": r"[^\W\d_][\w&/'’-]*",
    "at": "@",
    "colon": ":",
    "stop": r"[;\n]|\.(?=\s|$)",
    "comma": ",",
}
_TOKENS = re.compile("|".join(f"(?P<{kind}>{look})" for kind, look in _KINDS.items()), re.IGNORECASE)
_SHORT = frozenset(  # words whose point ends no sentence
    re.findall(
        r"\w+",
        "strs sts hfrs hfr co no st mt ft jr sr mr mrs dr inc jan feb mar apr aug sept oct nov dec "
        "avg wt lbs hd vs ave rd",
    )
)
RANGED = re.compile(r"[-–—�]|\bto\b", re.IGNORECASE)


@dataclass(frozen=True)
class Token:
    """A piece of a text: what it looks like, its words, and where it begins."""

    kind: str
    text: str
    at: int

    @property
    def numbers(self) -> list[float]:
        """The numbers in it, in order."""
        return numbers_in(self.text)

    @property
    def ranged(self) -> bool:
        """Tell whether it is a bare range, the shape of a weight class or a price range."""
        return self.kind == "bare" and bool(RANGED.search(self.text))

    @property
    def weighty(self) -> bool:
        """Tell whether it is a bare number as large as a weight or a price: smaller ones alone count other things."""
        return self.kind == "bare" and LIGHTEST_LB <= self.numbers[0] < HEAVIEST_LB


def numbers_in(text: str) -> list[float]:
    """Return the numbers in a text.

    >>> numbers_in("1,180-1,390 lbs. 4.10")
    [1180.0, 1390.0, 4.1]
    """
    return [float(number.replace(",", "")) for number in re.findall(_NUM, text)]


def tokens(text: str) -> list[Token]:
    """Return the tokens of a text in order; dates, shares and times are masked, since their numbers are no prices.

    Examples
    --------
    >>> [(t.kind, t.text) for t in tokens("16 blk strs 512 lbs @ 203") if t.kind != "word"]
    [('bare', '16'), ('weight', '512 lbs'), ('at', '@'), ('bare', '203')]
    """
    grades = [(start, end) for start, end, _ in grade_spans(text)]
    signs = list(text)
    for start, end in grades:
        signs[start:end] = " " * (end - start)
    masked = "".join(signs)
    for pattern in _MASKS:
        masked = pattern.sub(lambda found: re.sub(r"[^\n]", " ", found.group()), masked)
    found = [Token("grade", text[start:end], start) for start, end in grades]
    at = 0
    while match := _TOKENS.search(masked, at):
        kind, piece = str(match.lastgroup), match.group()
        if kind in ("money", "bare", "weight") and not _rises(piece):
            piece = piece[: re.search(_NUM, piece).end()]  # type: ignore[union-attr]
            kind = "bare" if kind == "money" and piece.isdecimal() else kind
        at = match.start() + len(piece)
        piece = re.sub(r"[\s-]pounders?\b", " lb", piece)
        if kind == "stop" and piece == "." and _abbreviated(masked, match.start()):
            continue
        found.append(Token(kind, digits_of(piece) if kind == "one" else piece, match.start()))
    return sorted(found, key=lambda token: token.at)


def _rises(text: str) -> bool:
    """Tell whether two numbers joined as a range rise, as those of a range do; hundreds may be left out (5-600)."""
    numbers = numbers_in(text)
    return len(numbers) < 2 or numbers[0] <= numbers[-1]


def _abbreviated(text: str, at: int) -> bool:
    """Tell whether the point at a place ends an abbreviation or an initial and not a sentence."""
    word = re.search(r"(?<![^\W\d_])([^\W\d_]+)$", text[max(0, at - 12) : at])
    return word is not None and (word[1].lower() in _SHORT or len(word[1]) == 1)
