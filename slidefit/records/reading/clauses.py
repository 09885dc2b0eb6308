"""The grammar of a quoted sale: head, class, weight, price, average and a remark, in whatever order the trade writes.

A text is cut into tokens, the tokens into clauses, and every number that has the shape of a weight or a price ends
in a lot, in a heading, in a sentence that is no sale, or as not understood.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from slidefit.records.quoted_lots import (
    MOST_REMARK_WORDS,
    VERBS,
    Lot,
    counts_head,
    has_animal,
    is_inside,
    names_class,
    price_by_weight,
    settle_classes,
)
from slidefit.records.words.animals import (
    classify_cell,
    leftover_words,
    sex_of,
)
from slidefit.records.words.tokens import Token, tokens
from slidefit.records.words.units import HEAVIEST_LB, HUNDREDWEIGHT_BELOW, LIGHTEST_LB, PRICE_FACTORS
from slidefit.records.words.vocabulary import words_of

_PRICED = VERBS | {"at", "for"}
_WEIGHED = frozenset(["weighing", "weighed", "weigh", "averaging", "wt"])
_BEFORE_WEIGHT = _WEIGHED | {"@", "at", "avg", "av", "of"}
_JOINERS = frozenset(["and", "or", "to", "the", "with", "also", "then"])
_MOSTLY = re.compile(r"\b(?:mostly|bulk|mainly|top|tops)\b", re.IGNORECASE)
_NARRATIVE = words_of("reports", "narrative")
_NOT_SOLD, _SAYS = words_of("reports", "not_sold"), words_of("reports", "says")
_TREND = re.compile(r"\b(?:higher|lower|steady|stronger|weaker)\b", re.IGNORECASE)
_MEAN = re.compile(r"\b(?:avg|average|averag(?:ed|ing)|mean)\W*$", re.IGNORECASE)
_OTHER_DAY = words_of("reports", "price_of_another_day")
_BY_WEIGHT = re.compile(r"\d{3}['’]?s\b")  # "the 562s" are calves
_AT_PLACE = re.compile(r"\bat ((?:[A-Z][\w'.&-]*\s?){1,5})$")
_MOST_HEAD = 999.0
_EDGE_LB = 50  # on which classes of weight begin and end, as 400-450 and 400-499: common practice, no source
_LONGEST_CLASS_WORDS = 5
_LONGEST_WORD = 30  # characters, of a class behind its number
_LONGEST_CODE = 3  # letters of a class before a colon, as in "St:" and "Hf:"
_MOST_CLASS_WORDS = 3  # beside "calves" or "cattle" in a heading: more are a sentence that tells of calves
_HEAD_WEIGHT_PRICE = re.compile(
    r"\d{1,3}[ \t,]+(\d{3,4})[ \t,]+\$?\d{2,3}\.?\d*[ \t]*(?:[a-z ]*)$", re.MULTILINE
)
_MATERIAL = frozenset({"weight", "money", "average"})
_NUMBERS = _MATERIAL | {"bare", "head"}


@dataclass(frozen=True)
class Clause:
    """What one clause turned out to be: ``kind`` is lot, class, grade, narrative or unknown."""

    kind: str
    at: int
    text: str = ""
    lot: Lot | None = None


_PHONE = re.compile(  # a number to call: three, three and four digits, or such as no range of weights has
    r"(?<![\d.,-])(?:\(?\d{3}\)?[-. ]{1,2}\d{3}[-.]\d{4}|\d{3}-0\d{3}|(?<=call )\d{3}-\d{4})(?![\d.,-])",
    re.IGNORECASE,
)


def clauses(text: str) -> Iterator[Clause]:
    """Return what each clause of a text is, in order.

    Examples
    --------
    >>> found = list(clauses("Steers: 420-445 lbs. $262.00-271.00; 430 lbs. thin $214.00. 750 lbs. not established."))
    >>> [(c.kind, c.lot.weight, c.lot.price) for c in found if c.lot]
    [('lot', '420-445 lbs.', '$262.00-271.00'), ('lot', '430 lbs.', '$214.00'), ('lot', '750 lbs.', '')]
    >>> [c.kind for c in clauses("heifers at 555-0142; 12 heifers 500-1000 lbs 380.00")]
    ['class', 'lot']
    """
    text = _PHONE.sub(lambda found: " " * len(found.group()), text)
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
    numbers = any(token.kind in _MATERIAL or token.ranged for token in clause)
    colon = next((at for at, token in enumerate(clause) if token.kind == "colon"), 0)
    before = text[start : clause[colon].at]
    if colon and _TREND.search(before) and not _NARRATIVE.search(_TREND.sub(" ", before)):
        words = " ".join(token.text for token in clause[:colon] if token.kind == "word")
        yield Clause("class" if has_animal(words) else "words", start, words)
        yield from _clause(text, clause[colon + 1 :])
        return
    if _NARRATIVE.search(text[start:end]):
        yield Clause("narrative" if numbers else "words", start, whole)
        return
    counted = re.search(r"\bhead\b", whole) or any(each.kind == "head" or each.weighty for each in clause)
    if not numbers and not counted:
        for token in clause:
            if token.kind in ("grade", "unit"):
                yield Clause(token.kind, token.at, token.text)
        words = " ".join(token.text for token in clause if token.kind in ("word", "grade"))
        loose = sex_of(words) == "mixed" and len(leftover_words(words).split()) > _MOST_CLASS_WORDS
        yield Clause("class" if has_animal(words) and not loose else "words", start, whole)
        return
    yield from _Walk(text, whole).walk(clause)


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
            elif token.kind == "unit" and self.lot:
                self.lot.unit = self.lot.unit if self.lot.unit in PRICE_FACTORS else token.text
            elif token.kind == "unit":
                found.append(Clause("unit", token.at, token.text))
            elif token.kind == "none":
                self._open(token).none = True
            elif token.kind == "word":
                self._word(token)
            elif token.kind == "at":
                self.cue = "price"
            elif token.kind in ("weight", "head", "average", "money", "bare", "one"):
                found.extend(self._number(token, clause[place + 1 :]))
                self.cue = ""
        found.extend(self._close())
        if below := settle_classes([each.lot for each in found if each.kind == "lot" and each.lot]):
            found.append(Clause("class", clause[-1].at, below))
        if self._counts_something_else(clause) and not any(each.kind == "lot" for each in found):
            yield Clause("narrative", clause[0].at, self.whole)
            return
        if self.left:
            found.append(Clause("unknown", self.left[0].at, self.whole))
        several = sum(each.kind == "lot" for each in found) > 1 or any(map(self._counts_others, self.left))
        yield from (each for each in found if not (self.left and several and each.kind == "lot"))

    def _counts_others(self, token: Token) -> bool:
        """Tell whether a number left over counts animals: "15 steers and 3 heifers"."""
        return names_class(re.findall(r"[^\W\d_]+", self.text[token.at : token.at + _LONGEST_WORD])[:1])

    def _counts_something_else(self, clause: Sequence[Token]) -> bool:
        """Tell whether one number stands among words that name no animal: "Volume 1,915", "pie 4.50"."""
        numbers = [token for token in clause if token.kind in ("bare", *_MATERIAL)]
        if len(numbers) != 1 or len(numbers[0].numbers) > 1 or numbers[0].kind == "weight":
            return False
        told = has_animal(self.whole) or _BY_WEIGHT.search(self.whole) or _NOT_SOLD.search(self.whole)
        return not told and bool(leftover_words(self.whole))

    def _heading(self, token: Token) -> Iterator[Clause]:
        """Take the words before a colon as the heading of what follows."""
        if self.lot:
            return
        words, place = " ".join(self.words), _AT_PLACE.search(self.text[: token.at])
        if place:
            words = words.replace(" ".join(place[1].split()), "").strip()
        words = classify_cell(words).sex or words if len(words) <= _LONGEST_CODE else words
        if has_animal(words) and self.grade:
            words, self.grade = f"{words} {self.grade.text}", None
        if words:
            known = len(words) <= _LONGEST_CODE or has_animal(words)  # a code of no list is a class, too
            yield Clause("class" if known else "words", token.at, words)
        if place:
            yield Clause("market", token.at, place[1].strip())
        self.words = []

    def _word(self, token: Token) -> None:
        """Keep a word: before the first number of a lot, or after it."""
        low = token.text.lower().strip(".")
        if low in _PRICED or (low == "to" and self.lot and self.lot.weight and not self.lot.price):
            self.cue = "at" if low == "at" else "price"
        elif low in _WEIGHED and not (self.lot and self.lot.weight):
            self.cue = "weight"
        elif low in ("av", "wt") or (low == "avg" and not (self.lot and self.lot.priced)):
            return
        elif self.lot:
            (self.lot.tail if self.lot.priced else self.lot.words).append(token.text)
        else:
            self.words.append(token.text)

    def _open(self, token: Token) -> Lot:
        if self.lot is None:
            self.lot, self.words = Lot(token.at, before=self.words), []
        return self.lot

    def _kind(self, token: Token, after: Sequence[Token]) -> str:
        """Decide what a number without a sign is, by its neighbors and by what the lot still lacks."""
        if token.kind not in ("bare", "one"):
            return {"money": "price"}.get(token.kind, token.kind)
        lot = self.lot or Lot(token.at)
        ranged, value = token.ranged, token.numbers[0]
        numbers = [item.kind for item in after if item.kind in ("bare", *_MATERIAL)]
        heavy = LIGHTEST_LB <= value <= HEAVIEST_LB and not lot.weight
        if heavy and (self.cue == "weight" or [item.kind for item in after[:1]] == ["at"]):
            return "weight"
        if heavy and self.cue == "at" and lot.head and not lot.price and numbers[:1] in (["bare"], ["money"]):
            return "weight"
        following = [item.text for item in itertools.takewhile(lambda item: item.kind == "word", after)]
        few = not ranged and value <= _MOST_HEAD
        named = few and has_animal(" ".join(following[:_LONGEST_CLASS_WORDS]))
        if named and self.lot is None:  # "sold 61 steers", "at the barn, 25 steers"
            return "head"
        priced = self.cue in ("at", "price") or [item.kind for item in after[:1]] == ["unit"]
        if priced and not lot.price and token.kind == "bare":
            return "price"
        if named and (not lot.head or lot.priced):
            return "head"
        if few and self._before_weight(token, after) and (lot.priced or not self.lot):
            return "head"
        if heavy and (lot.head or lot.price):
            return "weight"
        if ranged and (lot.priced or not (lot.weight or lot.price)) and self._weight_class(token, after):
            return "weight"
        if lot.weight and not lot.price:
            mean = not ranged and not lot.mean and numbers[:1] in (["money"], ["average"])
            return "mean" if mean and is_inside(token.text, lot.weight) else "price"
        if lot.mean and not lot.average and not ranged and is_inside(token.text, lot.price):
            return "price"
        last = not any(item.kind in ("word", "bare", *_MATERIAL) for item in after)
        return "head" if few and lot.priced and not lot.head and last and value == int(value) else "left"

    def _weight_class(self, token: Token, after: Sequence[Token]) -> bool:
        """Tell whether a bare range is a class of weights: on edges of 50 lb, and a range of prices follows."""
        low, high = token.numbers
        low = 100 * low if low < HUNDREDWEIGHT_BELOW else low
        following = next((item for item in after if item.kind in ("bare", "word", *_MATERIAL)), None)
        priced = following is not None and len(following.numbers) > 1 and following.kind in ("bare", "money")
        return priced and LIGHTEST_LB <= low < high and low % _EDGE_LB == 0 and (high + 1) % _EDGE_LB < 2

    def _before_weight(self, token: Token, after: Sequence[Token]) -> bool:
        """Tell whether a weight follows, as in "22 at 402 lbs" and "8 red 402 lbs"; "22 402 $4.10" is a whole line."""
        rest = [item for item in after if item.text.lower() not in _BEFORE_WEIGHT and item.kind != "comma"]
        if whole := _HEAD_WEIGHT_PRICE.match(self.text[token.at :]):
            first = not self.text[: token.at].rpartition("\n")[2].strip()
            return first and LIGHTEST_LB <= float(whole[1]) <= HEAVIEST_LB
        words = [item.text for item in itertools.takewhile(lambda item: item.kind == "word", rest)]
        apart = re.search(r"(?:^|\n|\s{2})$", self.text[: token.at])
        told = not leftover_words(" ".join(words)) or (apart and len(words) <= MOST_REMARK_WORDS)
        if not told or len(rest) == len(words):
            return False
        number, *later = rest[len(words) :]
        joined = not _BEFORE_WEIGHT.isdisjoint(item.text.lower() for item in after[: after.index(number)])
        priced = any(item.kind in ("bare", "money") for item in later)
        return number.kind == "weight" or (number.weighty and priced and joined)

    def _number(self, token: Token, after: Sequence[Token]) -> Iterator[Clause]:
        """Give a number to the lot under way, or to the next one."""
        kind = self._kind(token, after)
        if self.grade and (self.lot is None or self.lot.priced):
            yield from self._close()
            yield Clause("grade", self.grade.at, self.grade.text)
            self.grade = None
        if token.kind == "one" and kind != "head" and (token.text == "1" or (self.lot and self.lot.head)):
            return  # "a lame one", "went one jump"
        if kind == "left":
            self.left.append(token)
            return
        lot = self._open(token)
        if kind == "price" and lot.weight and (lot.price or lot.none):
            yield from self._second_price(token, lot, [item.kind for item in after if item.kind in _NUMBERS])
            return
        if kind == "mean":
            lot.mean = token.text
            return
        said = _MEAN.search(" ".join(lot.tail or lot.words))
        first = kind == "average" and not (lot.price or lot.mean or "$" in token.text)
        meant = (said or self._again(lot, after)) if kind == "weight" else first
        if lot.weight and meant and is_inside(token.text, lot.weight):
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

    def _again(self, lot: Lot, after: Sequence[Token]) -> bool:
        """Tell whether a weight behind a whole lot is told with a price inside that lot's range: its means."""
        following = next((item.text for item in after if item.kind in _NUMBERS), "")
        return lot.priced and bool(following) and not lot.tail and is_inside(following, lot.price)

    def _second_price(self, token: Token, lot: Lot, after: list[str]) -> Iterator[Clause]:
        """Read a second price: most of the range again, or other calves, of the same weight or of their own."""
        words, lot.tail = lot.tail, []
        price, unit = price_by_weight(lot.weight, (lot.price, token.text))
        if price:
            lot.price, lot.unit = price, unit
        elif lot.mean and not lot.average:
            lot.average = token.text
        elif _OTHER_DAY.search(" ".join(words)):
            yield Clause("narrative", token.at, self.whole)
        elif _JOINERS.issuperset(word.lower() for word in words):
            self.left.append(token)
        elif after in (["weight"], ["head", "weight"]):
            yield from self._close()
            self.lot = Lot(token.at, price=token.text, words=words)
        elif not _MOSTLY.search(" ".join(words)):
            yield from self._close()
            yield from self._give(Lot(token.at, "", lot.weight, token.text, words=words))

    def _close(self) -> Iterator[Clause]:
        lot, self.lot = self.lot, None
        if lot is not None:
            yield from self._give(lot)

    def _give(self, lot: Lot) -> Iterator[Clause]:
        price, unit = price_by_weight(lot.weight, (lot.price, lot.average))
        if price:
            lot.price, lot.average, lot.unit = price.strip("()[] "), "", unit
        if not lot.head and counts_head(lot.average, lot.price):
            lot.head, lot.average = lot.average.strip("()[] "), ""
        words = " ".join([*lot.before, lot.told()[0]])
        if lot.priced and (_NOT_SOLD.search(self.whole) or _SAYS.search(words)):
            yield Clause("unknown", lot.at, self.whole)
        elif lot.priced:
            yield Clause("lot", lot.at, self.whole, lot)
        elif lot.weight or lot.price or lot.average:
            yield Clause("partial", lot.at, self.whole, lot)
