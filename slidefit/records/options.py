"""What the user may say about a file, beside the file: one frozen request that every reader gets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from slidefit.errors import RecordsError
from slidefit.records.fields import FIELD_NAMES, MAP_ALIASES
from slidefit.records.units import PRICE_UNITS, WEIGHT_FACTORS, named_price_unit


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


def checked_mapping(mapping: Mapping[str, str]) -> dict[str, str]:
    """Return a mapping of headings with the field names made sure.

    Raises
    ------
    RecordsError
        A field is not known.
    """
    known: dict[str, str] = {}
    for heading, name in mapping.items():
        plain = MAP_ALIASES.get(name.strip().lower(), name.strip().lower())
        if plain not in FIELD_NAMES:
            raise RecordsError(
                f"{name!r} is no field of a sale record",
                where=f"--map {heading}={name}",
                remedy=f"Use one of: {', '.join(FIELD_NAMES)}.",
            )
        known[" ".join(heading.split())] = plain
    return known


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
        raise RecordsError(
            f"{price_unit!r} is no unit of price",
            where="--price-unit",
            remedy=f"Use one of: {', '.join(PRICE_UNITS)}.",
        )
    weight = {"lbs": "lb", "pounds": "lb", "kgs": "kg"}.get(
        (weight_unit or "").lower(), (weight_unit or "").lower()
    )
    if weight and weight not in WEIGHT_FACTORS:
        raise RecordsError(
            f"{weight_unit!r} is no unit of weight",
            where="--weight-unit",
            remedy=f"Use one of: {', '.join(WEIGHT_FACTORS)}.",
        )
    if date_order and date_order not in ("mdy", "dmy"):
        raise RecordsError(
            f"{date_order!r} is no order of dates",
            where="--date-order",
            remedy="Use mdy (month first) or dmy (day first).",
        )
    return price, weight, date_order or ""
