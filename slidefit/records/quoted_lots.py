"""One sale as a text quotes it: its cells, its class and remarks, and what its numbers prove of one another."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from slidefit.records.words.animals import NOT_FEEDER, classify, leftover_words, sex_of, traits_of
from slidefit.records.words.tokens import RANGED, numbers_in
from slidefit.records.words.units import price_unit_of
from slidefit.records.words.vocabulary import words_of

_OTHER_ANIMALS = words_of("reports", "other_animals")
VERBS = frozenset(["brought", "sold", "went", "made", "topped", "sells", "bringing"])
_LISTED = (
    5  # times as many lots in a list as in sentences make those remarks on the market (a choice of ours)
)
_FAR = 1.5  # times a price: no average of a class lies so far from its range
MOST_REMARK_WORDS = 2
_JOINERS = frozenset(["and", "or", "with"])


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
    behind: bool = False  # its class stood behind it
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
        return bool(self.head), bool(RANGED.search(self.weight)), bool(RANGED.search(self.price))

    def told(self) -> tuple[str, str]:
        """Return the lot's own class, blank for that of the heading above, and its remarks.

        >>> Lot(0, words=["blk", "strs", "weaned"]).told(), Lot(0, words=["thin"], tail=["fleshed"]).told()
        (('blk strs', 'weaned'), ('', 'thin fleshed'))
        """
        ends = range(1, len(self.words) + 1)
        size = next((end for end in ends if has_animal(" ".join(self.words[:end]))), 0)
        if size > 0 and sex_of(" ".join(self.words[:size])) == "mixed":  # "mixed color strs" are steers
            size = next((end for end in ends if sex_of(self.words[end - 1]) not in ("", "mixed")), size)
        while size and (also := next((n for n in ends if n > size and sex_of(self.words[n - 1])), 0)):
            if not _JOINERS.issuperset(word.lower() for word in self.words[size : also - 1]):
                break
            size = also  # "steers and heifers" are both
        rest = self.words[size:]
        loose = len(rest) > MOST_REMARK_WORDS and not traits_of(" ".join(rest))  # of a sentence, no list
        return " ".join(self.words[:size]), " ".join([*([] if loose else rest), *self.tail])

    def names_others(self, *classes: str) -> bool:
        """Tell whether the words of a lot name calves of another sex than one of its classes."""
        named = {sex_of(word) for word in (*self.words, *self.tail)} - {"", "mixed"}
        return any(named - {sex} for sex in map(sex_of, classes) if sex not in ("", "mixed"))

    def cells(self, about: str, remarks: str) -> dict[str, str]:
        """Return the cells of a row, of a class and with remarks."""
        average, mean = (re.sub(r"[^\d.,]", "", text).strip(".,") for text in (self.average, self.mean))
        unit = price_unit_of(self.unit)
        cells = {"sex": about, "head": self.head, "weight_range": self.weight, "weight": mean}
        cells |= {"price_range": self.price, "price": average, "remarks": remarks}
        return cells | ({"price_unit": unit} if unit else {})


def told_in_sentences(told: Sequence[tuple[str, tuple[bool, ...]]]) -> list[int]:
    """Return which lots, the last first, are told in a sentence beside a list of many of another shape.

    These are one of those again, or of none. Each lot comes with the clause that tells it, and its shape.

    >>> told_in_sentences([("68 hd 788 lb sold at 341", (True, False)), *[("9 hd 4-500 lb 350", (True, True))] * 5])
    [0]
    """
    spoken = [not VERBS.isdisjoint(text.lower().split()) for text, _ in told]
    shapes = {shape for (_, shape), said in zip(told, spoken, strict=True) if not said}
    if len(told) < (_LISTED + 1) * sum(spoken):
        return []
    return [at for at in reversed(range(len(told))) if spoken[at] and told[at][1] not in shapes]


def names_class(words: Sequence[str]) -> bool:
    """Tell whether words name one class of calves, or animals that are none."""
    animal, other = classify(" ".join(words)), _OTHER_ANIMALS.search(" ".join(words))
    return animal.sex not in ("", "mixed") or bool(other and animal.reason == NOT_FEEDER)


def settle_classes(lots: Sequence[Lot]) -> str:
    """Give a class behind a lot to the next one; to the lot itself where all of a clause have theirs behind.

    Returns the class behind the last lot, of the lines below, or blank.

    >>> lots = [Lot(0, before=["strs"], tail=["thin", "hfrs"]), Lot(1)]
    >>> settle_classes(lots), lots[0].tail, lots[1].before
    ('', ['thin'], ['hfrs'])
    """
    own = [names_class([*lot.before, *lot.words]) for lot in lots]
    behind = [not has and names_class(lot.tail) for has, lot in zip(own, lots, strict=True)]
    if lots and all(behind):
        for lot in lots:
            lot.words, lot.tail, lot.behind = [*lot.words, *lot.tail], [], True
        return ""
    for place, lot in enumerate(lots):
        at = next((at for at, word in enumerate(lot.tail) if names_class([word])), None)
        if at is None or not names_class(lot.tail):
            continue
        found, last = lot.tail[at:], place + 1 == len(lots)
        if last and not leftover_words(" ".join(lot.tail)):
            lot.tail = lot.tail[:at]
            return " ".join(found)
        if not last and not own[place + 1]:
            lots[place + 1].before[:0] = found
            own[place + 1], lot.tail = True, lot.tail[:at]
    return ""


def is_inside(text: str, weights: str) -> bool:
    """Tell whether a number lies within a range of weights: their mean, and no price."""
    mean, low, *high = numbers_in(f"{text} {weights}")
    return bool(high) and low <= mean <= high[0]


_SAME = 0.01  # of a product: prices a head are rounded to a dollar, weights to a pound


def price_by_weight(weight: str, prices: tuple[str, str]) -> tuple[str, str]:
    """Return which of two prices is by weight, and its unit, where the other is that one a head; blank where none is.

    >>> price_by_weight("418 lbs", ("$1,860", "(445.00)")), price_by_weight("277kg", ("487", "$1349"))
    (('(445.00)', '$/cwt'), ('487', 'cents/kg'))
    """
    weights, ends = numbers_in(weight), [numbers_in(price) for price in prices]
    if len(weights) != 1 or [len(each) for each in ends] != [1, 1]:
        return "", ""
    (price, head), at = min((ends[0][0], ends[1][0]), (ends[1][0], ends[0][0])), int(ends[0] > ends[1])
    for hundred, of_lb, of_kg in ((1, "$/lb", "$/kg"), (100, "$/cwt", "cents/kg")):
        if abs(weights[0] * price / hundred - head) <= _SAME * head:
            return prices[at], of_kg if "kg" in weight.lower() else of_lb
    return "", ""


def counts_head(average: str, price: str) -> bool:
    """Tell whether a number in brackets is too far from a price to be its average: "430.50 (115)"."""
    if not price or not re.fullmatch(r"[(\[]\s*\d+\s*[)\]]", average):
        return False
    prices, value = numbers_in(price), numbers_in(average)[0]
    return not min(prices) / _FAR <= value <= max(prices) * _FAR


def has_animal(text: str) -> bool:
    """Tell whether words name a class of animals.

    >>> has_animal("blk strs"), has_animal("Cold Spring")
    (True, False)
    """
    animal = classify(text)
    return bool(animal.sex or animal.reason)
