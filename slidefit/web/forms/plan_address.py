"""A plan as flat names."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterable
from datetime import date
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any, Literal
from urllib.parse import urlencode

from slidefit.plan.feeding import ITEMS_UNIT
from slidefit.plan.plan import Plan
from slidefit.plan.plan_file import build_plan
from slidefit.plan.typed_numbers import number_of
from slidefit.toml_tables import TomlTable, table_class

Kind = Literal[
    "table", "tables", "choice", "flag", "date", "month", "number", "whole", "texts", "items", "pairs", "text"
]
Values = dict[str, str]
MOST_ITEMS = 40
NEW_NAMES = {
    "groups": "Calves", "forward": "Forward price", "programs": "Feeding program", "ration": "Feed", "phases": "Phase",
    "futures": "Futures contract",
}  # fmt: skip
"""What a new table of a list is called until the user names it."""
ADD_WORDS = {
    "groups": "Add calves", "forward": "Add a forward price", "programs": "Add a way to keep them",
    "ration": "Add a feed", "phases": "Add a phase", "futures": "Add a futures contract",
}  # fmt: skip
MOST_VALUES = 1500
NAME = re.compile(r"[a-z_]+(?:\.(?:\d{1,3}|[a-z_]+)){0,8}")


def bare(annotation: Any) -> Any:
    """Return an annotation without its ``None``."""
    if typing.get_origin(annotation) in (types.UnionType, typing.Union):
        parts = [part for part in typing.get_args(annotation) if part is not type(None)]
        return parts[0]
    return annotation


@cache
def kind_of(table: type[TomlTable], name: str) -> Kind:
    """Return how a field of the plan is filled in."""
    info = table.model_fields[name]
    annotation = bare(info.annotation)
    many = typing.get_origin(annotation) is tuple
    if table_class(annotation) is not None:
        return "tables" if many else "table"
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    if many:
        lists: dict[str, Kind] = dict.fromkeys(("list of lb", "list of YYYY-MM", "list of percent"), "texts")
        return {**lists, ITEMS_UNIT: "pairs"}.get(str(extra.get("unit", "")), "items")
    if typing.get_origin(annotation) is Literal:
        return "choice"
    plain: dict[Any, Kind] = {bool: "flag", date: "date", float: "number", int: "whole"}
    if annotation in plain:
        return plain[annotation]
    return "month" if extra.get("unit") == "YYYY-MM" else "text"


@lru_cache(MOST_VALUES)
def field_at(path: tuple[str, ...]) -> tuple[type[TomlTable], str] | None:
    """Return the table and field that a name leads to; None when it leads to no plain field."""
    table: type[TomlTable] = Plan
    parts = list(path)
    while parts:
        name = parts.pop(0)
        if name not in table.model_fields:
            return None
        kind = kind_of(table, name)
        if kind not in ("table", "tables"):
            return None if parts else (table, name)
        if kind == "tables" and (not parts or not parts.pop(0).isdecimal()):
            return None
        inner = table_class(table.model_fields[name].annotation)
        assert inner is not None
        table = inner
    return None


def given(pairs: Iterable[tuple[str, str]]) -> Values:
    """Return the filled fields among pairs of names and texts, list positions counted from zero without gaps.

    >>> given([("groups.3.name", "Steers"), ("title", " "), ("nonsense", "1"), ("groups.7.name", "Heifers")])
    {'groups.0.name': 'Steers', 'groups.1.name': 'Heifers'}
    """
    kept = [
        (name.split("."), text.strip())
        for name, text in list(pairs)[:MOST_VALUES]
        if text.strip() and NAME.fullmatch(name) and field_at(tuple(name.split("."))) is not None
    ]
    places: dict[tuple[str, ...], list[int]] = {}
    for path, _ in kept:
        for at, part in enumerate(path):
            if part.isdecimal():
                seen = places.setdefault(tuple(path[:at]), [])
                if int(part) not in seen:
                    seen.append(int(part))
    out: Values = {}
    for path, text in kept:
        renumbered = [
            str(sorted(places[tuple(path[:at])]).index(int(part))) if part.isdecimal() else part
            for at, part in enumerate(path)
        ]
        if all(int(part) < MOST_ITEMS for part in renumbered if part.isdecimal()):
            out[".".join(renumbered)] = text
    return out


def typed(kind: Kind, text: str) -> Any:
    """Return a text as the plan's checks want it; what can't be read so stays text, for the checks to refuse."""
    if kind in ("number", "whole"):
        return number(text)
    if kind == "flag":
        return {"yes": True, "no": False}.get(text, text)
    if kind == "items":
        return [part.strip() for part in text.split(";") if part.strip()]
    if kind == "pairs":
        pairs = (part.rpartition(" ") for part in text.split(";") if part.strip())
        return [[what.strip(), number(amount)] for what, _, amount in pairs]
    if kind == "texts":
        return [number(part) for part in re.split(r"[;,\s]+", text) if part]
    return text


def number(text: str) -> int | float | str:
    """Return a number that a person typed, or the text when it is none.

    >>> number("$1,250.50"), number("46 head"), number("3 %"), number("1,9"), number("about 5")
    (1250.5, 46, 3, 1.9, 'about 5')
    """
    value = number_of(text)
    return text if value is None else int(value) if value.is_integer() else value


def raw_of(values: Values) -> dict[str, Any]:
    """Return filled fields as the nested tables that a plan is checked from."""
    raw: dict[str, Any] = {}
    for name, text in values.items():
        path = name.split(".")
        found = field_at(tuple(path))
        if found is None:
            continue
        here: Any = raw
        for part, following in pairwise(path):
            empty: Any = [] if following.isdecimal() else {}
            if part.isdecimal():
                while len(here) <= int(part):
                    here.append({})
                here = here[int(part)]
            else:
                here = here.setdefault(part, empty)
        here[path[-1]] = typed(kind_of(*found), text)
    return raw


def plan_of(values: Values) -> Plan:
    """Return the plan of filled fields."""
    return build_plan(raw_of(values))


def text_of(value: Any) -> str:
    """Return a plan's value as the form holds it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return "; ".join(
            " ".join(map(text_of, item)) if isinstance(item, tuple) else text_of(item) for item in value
        )
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def values_of(plan: Plan) -> Values:
    """Return what a plan gives (not its defaults) as flat names and texts."""
    out: Values = {}

    def walk(value: Any, path: str) -> None:
        if isinstance(value, dict):
            for key, item in value.items():
                walk(item, f"{path}.{key}" if path else key)
        elif isinstance(value, (list, tuple)) and value and isinstance(value[0], dict):
            for position, item in enumerate(value):
                walk(item, f"{path}.{position}")
        elif text_of(value):
            out[path] = text_of(value)

    walk(plan.model_dump(exclude_unset=True, exclude_none=True), "")
    return out


def address(values: Values) -> str:
    """Return filled fields as the query of an address."""
    return urlencode(values)


def count_of(values: Values, path: str) -> int:
    """Return how many tables a list has.

    >>> count_of({"groups.0.name": "A", "groups.1.name": "B"}, "groups")
    2
    """
    start = f"{path}."
    places = {name[len(start) :].split(".")[0] for name in values if name.startswith(start)}
    return len(places)


def added(values: Values, path: str) -> Values:
    """Return the values with one more table in a list, named by its number."""
    last = path.split(".")[-1]
    if last not in NEW_NAMES or field_at((*path.split("."), "0", "name")) is None:
        return values
    place = count_of(values, path)
    return (
        values
        if place >= MOST_ITEMS
        else {**values, f"{path}.{place}.name": f"{NEW_NAMES[last]} {place + 1}"}
    )


def removed(values: Values, path: str) -> Values:
    """Return the values without a table."""
    return given((name, text) for name, text in values.items() if not name.startswith(f"{path}."))
