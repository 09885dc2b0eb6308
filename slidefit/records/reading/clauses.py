"""The grammar of a quoted sale: head, class, weight, price, average and a remark, in whatever order the trade writes.

A text is cut into tokens, the tokens into clauses, and every number that has the shape of a weight or a price ends
in a lot, in a heading, in a sentence that is no sale, or as not understood.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from slidefit.records.words.animals import classify, classify_cell, grade_spans, sex_of, traits_of
from slidefit.records.words.numerals import ONES, TENS, digits_of
from slidefit.records.words.units import HEAVIEST_LB, LIGHTEST_LB
from slidefit.records.words.vocabulary import words_of

_NUM = r"(?<!\d)(?<!\d,)(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?)"
_TO = r"\s*(?:-|–|—|�|\bto\b)\s*"
_LB = r"(?:lbs?\b\.?|pounds?\b|#|kgs?\b|-?weights?\b)"
_CURRENCY = r"(?:\b(?:C|CA|CAD|A|AU|US)\s?(?=\$))?"
_CWT = r"(?:cwts?\b|w(?:eigh)?ts?\b\.?|hundred\s?weights?\b)"
_UP = r"(?:\s*+(?:\+|(?:and|&|or|-)?\s*+(?:up|over|heavier|under|down)\b))"
_RANGE = rf"(?:{_NUM})(?:{_TO}(?:{_NUM}))?"
_MONTH = (
    r"(?:jan|feb|mar(?:ch)?|apr|may|june?|july?|aug|sept?|oct|nov|dec)"
    r"(?:uary|ruary|il|ust|ember|tember|ober)?\b\.?"
)
_DAYS = r"\d{1,2}(?:st|nd|rd|th)?(?:\s*(?:-|&|and|to)\s*\d{1,2}(?:st|nd|rd|th)?)?(?!\d)"
_YEAR = r"(?:19|20)\d{2}\b"
_MASKS = tuple(  # numbers that are neither weights nor prices nor head
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        r"(?<![\d.])\d{1,2}([/-])\d{1,2}\1(?:\d{4}|\d{2})\b|(?<![\d.])\d{1,2}\.\d{1,2}\.\d{4}\b|\b\d{4}-\d{2}-\d{2}\b",
        rf"\b{_MONTH}\s+{_DAYS}(?:,?\s+{_YEAR})?|\b{_DAYS}\s+{_MONTH},?\s+{_YEAR}|\b{_MONTH}\s+{_YEAR}",
        rf"\b{_RANGE}\s*(?:%|(?:per ?cent|days?|weeks?|mos?\.?|months?|y(?:ea)?rs?|a\.?m|p\.?m|loads?|miles?|bushels?"
        r"|consign\w+|buyers?|sellers?)\b)",
        r"\b(?:lot|pen|tag|draft|ring|chute|buyer|bidder)s?\s*(?:no\.?|number)?\s*#?\s*\d+\b(?!\s*-?\s*(?:head|hd)\b)"
        r"|(?<![\w.])#\s?\d{1,4}\b(?!\s*(?:head|hd)\b)",
        r"\(?\d{3}\)?[-. ]\d{3}[-.]\d{4}\b|\b\d{1,2}:\d{2}(?::\d{2})?\b|\bpage \d+(?: of \d+)?",
    )
)
_KINDS = {  # kind of token -> how it looks; the first that fits counts
    "weight": rf"(?:\b(?:over|under|above|below)\s+)?(?:{_RANGE}{_UP}?\s?{_LB}"
    rf"|(?<![\d.])\d{{1,2}}(?:{_TO}\d{{1,2}})?\s*-?\s?{_CWT})(?:{_UP}(?!\w))?",
    "head": rf"\b(?:{_NUM})\s?(?:head\b|hd\b\.?)",
    "average": rf"\(\s*+(?:avg\.?|average|averaging)?\s*+\$?\s?(?:{_NUM})\s*\)|\b(?:avg\b\.?|averag(?:e|ed|ing)\b)"
    rf"\s*+(?:price|of|at)?\s*+\$?\s?(?:{_NUM})(?![\d.,]*\d|\s?{_LB})",
    "money": rf"(?<!\$){_CURRENCY}\$+\s?(?:{_NUM})(?:(?:{_TO}|(?=\$)){_CURRENCY}\$*\s?(?:{_NUM}))?"
    rf"|(?<![\d.,])\d{{1,4}}\.\d{{1,4}}(?:{_TO}\$*\s?(?:{_NUM}))?|(?<![\d.,])(?:{_NUM}){_TO}\d{{1,4}}\.\d{{1,4}}",
    "bare": rf"(?<![\w.,]){_RANGE}(?![\w%])",
    "unit": r"(?:/|\bper\b|\bby the\b|\ban?\b(?= \w))\s*(?:cwt|hundred(?:\s?weight)?|100 lbs?|lb|pound|head|hd"
    r"|pair|unit|kg)\b"
    r"(?:\.(?!\s|$))?(?:\s?/\s?(?:actual|estimated)(?: w(?:eigh)?t)?)?",
    "none": r"\b(?:not (?:established|tested|quoted)|no (?:test|quote|sales?)|untested|n/?q)\b",
    "one": rf"\b(?:a single|(?:{TENS}[- ])?(?:{ONES})|{TENS})\b",
    "word": r"[^\W\d_][\w&/'’-]*",
    "at": "@",
    "colon": ":",
    "stop": r"[;\n]|\.(?=\s|$)",
    "comma": ",",
}
_TOKENS = re.compile("|".join(f"(?P<{kind}>{look})" for kind, look in _KINDS.items()), re.IGNORECASE)
_PRICED = frozenset(["at", "for", "brought", "sold", "went", "made", "topped", "sells", "bringing"])
_BEFORE_WEIGHT = frozenset(["@", "at", "averaging", "avg", "weighing", "of"])
_JOINERS = frozenset(["and", "or", "to", "the", "with", "also", "then"])
_MOSTLY = re.compile(r"\b(?:mostly|bulk|mainly|top|tops)\b", re.IGNORECASE)
_NARRATIVE = words_of("reports", "narrative")
_MEAN = re.compile(r"\b(?:avg|average|averag(?:ed|ing)|mean)\W*$", re.IGNORECASE)
_OTHER_DAY = words_of("reports", "price_of_another_day")
_AT_PLACE = re.compile(r"\bat ((?:[A-Z][\w'.&-]*\s?){1,5})$")
_SHORT = frozenset(  # words whose point ends no sentence
    re.findall(
        r"\w+",
        "co no st mt ft jr sr mr mrs dr inc jan feb mar apr aug sept oct nov dec avg wt lbs hd vs ave rd",
    )
)
_MOST_HEAD = 999.0
_LONGEST_CLASS_WORDS = 5
_LONGEST_CODE = 3  # letters of a class before a colon, as in "St:" and "Hf:"
_MOST_REMARK_WORDS = 2
_MATERIAL = frozenset({"weight", "money", "average"})


@dataclass(frozen=True)
class Token:
    """A piece of a text: what it looks like, its words, and where it begins."""

    kind: str
    text: str
    at: int


@dataclass
class Lot:
    """One sale as quoted: the texts of its cells, the words before its first number, up to its price, and after it."""

    at: int
    head: str = ""
    weight: str = ""
    price: str = ""
    average: str = ""
    mean: str = ""
    unit: str = ""
    none: bool = False
    before: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    tail: list[str] = field(default_factory=list)

    @property
    def priced(self) -> bool:
        """Tell whether a weight and a price, or the word that there was none, are there."""
        return bool(self.weight and (self.price or self.average or self.none))

    @property
    def shape(self) -> tuple[bool, ...]:
        """Return how the lot is told: with head, with a range of weight, with a range of price."""
        return bool(self.head), bool(re.search(_TO, self.weight)), bool(re.search(_TO, self.price))

    @property
    def begun(self) -> bool:
        """Tell whether any number was taken."""
        return bool(self.head or self.weight or self.price or self.average)

    def told(self) -> tuple[str, str]:
        """Return the lot's own class, blank for that of the heading above, and its remarks.

        >>> Lot(0, words=["blk", "strs", "weaned"]).told(), Lot(0, words=["thin"], tail=["fleshed"]).told()
        (('blk strs', 'weaned'), ('', 'thin fleshed'))
        """
        ends = range(1, len(self.words) + 1)
        size = next((end for end in ends if has_animal(" ".join(self.words[:end]))), 0)
        if size > 0 and sex_of(" ".join(self.words[:size])) == "mixed":  # "mixed color strs" are steers
            size = next((end for end in ends if sex_of(self.words[end - 1]) not in ("", "mixed")), size)
        rest = self.words[size:]
        loose = len(rest) > _MOST_REMARK_WORDS and not traits_of(" ".join(rest))  # of a sentence, no list
        return " ".join(self.words[:size]), " ".join([*([] if loose else rest), *self.tail])


@dataclass(frozen=True)
class Clause:
    """What one clause turned out to be: ``kind`` is lot, class, grade, narrative or unknown."""

    kind: str
    at: int
    text: str = ""
    lot: Lot | None = None


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
        at = match.start() + len(piece)
        if kind == "stop" and piece == "." and _abbreviated(masked, match.start()):
            continue
        found.append(
            Token("bare", digits_of(piece), match.start())
            if kind == "one"
            else Token(kind, piece, match.start())
        )
    return sorted(found, key=lambda token: token.at)


def _inside(text: str, weights: str) -> bool:
    """Tell whether a number lies within a range of weights: their mean, and no price."""
    mean, low, *high = (float(number.replace(",", "")) for number in re.findall(_NUM, f"{text} {weights}"))
    return bool(high) and low <= mean <= high[0]


def _rises(text: str) -> bool:
    """Tell whether two numbers joined as a range rise, as those of a range do; hundreds may be left out (5-600)."""
    numbers = [float(number.replace(",", "")) for number in re.findall(_NUM, text)]
    return len(numbers) < 2 or numbers[0] <= numbers[-1]


def _abbreviated(text: str, at: int) -> bool:
    """Tell whether the point at a place ends an abbreviation or an initial and not a sentence."""
    word = re.search(r"(?<![^\W\d_])([^\W\d_]+)$", text[max(0, at - 12) : at])
    return word is not None and (word[1].lower() in _SHORT or len(word[1]) == 1)


def has_animal(text: str) -> bool:
    """Tell whether words name a class of animals.

    >>> has_animal("blk strs"), has_animal("Cold Spring")
    (True, False)
    """
    animal = classify(text)
    return bool(animal.sex or animal.reason)


def clauses(text: str) -> Iterator[Clause]:
    """Return what each clause of a text is, in order.

    Examples
    --------
    >>> found = list(clauses("Steers: 420-445 lbs. $262.00-271.00; 430 lbs. thin $214.00. 750 lbs. not established."))
    >>> [(c.kind, c.lot.weight, c.lot.price) for c in found if c.lot]
    [('lot', '420-445 lbs.', '$262.00-271.00'), ('lot', '430 lbs.', '$214.00'), ('lot', '750 lbs.', '')]
    """
    clause: list[Token] = []
    for token in tokens(text):
        if token.kind == "stop":
            yield from _clause(text, clause)
            clause = []
        else:
            clause.append(token)
    yield from _clause(text, clause)


def _clause(text: str, clause: Sequence[Token]) -> Iterator[Clause]:
    """Return the headings and lots of one clause."""
    if not clause:
        return
    start, end = clause[0].at, clause[-1].at + len(clause[-1].text)
    whole = " ".join(text[start:end].split())
    numbers = any(token.kind in _MATERIAL or _ranged(token) for token in clause)
    if _NARRATIVE.search(text[start:end]):
        yield Clause("narrative" if numbers else "words", start, whole)
        return
    if not any(token.kind in _MATERIAL or token.kind in ("bare", "head") for token in clause):
        for token in clause:
            if token.kind in ("grade", "unit"):
                yield Clause(token.kind, token.at, token.text)
        words = " ".join(token.text for token in clause if token.kind in ("word", "grade"))
        yield Clause("class" if has_animal(words) else "words", start, whole)
        return
    yield from _Walk(text, whole).walk(clause)


def _ranged(token: Token) -> bool:
    """Tell whether a bare number is a range, the shape of a weight class or a price range."""
    return token.kind == "bare" and bool(re.search(_TO, token.text))


class _Walk:
    """Goes through the tokens of one clause and gives out its headings and lots."""

    def __init__(self, text: str, whole: str) -> None:
        self.text, self.whole = text, whole
        self.lot: Lot | None = None
        self.words: list[str] = []
        self.grade: Token | None = None
        self.left: list[Token] = []
        self.cue = ""

    def walk(self, clause: Sequence[Token]) -> Iterator[Clause]:
        """Return what the tokens are; of several lots with a number left over none is sure to have its own."""
        found: list[Clause] = []
        for place, token in enumerate(clause):
            if token.kind == "colon":
                found.extend(self._heading(token))
            elif token.kind == "grade":
                self.grade = token
            elif token.kind == "unit" and not (self.lot and self.lot.begun):
                found.append(Clause("unit", token.at, token.text))
            elif token.kind == "unit" and self.lot:
                self.lot.unit = token.text
            elif token.kind == "none":
                self._open(token).none = True
            elif token.kind == "word":
                self._word(token)
            elif token.kind == "at":
                self.cue = "price"
            elif token.kind in ("weight", "head", "average", "money", "bare"):
                found.extend(self._number(token, clause[place + 1 :]))
                self.cue = ""
        found.extend(self._close())
        if self.left:
            found.append(Clause("unknown", self.left[0].at, self.whole))
        several = sum(each.kind == "lot" for each in found) > 1
        yield from (each for each in found if not (self.left and several and each.kind == "lot"))

    def _heading(self, token: Token) -> Iterator[Clause]:
        """Take the words before a colon as the heading of what follows."""
        if self.lot and self.lot.begun:
            return
        words, place = " ".join(self.words), _AT_PLACE.search(self.text[: token.at])
        if place:
            words = words.replace(" ".join(place[1].split()), "").strip()
        words = classify_cell(words).sex or words if len(words) <= _LONGEST_CODE else words
        if has_animal(words) and self.grade:
            words, self.grade = f"{words} {self.grade.text}", None
        if words:
            known = len(words) <= _LONGEST_CODE or has_animal(
                words
            )  # a code of no list is another class, too
            yield Clause("class" if known else "words", token.at, words)
        if place:
            yield Clause("market", token.at, place[1].strip())
        self.words, self.lot = [], None

    def _word(self, token: Token) -> None:
        """Keep a word: before the first number of a lot, or after it."""
        low = token.text.lower().strip(".")
        if low in _PRICED:
            self.cue = "price"
        elif self.lot and self.lot.begun:
            (self.lot.tail if self.lot.priced else self.lot.words).append(token.text)
        else:
            self.words.append(token.text)

    def _open(self, token: Token) -> Lot:
        if self.lot is None:
            self.lot, self.words = Lot(token.at, before=self.words), []
        return self.lot

    def _kind(self, token: Token, after: Sequence[Token]) -> str:
        """Decide what a number without a sign is, by its neighbours and by what the lot still lacks."""
        if token.kind != "bare":
            return {"money": "price"}.get(token.kind, token.kind)
        lot = self.lot or Lot(token.at)
        ranged, value = _ranged(token), float(re.findall(_NUM, token.text)[0].replace(",", ""))
        if self.cue == "price" and not lot.price:
            return "price"
        following = [item.text for item in itertools.takewhile(lambda item: item.kind == "word", after)]
        named = has_animal(" ".join(following[:_LONGEST_CLASS_WORDS]))
        few = not ranged and value <= _MOST_HEAD
        if few and named and (not lot.head or lot.priced):
            return "head"
        between = (item.kind == "weight" for item in after if item.text.lower() not in _BEFORE_WEIGHT)
        if few and next(between, False) and (lot.priced or not lot.begun):
            return "head"  # as in "hfrs 9 @ 498 lbs" and "22 at 402 lbs"
        if not lot.weight and (lot.head or lot.price) and LIGHTEST_LB <= value <= HEAVIEST_LB:
            return "weight"
        if lot.weight and not lot.price:
            return "price"
        last = not any(item.kind in ("word", "bare", *_MATERIAL) for item in after)
        return "head" if few and lot.priced and not lot.head and last and value == int(value) else "left"

    def _number(self, token: Token, after: Sequence[Token]) -> Iterator[Clause]:
        """Give a number to the lot under way, or to the next one."""
        kind = self._kind(token, after)
        if self.grade and (self.lot is None or self.lot.priced):
            yield from self._close()
            yield Clause("grade", self.grade.at, self.grade.text)
            self.grade = None
        if kind == "left":
            self.left.append(token)
            return
        lot = self._open(token)
        if kind == "price" and lot.weight and (lot.price or lot.none):
            yield from self._second_price(token, lot)
            return
        meant = _MEAN.search(" ".join(lot.tail)) if kind == "weight" else kind == "average" and not lot.price
        if lot.weight and meant and _inside(token.text, lot.weight):
            lot.mean, lot.tail = token.text, []
            return
        taken = {"head": lot.head, "weight": lot.weight, "price": lot.price, "average": lot.average}[kind]
        if taken and kind == "weight" and not lot.price:
            self.left.append(token)
            return
        another = any(item.kind in ("weight", "money", "bare", "at") for item in after)
        if taken or (kind == "head" and lot.priced and another):
            yield from self._close()
            lot = self._open(token)
        setattr(lot, kind, token.text)

    def _second_price(self, token: Token, lot: Lot) -> Iterator[Clause]:
        """Read a second price: most of the range again, or other calves of the same class and weight."""
        words, lot.tail = lot.tail, []
        if lot.mean and not lot.average:
            lot.average = token.text
        elif _OTHER_DAY.search(" ".join(words)):
            yield Clause("narrative", token.at, self.whole)
        elif _JOINERS.issuperset(word.lower() for word in words):
            self.left.append(token)
        elif not _MOSTLY.search(" ".join(words)):
            yield from self._close()
            yield from self._give(Lot(token.at, "", lot.weight, token.text, words=words))

    def _close(self) -> Iterator[Clause]:
        lot, self.lot = self.lot, None
        if lot is not None:
            yield from self._give(lot)

    def _give(self, lot: Lot) -> Iterator[Clause]:
        if lot.priced:
            yield Clause("lot", lot.at, self.whole, lot)
        elif lot.weight or lot.price or lot.average:
            yield Clause("partial", lot.at, self.whole, lot)
