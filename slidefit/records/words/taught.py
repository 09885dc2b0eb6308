"""What a taught word can mean: the meanings of the columns whose words a user may settle."""

from __future__ import annotations

from slidefit.records.words.animals import TRAITS, classify_cell, parse_grade
from slidefit.records.words.units import PRICE_UNITS, named_price_unit

ANIMALS = ("steer", "heifer", "bull", "mixed", "dairy", "not_feeder", "total")
_FRAMES, _MUSCLES = ("L", "ML", "M", "MS", "S"), ("1", "1-2", "2", "2-3", "3", "3-4", "4")
_GRADES = tuple(f"{frame} {muscle}" for frame in _FRAMES[:3] for muscle in _MUSCLES[:5])
_OTHER = ("dairy", "not_feeder")
OFFERED: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("sex", "category", "breed"), ANIMALS),
    "grade": (*_GRADES, "S 1-2", *_OTHER),
    "frame": (*_FRAMES, *_OTHER),
    "muscle": (*_MUSCLES, *_OTHER),
    "remarks": (*TRAITS, *ANIMALS),
    "price_unit": tuple(PRICE_UNITS),
    **dict.fromkeys(("status", "sold"), ("preliminary", "final", "corrected", "sold", "no sale")),
}


def allowed_meanings(field: str, meaning: str) -> str:
    """Return the meanings that a word of a field can have, when the one given is none of them; else blank.

    >>> allowed_meanings("sex", "steer"), allowed_meanings("grade", "ML 1-2"), allowed_meanings("price_unit", "cwt")
    ('', '', '')
    >>> allowed_meanings("sex", "stear")
    'steer, heifer, bull, mixed, dairy, not_feeder, total'
    """
    plain = meaning.strip()
    if plain in ANIMALS or plain in offered_meanings(field):
        return ""
    if field in ("grade", "frame", "muscle"):
        grade = parse_grade(plain)
        return "" if grade.frame or grade.muscle else "a grade such as ML 1 or M 1-2, dairy, not_feeder"
    unit = named_price_unit(plain) if field == "price_unit" else None
    also = unit or (field not in OFFERED and classify_cell(plain).sex)
    return "" if also else ", ".join(offered_meanings(field))


def offered_meanings(field: str) -> tuple[str, ...]:
    """Return the meanings to choose from for a word of a field.

    >>> offered_meanings("sold")[-2:], offered_meanings("muscle")[:2]
    (('sold', 'no sale'), ('1', '1-2'))
    """
    return OFFERED.get(field, (*ANIMALS, *TRAITS))
