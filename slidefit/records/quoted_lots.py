"""One sale as a text quotes it: its cells, its class and remarks, and what its numbers prove of one another."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from slidefit.records.words.animals import NOT_FEEDER, classify, leftover_words, sex_of, traits_of
from slidefit.records.words.tokens import RANGED, numbers_in
from slidefit.records.words.vocabulary import words_of

_OTHER_ANIMALS = words_of("reports", "other_animals")
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
