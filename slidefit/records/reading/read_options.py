"""What the user, or the card of the source, says about a file, beside the file: one request that every reader gets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from slidefit.errors import RecordsError
from slidefit.facts import Setting, Text
from slidefit.records.words.fields import FIELD_NAMES, MAP_ALIASES, field_of
from slidefit.records.words.taught import allowed_meanings
from slidefit.records.words.units import PRICE_UNITS, WEIGHT_FACTORS, named_price_unit

SALE_DAYS = ("title", "column")
Values = Mapping[str, Mapping[str, str]]
"""Field or heading -> word in the file -> what it means."""


@dataclass(frozen=True)
class ReadOptions:
    """How to read files; every blank is decided from the file itself.

    Attributes
    ----------
    mapping : mapping of heading to field
    market, currency : str
        For rows that name none.
    price_unit : str
        One of ``units.PRICE_UNITS``; ``$/head`` also converts per-head prices where the weight is known.
    weight_unit : str
        lb, kg or cwt.
    date_order : str
        ``mdy`` or ``dmy``.
    sheet : str
        The one sheet of a workbook to read.
    skip_rows : int
        Rows to pass over at the top of each file.
    today : date
        Sales after this day are not believed.
    values : mapping of field or heading to a mapping of word to meaning
    market_names : mapping of a market's other name to its name in the book
    sale_day : str
        ``title`` or ``column``, where both tell days and they differ; or the day (ISO), where no column tells it.
    """

    mapping: Mapping[str, str] = field(default_factory=dict)
    market: str = ""
    currency: str = ""
    price_unit: str = ""
    weight_unit: str = ""
    date_order: str = ""
    sheet: str = ""
    skip_rows: int = 0
    today: date = field(default_factory=date.today)
    values: Values = field(default_factory=dict, repr=False)
    market_names: Mapping[str, str] = field(default_factory=dict, repr=False)
    sale_day: str = field(default="", repr=False)

    def key(self) -> str:
        """Return a text for all but the present day; where nothing was taught, that of earlier versions' batches."""
        taught = [self.values, self.market_names, self.sale_day]
        return repr(replace(self, today=date.min)) + (repr(taught) if any(taught) else "")


def known_field(name: str) -> str | None:
    """Return the field that a word names, or None.

    >>> known_field("weight_lb"), known_field("class"), known_field("colour of the barn")
    ('weight', 'sex', None)
    """
    plain = MAP_ALIASES.get(name.strip().lower(), name.strip().lower())
    return plain if plain in FIELD_NAMES else None


def _refused(what: str, setting: Setting, allowed: Iterable[str]) -> RecordsError:
    return RecordsError(what, where=Text(setting), remedy=f"Use one of: {', '.join(allowed)}.")


def checked_mapping(mapping: Mapping[str, str]) -> dict[str, str]:
    """Return a mapping of headings with the field names made sure.

    Raises
    ------
    RecordsError
        A field is not known.
    """
    known: dict[str, str] = {}
    for heading, name in mapping.items():
        plain = known_field(name)
        if plain is None:
            said = Setting("mapping", f"{heading}={name}")
            raise _refused(f"{name!r} is not a field of a sale record", said, FIELD_NAMES)
        known[" ".join(heading.split())] = plain
    return known


def checked_values(values: Values) -> dict[str, dict[str, str]]:
    """Return taught values with words and meanings without stray blanks.

    Raises
    ------
    RecordsError
        A meaning is not one that a column of that field can have.
    """
    checked: dict[str, dict[str, str]] = {}
    for name, words in values.items():
        place = known_field(name) or " ".join(name.split())
        heading = field_of(place)
        for word, meaning in words.items():
            fault = allowed_meanings(heading[0] if heading else place, meaning)
            if fault:
                said = Setting("values", f"{name}:{word}={meaning}")
                raise _refused(f"{meaning!r} is not a meaning of {name}", said, [fault])
            checked.setdefault(place, {})[" ".join(word.split())] = meaning.strip()
    return checked


def checked_sale_day(text: str, today: date) -> str:
    """Return what tells the day of sale, or the day itself, made sure.

    Raises
    ------
    RecordsError
        It is neither, or a day still to come.
    """
    try:
        known = text in ("", *SALE_DAYS) or date.fromisoformat(text) <= today
    except ValueError:
        known = False
    if not known:
        raise _refused(
            f"{text!r} is not a day of sale", Setting("sale_day"), [*SALE_DAYS, "a past day, as 2026-10-08"]
        )
    return text


def checked_units(
    price_unit: str | None, weight_unit: str | None, date_order: str | None
) -> tuple[str, str, str]:
    """Return the units that the user named, in our spelling.

    Raises
    ------
    RecordsError
        A unit or order is not known.
    """
    price = named_price_unit(price_unit) if price_unit else ""
    if price is None:
        raise _refused(f"{price_unit!r} is not a unit of price", Setting("price_unit"), PRICE_UNITS)
    weight = (weight_unit or "").lower()
    weight = {"lbs": "lb", "pounds": "lb", "kgs": "kg"}.get(weight, weight)
    if weight and weight not in WEIGHT_FACTORS:
        raise _refused(f"{weight_unit!r} is not a unit of weight", Setting("weight_unit"), WEIGHT_FACTORS)
    if date_order and date_order not in ("mdy", "dmy", "ymd"):
        raise RecordsError(
            f"{date_order!r} is not an order of dates",
            where=Text(Setting("date_order")),
            remedy="Use mdy (month first), dmy (day first) or ymd (year first).",
        )
    return price, weight, date_order or ""
