"""Feeder grades, frame and muscle, in every usual spelling.

The scale is that of the U.S. Standards for Grades of Feeder Cattle (USDA AMS, 2000).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_SIZES = {
    "large": "L",
    "lg": "L",
    "lge": "L",
    "lrg": "L",
    "l": "L",
    "medium": "M",
    "med": "M",
    "md": "M",
    "m": "M",
    "small": "S",
    "sm": "S",
    "s": "S",
}
_FRAMES = {
    frozenset("L"): "L",
    frozenset("LM"): "ML",
    frozenset("M"): "M",
    frozenset("MS"): "MS",
    frozenset("S"): "S",
}
_WORD = r"(?:large|medium|small|lge|lrg|lg|med|md|sm)\b\.?"
_LETTER = r"[lms]"
_JOIN = r"\s*(?:and|&|/|-|to|\+|,|\s)\s*"
_MUSCLE = (
    r"(?P<low>[1-4])(?:\s*(?:-|–|to|&|and|/)\s*(?P<high>[1-4]))?(?P<half>\.5|½)?(?![\d.,/%]"
    r"|\s*(?:head|hd|lbs?|yrs?|years?|mos?|months?)\b)"
)
_NUMBER_SIGN = r"(?:frames?|framed|scale)?\s*(?:no\.?s?\.?|nos?\.?|#'?s?|number|muscle|thickness)?\s*\.?"
_IN_WORDS = re.compile(
    rf"\b(?P<first>{_WORD})(?:{_JOIN}(?P<second>{_WORD}))?\s*[-,:]?\s*{_NUMBER_SIGN}\s*[-]?\s*(?:{_MUSCLE})?",
    re.IGNORECASE,
)
_IN_LETTERS = re.compile(
    rf"(?<![a-z0-9])(?P<first>{_LETTER})(?:\s?[&/]?\s?(?P<second>{_LETTER}))?\s*[-]?\s*{_NUMBER_SIGN}\s*[-]?\s*{_MUSCLE}(?![a-z])",
    re.IGNORECASE,
)
_LETTERS_ALONE = re.compile(
    rf"^\s*(?P<first>{_LETTER})\s?(?:[&/-]|and)?\s?(?P<second>{_LETTER})?\s*(?:frame)?\s*$", re.IGNORECASE
)
_JOINED_LETTERS = re.compile(
    r"(?<![a-z0-9])(?P<first>[lm])\s?[&/]\s?(?P<second>[lms])(?![a-z0-9])", re.IGNORECASE
)
_MUSCLE_ALONE = re.compile(rf"^\s*(?:no\.?s?\.?|#'?s?|muscle|thickness)?\s*{_MUSCLE}\s*$", re.IGNORECASE)
_SIGNED_MUSCLE = re.compile(rf"(?:#'?s?|\bnos?\.|\bmuscle(?: score| grade)?)\s*{_MUSCLE}", re.IGNORECASE)


@dataclass(frozen=True)
class Grade:
    """Frame (L, ML, M, MS, S) and muscle (1 to 4, or two neighbours); blank where not said."""

    frame: str = ""
    muscle: str = ""


def _frame(first: str | None, second: str | None) -> str:
    """Return the code of one or two size words."""
    sizes = {_SIZES[word.lower().rstrip(".")] for word in (first, second) if word}
    return _FRAMES.get(frozenset(sizes), "")


def _muscle(found: re.Match[str]) -> str:
    """Return the muscle number of a match: 1, 1-2, ...; numbers that aren't neighbours are no grade."""
    low, high = found["low"], found["high"]
    if low is None:
        return ""
    if found["half"] and int(low) < 4:
        return f"{low}-{int(low) + 1}"
    if high is None or high == low:
        return low
    return f"{low}-{high}" if int(high) - int(low) == 1 else ""


def find_grade(text: str) -> Grade:
    """Return the grade named inside a longer text, such as a title; single letters count only beside a number.

    Examples
    --------
    >>> find_grade("Feeder Steers Medium and Large 1 - 2"), find_grade("M&L 1 & 2")
    (Grade(frame='ML', muscle='1-2'), Grade(frame='ML', muscle='1-2'))
    >>> find_grade("AB Steers 500-600"), find_grade("L-1").frame, find_grade("Medium-Large frame").frame
    (Grade(frame='', muscle=''), 'L', 'ML')
    """
    best = Grade()
    for pattern in (_IN_WORDS, _IN_LETTERS):
        for found in pattern.finditer(text):
            grade = Grade(_frame(found["first"], found["second"]), _muscle(found))
            if grade.frame and grade.muscle:
                return grade
            if grade.frame and not best.frame:
                best = grade
    if not best.frame:
        letters = _JOINED_LETTERS.search(text)
        best = Grade(_frame(letters["first"], letters["second"])) if letters else best
    if not best.muscle:
        signed = _SIGNED_MUSCLE.search(text)
        best = Grade(best.frame, _muscle(signed)) if signed else best
    return best


def parse_frame(text: str) -> str:
    """Return the frame in a frame cell; a number alone is a code without a key and stays blank.

    >>> parse_frame("Medium and Large"), parse_frame("L/M"), parse_frame("2"), parse_frame("N/A")
    ('ML', 'ML', '', '')
    """
    letters = _LETTERS_ALONE.match(text)
    return _frame(letters["first"], letters["second"]) if letters else find_grade(text).frame


def parse_muscle(text: str) -> str:
    """Return the muscle number in a muscle cell; letters (other countries' scales) stay blank.

    >>> parse_muscle("1 - 2"), parse_muscle("#1"), parse_muscle("1.0"), parse_muscle("C"), parse_muscle("12")
    ('1-2', '1', '1', '', '')
    """
    alone = _MUSCLE_ALONE.match(re.sub(r"\.0+$", "", text.strip()))
    if alone:
        return _muscle(alone)
    as_date = re.match(r"^([1-4])-(jan|feb|mar|apr)$", text.strip(), re.IGNORECASE)
    if as_date:
        other = ["jan", "feb", "mar", "apr"].index(as_date[2].lower()) + 1
        low, high = sorted((int(as_date[1]), other))
        return f"{low}-{high}" if high - low == 1 else ""
    return find_grade(text).muscle


def parse_grade(text: str) -> Grade:
    """Return the grade in a cell that holds frame and muscle together.

    >>> parse_grade("ML1-2"), parse_grade("#1"), parse_grade("Ungr.")
    (Grade(frame='ML', muscle='1-2'), Grade(frame='', muscle='1'), Grade(frame='', muscle=''))
    """
    letters = _LETTERS_ALONE.match(text)
    if letters:
        return Grade(_frame(letters["first"], letters["second"]))
    alone = _MUSCLE_ALONE.match(text)
    return Grade("", _muscle(alone)) if alone else find_grade(text)
