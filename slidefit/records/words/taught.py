"""What a taught word can mean: the meanings of the columns whose words a user may settle."""

from __future__ import annotations

from slidefit.records.words.animals import TRAITS, classify_cell, parse_grade
from slidefit.records.words.units import PRICE_UNITS, named_price_unit

ANIMALS = ("steer", "heifer", "bull", "mixed", "dairy", "not_feeder", "total")
_TEACHABLE = (
    "sex",
    "category",
    "breed",
    "grade",
    "frame",
    "muscle",
    "remarks",
    "price_unit",
    "status",
    "sold",
)


def allowed_meanings(field: str, meaning: str) -> str:
    """Return the meanings that a word of a field can have, when the one given is none of them; else blank.

    >>> allowed_meanings("sex", "steer"), allowed_meanings("grade", "ML 1-2"), allowed_meanings("price_unit", "cwt")
    ('', '', '')
    >>> allowed_meanings("sex", "stear")
    'steer, heifer, bull, mixed, dairy, not_feeder, total'
    """
    plain = meaning.strip()
    if plain in ANIMALS:
        return ""
    if field in ("sex", "category", "breed"):
        return ", ".join(ANIMALS)
    if field in ("grade", "frame", "muscle"):
        grade = parse_grade(plain)
        return "" if grade.frame or grade.muscle else "a grade such as ML 1 or M 1-2, dairy, not_feeder"
    if field == "remarks":
        return "" if plain in TRAITS else ", ".join((*TRAITS, *ANIMALS))
    if field == "price_unit":
        return "" if named_price_unit(plain) else ", ".join(PRICE_UNITS)
    if field in ("status", "sold"):
        wanted = ("preliminary", "final", "corrected", "sold", "no sale")
        return "" if plain in wanted else ", ".join(wanted)
    return "" if classify_cell(plain).sex or plain in TRAITS else ", ".join((*ANIMALS, *TRAITS))
