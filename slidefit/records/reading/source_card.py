"""ReadOptions; what is known of a source of files, saved."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from pathlib import Path

from slidefit.errors import RecordsError
from slidefit.facts import Action, Setting, Text
from slidefit.files import write_whole
from slidefit.records.words.fields import FIELD_NAMES, MAP_ALIASES
from slidefit.records.words.units import PRICE_UNITS, WEIGHT_FACTORS, named_price_unit


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
                f"{name!r} is not a field of a sale record",
                where=Text(Setting("mapping", f"{heading}={name}")),
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
            f"{price_unit!r} is not a unit of price",
            where=Text(Setting("price_unit")),
            remedy=f"Use one of: {', '.join(PRICE_UNITS)}.",
        )
    weight = {"lbs": "lb", "pounds": "lb", "kgs": "kg"}.get(
        (weight_unit or "").lower(), (weight_unit or "").lower()
    )
    if weight and weight not in WEIGHT_FACTORS:
        raise RecordsError(
            f"{weight_unit!r} is not a unit of weight",
            where=Text(Setting("weight_unit")),
            remedy=f"Use one of: {', '.join(WEIGHT_FACTORS)}.",
        )
    if date_order and date_order not in ("mdy", "dmy"):
        raise RecordsError(
            f"{date_order!r} is not an order of dates",
            where=Text(Setting("date_order")),
            remedy="Use mdy (month first) or dmy (day first).",
        )
    return price, weight, date_order or ""


_NAME = re.compile(r"^[\w][\w .-]{0,60}$")


@dataclass(frozen=True)
class Layout:
    """What the user said about a kind of file: column meanings, place, money, units, sheet, rows to pass over."""

    mapping: Mapping[str, str] = field(default_factory=dict)
    market: str = ""
    currency: str = ""
    price_unit: str = ""
    weight_unit: str = ""
    date_order: str = ""
    sheet: str = ""
    skip_rows: int = 0

    @classmethod
    def of(cls, options: ReadOptions) -> Layout:
        """Return the layout that a reading used."""
        return cls(
            dict(options.mapping),
            options.market,
            options.currency,
            options.price_unit,
            options.weight_unit,
            options.date_order,
            options.sheet,
            options.skip_rows,
        )


def layout_path(book: str | Path, name: str) -> Path:
    """Return where the layout of a name stands: ``NAME.layout.toml`` next to the book.

    Raises
    ------
    RecordsError
        The name can't be a file's name.
    """
    if not _NAME.match(name):
        raise RecordsError(
            f"{name!r} can't be the name of a layout", remedy="Use letters, digits, blanks, - and _."
        )
    return Path(book).parent / f"{name}.layout.toml"


def save_layout(layout: Layout, path: str | Path) -> None:
    """Write a layout as TOML, whole or not at all.

    Raises
    ------
    OutputError
        The file can't be written.
    """
    lines = ["# How slidefit reads this kind of file; every line may be changed or left out."]
    for item in fields(Layout):
        value = getattr(layout, item.name)
        if item.name != "mapping" and value:
            lines.append(f"{item.name} = {json.dumps(value, ensure_ascii=False)}")
    if layout.mapping:
        lines += ["", "[mapping]  # heading in the file = meaning"]
        lines += [
            f"{json.dumps(key, ensure_ascii=False)} = {json.dumps(value)}"
            for key, value in layout.mapping.items()
        ]
    write_whole(path, "\n".join(lines) + "\n")


def load_layout(path: str | Path) -> Layout:
    """Read a layout.

    Raises
    ------
    RecordsError
        There is none, it is no TOML, or a key or value is not known.
    """
    place = Path(path)
    try:
        said = tomllib.loads(place.read_text(encoding="utf-8"))
    except FileNotFoundError as fault:
        raise RecordsError(
            "there is no such layout",
            where=str(place),
            remedy=Text("Save one first: ", Action("save_card"), "."),
        ) from fault
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise RecordsError(
            f"the layout can't be read ({fault})", where=str(place), remedy="Mend the file or save it again."
        ) from fault
    known = {item.name: item for item in fields(Layout)}
    for key, value in said.items():
        if key not in known:
            raise RecordsError(
                f"{key!r} is no part of a layout", where=str(place), remedy=f"Use: {', '.join(known)}."
            )
        wanted = dict if key == "mapping" else int if key == "skip_rows" else str
        if not isinstance(value, wanted) or isinstance(value, bool) or (isinstance(value, int) and value < 0):
            raise RecordsError(
                f"{key} can't be {value!r}", where=str(place), remedy=f"Give a {wanted.__name__}."
            )
    mapping = {str(key): str(value) for key, value in said.get("mapping", {}).items()}
    checked_mapping(mapping)
    checked_units(said.get("price_unit"), said.get("weight_unit"), said.get("date_order"))
    return Layout(**{**said, "mapping": mapping})
