"""The tokens of a quoted sale: weights, money, head, averages, units, bare numbers and words, by how they look."""

from __future__ import annotations

import re
from dataclasses import dataclass

from slidefit.records.words.animals import grade_spans
from slidefit.records.words.dates import ENGLISH_MONTHS
from slidefit.records.words.numerals import ONES, TENS, digits_of
from slidefit.records.words.units import HEAVIEST_LB, LIGHTEST_LB
from slidefit.records.words.vocabulary import VOCABULARY, look_of, words_of

_PARTS = {
    **VOCABULARY["token_parts"],
    "month": rf"(?:{'|'.join(ENGLISH_MONTHS)})\b\.?",
    "ones": ONES,
    "tens": TENS,
}
_NUM = _PARTS["number"]
_MASKS = tuple(words_of("token_masks", name, _PARTS) for name in VOCABULARY["token_masks"])
_LOOKS = (f"(?P<{kind}>{look_of('tokens', kind, _PARTS)})" for kind in VOCABULARY["tokens"])
_TOKENS = re.compile("|".join(_LOOKS), re.IGNORECASE)
_SHORT = frozenset(VOCABULARY["reports"]["short"].split())
RANGED = re.compile(rf"[-–—�]|{_PARTS['between']}", re.IGNORECASE)


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
