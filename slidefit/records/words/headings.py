"""One heading: by the list, else word by word."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from slidefit.records.words.animals import (
    TRAITS,
    AnimalClass,
    classify,
    classify_cell,
    find_grade,
    is_summary,
    traits_of,
)
from slidefit.records.words.dates import DAY_TEXT, month_number, parse_date
from slidefit.records.words.dialects import dialect_of
from slidefit.records.words.fields import (
    MEASURE_FIELDS,
    PRICE_FIELDS,
    WEIGHT_FIELDS,
    field_by_words,
    field_of,
    normal,
    per_head_weight,
)
from slidefit.records.words.numerals import is_missing
from slidefit.records.words.units import (
    PER_HEAD,
    currency_of,
    parse_weight_class,
    price_unit_of,
    weight_unit_of,
    without_money,
)
from slidefit.records.words.vocabulary import apart, words_of

_BY_WORDS_RANK = 60
"""Less sure than any heading of the lists."""
LONGEST_HEADING = 80
_UNIT_TEXT = words_of("heading_parts", "unit")
_WEIGHT_CLASS = words_of("heading_parts", "weight_class")
_GENERIC = words_of("titles", "generic")
_NAME = re.compile(r"(?=.{4})(?:[A-Z][\w'&]+\s?){1,4}")
_DIFFERENCE = words_of("heading_parts", "difference")
_PER_HUNDRED = words_of("heading_parts", "per_hundred")
_YEAR = re.compile(r"^((?:19|20)\d{2})\s*([rp*]?)$", re.IGNORECASE)
_YES = frozenset({"y", "yes", "1", "x", "true", "t", "si", "✓"})


class Evidence(StrEnum):
    """What shows the field of a column, in the words in which it is told."""

    NONE = ""
    SAID = "said by the user"
    HEADING = "by its heading"
    TEXT = "from the text"
    LINE_ABOVE = "from the line above the rows"
    YEAR_ACROSS = "a year across the top"
    MONTH_ACROSS = "a month across the top"
    DATE_ACROSS = "a date across the top"
    ACROSS = "from the headings across the top"
    WIDE = "the cells of a wide table"
    SUMMARY = "an average or total"
    TRAIT = "a trait"
    MEASURE = "a measure named in each row"
    CLASS_WORDS = "from the words of the class"
    BRACKETS = "a range with its mean in brackets"
    CLASSES = "its cells are classes of cattle"
    WORKED_OUT = "money of the lot over its weight"


@dataclass(frozen=True)
class ColumnHeading:
    """What a heading means: ``field`` is blank when no field is named; ``pins`` holds what it fixes for its column."""

    text: str
    field: str = ""
    rank: int = 99
    unit: str = ""
    currency: str = ""
    how: Evidence = Evidence.NONE
    pins: Mapping[str, str] = dataclasses.field(default_factory=dict)

    @property
    def known(self) -> bool:
        """Tell whether anything was recognized."""
        return bool(self.field or self.pins)

    @property
    def unexplained(self) -> bool:
        """Tell whether it says something, but not what the column holds: an unknown word, or the average of one."""
        return bool(self.text) and not self.field and self.pins.keys() <= {"summary"}


def _spaced(text: str) -> str:
    """Return a heading with the words apart that capitals, low lines or hyphens hold together."""
    return re.sub(r"(?<=[A-Za-z])-(?=[A-Za-z])", " ", apart(text))


def _unit(text: str) -> str:
    return price_unit_of(text) or weight_unit_of(text)


def parse_heading(text: str, mapping: Mapping[str, str] | None = None) -> ColumnHeading:
    """Return what a heading says.

    Parameters
    ----------
    mapping : mapping of heading to field, optional
        What the user said (``--map``); it goes before anything recognized.

    Examples
    --------
    >>> parse_heading("Price c/kg Lwt").field, parse_heading("Price c/kg Lwt").unit
    ('price', 'cents/kg')
    >>> dict(parse_heading("AB Steers 901+").pins)
    {'category': 'Steers', 'weight_range': '901+', 'market': 'AB'}
    >>> parse_heading("mystery").known
    False
    """
    bare = " ".join(text.split())
    spaced = _spaced(bare)
    currency, unit = currency_of(spaced), _unit(spaced)
    said = (mapping or {}).get(bare)
    if said is not None:
        return ColumnHeading(bare, said, 0, unit, currency, Evidence.SAID)
    return _parsed(bare, unit, currency)


def parse_headings(
    cells: Iterable[str], mapping: Mapping[str, str] | None = None
) -> tuple[ColumnHeading, ...]:
    """Return what the headings of one table say; those of a published format mean what it declares.

    An average is of what stands before it, where that is a range, or a price and there are several averages.

    >>> [each.field for each in parse_headings(["Hd", "Weights", "Avg", "Price", "Avg"])]
    ['head', 'weight_range', 'weight', 'price_range', 'price']
    """
    texts = list(cells)
    headings = [parse_heading(text, mapping) for text in texts]
    averages = [place for place, heading in enumerate(headings) if place and heading.field == "average"]
    for place in averages:
        measure, _, kind = headings[place - 1].field.partition("_")
        of_price = measure == "price" and len(averages) > 1
        if of_price or (measure in ("weight", "price") and kind == "range"):
            headings[place] = dataclasses.replace(headings[place], field=measure)
            if not kind and headings[place - 1].how is not Evidence.SAID:
                headings[place - 1] = dataclasses.replace(headings[place - 1], field=f"{measure}_range")
    if dialect := dialect_of(texts):
        units = dict.fromkeys(PRICE_FIELDS, dialect.price_unit)
        units |= dict.fromkeys(WEIGHT_FIELDS, dialect.weight_unit)
        for place, heading in enumerate(headings):
            name, rank = dialect.fields.get(normal(heading.text), ("", 0))
            if name and heading.how is not Evidence.SAID:
                unit = heading.unit or units.get(name, "")
                headings[place] = dataclasses.replace(heading, field=name, rank=rank, unit=unit, pins={})
    return tuple(headings)


def without_unit(text: str) -> str:
    """Return a heading without its unit.

    >>> without_unit("Avg Price ($/cwt)"), without_unit("lbs")
    ('Avg Price', '')
    """
    return _UNIT_TEXT.sub(" ", text.replace("_", " ")).strip(" .,:-()")


def is_only_unit(text: str) -> bool:
    """Tell whether a heading holds a unit and nothing else.

    >>> is_only_unit("$/cwt"), is_only_unit("(lb)"), is_only_unit("Price $/cwt")
    (True, True, False)
    """
    return not without_unit(text)


_COUNT_WORDS = frozenset({"no", "hd", "head", "n", "#", "number", "date", "text", "-", "r", "c", "%"})


def only_units(texts: Sequence[str]) -> bool:
    """Tell whether a row below a heading holds nothing but units.

    >>> only_units(["(lb)", "c/kg"]), only_units(["no.", "lbs", "$/cwt"]), only_units(["Steers", "lb"])
    (True, True, False)
    """
    units = [bool(price_unit_of(text) or weight_unit_of(text)) and is_only_unit(text) for text in texts]
    bare = [text.lower().strip(" ().") for text in texts]
    counts = [text in _COUNT_WORDS or is_only_unit(text) for text in bare]
    return any(units) and all(unit or count for unit, count in zip(units, counts, strict=True))


@lru_cache(maxsize=4096)
def _parsed(bare: str, unit: str, currency: str) -> ColumnHeading:
    if not bare or len(bare) > LONGEST_HEADING or is_missing(bare):
        return ColumnHeading(bare)
    direct = field_of(bare)
    spaced = _spaced(bare)
    if direct is None and is_only_unit(spaced):
        priced = (price_unit_of(spaced) and not per_head_weight(spaced)) or currency or "$" in bare
        direct = ("price", 5) if priced else ("weight", 20) if unit else None
    if direct is None:
        direct = field_of(_UNIT_TEXT.sub(" ", without_money(spaced) if currency else spaced))
        weighed = weight_unit_of(spaced) and not price_unit_of(spaced) and not currency
        unsure = direct is None or direct[0] in ("average", "unused", "amount")
        words = field_by_words(spaced) if unsure or (weighed and direct and direct[0] in PRICE_FIELDS) else ""
        direct = (words, _BY_WORDS_RANK) if words else direct
    if direct is not None:
        name = direct[0]
        if name == "average" and unit and not price_unit_of(spaced):
            name = "weight"
        if name in WEIGHT_FIELDS:
            unit = weight_unit_of(spaced)
        if name in ("price", "average") and price_unit_of(bare) == PER_HEAD and not per_head_weight(spaced):
            name = "price_head"
        if name == "shrink" and unit:  # pounds are no percent
            return ColumnHeading(bare)
        if name == "head" and (unit == PER_HEAD or re.search(r"[$€£¢]", bare)):
            name, unit = "price_head", PER_HEAD
        return ColumnHeading(bare, name, direct[1], unit, currency, Evidence.HEADING)
    return _pinned(bare, unit, currency)


def _pinned(bare: str, unit: str, currency: str) -> ColumnHeading:
    """Read a heading that fixes something for its column, such as ``Steers 500-600 lb``."""
    text, bare = bare, _PER_HUNDRED.sub(" ", re.sub(r"(?<=\d)_(?=\d)", "-", bare).replace("_", " "))
    year = _YEAR.match(bare)
    if _DIFFERENCE.search(bare):
        return ColumnHeading(text)
    if year:
        pins = {"year": year[1], **({"status": "Preliminary"} if year[2].lower() == "p" else {})}
        return ColumnHeading(text, pins=pins, how=Evidence.YEAR_ACROSS)
    if month_number(bare) and not bare.strip().isdecimal():
        return ColumnHeading(text, pins={"month": bare}, how=Evidence.MONTH_ACROSS)
    if is_summary(bare):
        return ColumnHeading(text, pins={"summary": bare}, how=Evidence.SUMMARY)
    day = parse_date(bare)
    if day is not None and re.search(r"\d", bare) and not classify(bare).sex:
        rest = DAY_TEXT.sub(" ", bare)
        name, rank = field_of(rest) or ("", 99)
        pins = {"date": found["day"] if (found := DAY_TEXT.search(bare)) else bare}
        place = " ".join(_GENERIC.sub(" ", rest).split())
        if not name and _NAME.fullmatch(place) and classify(place) == AnimalClass():
            pins["market"] = place
        return ColumnHeading(text, name, rank, unit, currency, Evidence.DATE_ACROSS, pins)
    weight = _WEIGHT_CLASS.search(bare)
    rest, pins = bare, {}
    if weight and parse_weight_class(weight.group()) is not None:
        rest = rest.replace(weight.group(), " ", 1)
        pins["weight_range"] = weight.group().strip()
        unit = unit if weight_unit_of(weight.group()) != "cwt" else _unit(rest)
    grade, animal = find_grade(rest), classify_cell(rest) if pins else classify(rest)
    if animal.sex or animal.reason:
        pins = {"category": " ".join(_CLASS_WORDS.findall(rest)) or rest.strip(), **pins}
    if grade.text:
        pins["grade"] = grade.text
    rest = _left_over(rest)
    rest = "" if pins and classify_cell(rest).sex else rest  # a code, as in St400-500
    named = field_of(rest) if rest else _in_brackets(bare, unit, pins)
    if not pins:
        trait = traits_of(bare)
        if trait in TRAITS and len(bare) < 25:
            return ColumnHeading(text, "trait", 0, pins={"trait": trait}, how=Evidence.TRAIT)
        return ColumnHeading(text)
    if named is None and len(rest) <= 30 and not re.search(r"\d", rest) and _may_be_place(rest):
        pins["market"] = rest
    name, rank = named or ("", 99)
    return ColumnHeading(text, name, rank, unit, currency, Evidence.HEADING, pins)


def _in_brackets(text: str, unit: str, pins: Mapping[str, str]) -> tuple[str, int] | None:
    """Return the measure that stands in brackets behind a class, as in ``Steers (head)`` and ``Steers (lb)``."""
    for inside in (*re.findall(r"[(\[]([^()\[\]]*)[)\]]", text), _CLASS_WORDS.sub(" ", text).strip()):
        found = field_of(inside)
        if found is not None and found[0] in MEASURE_FIELDS:
            return found
        if unit in ("lb", "kg", "cwt") and is_only_unit(inside) and "weight_range" not in pins:
            return "weight", 20
    return None


_CLASS_WORDS = words_of("heading_parts", "class_words")
_GRADE_WORDS = words_of("heading_parts", "grade_words")
_NO_PLACE = words_of("heading_parts", "no_place")


def _left_over(text: str) -> str:
    """Return a heading without class, grade and unit words."""
    rest = _GRADE_WORDS.sub(" ", _CLASS_WORDS.sub(" ", _UNIT_TEXT.sub(" ", text)))
    return " ".join(rest.strip(" -–:,.|/").split()).strip(" -–:,.|/()")


def _may_be_place(text: str) -> bool:
    """Tell whether what is left of a heading can be the name of a place."""
    return text[:1].isupper() and not _NO_PLACE.search(text) and bool(normal(text))


def says_yes(text: str) -> bool:
    """Tell whether a cell of a yes-or-no column says yes.

    >>> says_yes("Y"), says_yes("no"), says_yes("")
    (True, False, False)
    """
    return text.strip().lower() in _YES
