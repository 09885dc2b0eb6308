"""A plan as flat names; labels of its fields."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterable
from datetime import date
from itertools import pairwise
from typing import Any, Literal
from urllib.parse import urlencode

from slidefit.plan.feeding import Feed, Pasture, Phase, Program
from slidefit.plan.plan import Dates, Finance, Forward, Group, Plan, Risk
from slidefit.plan.plan_file import build_plan
from slidefit.plan.selling import Contract, Floor, Selling
from slidefit.toml_tables import TomlTable, table_class

LABELS: dict[type[TomlTable], dict[str, str]] = {
    Plan: {
        "title": "Name of the plan",
        "dates": "Dates",
        "groups": "Groups of calves",
        "programs": "Ways to keep them",
        "selling": "Selling",
        "money": "Money",
        "risk": "Odds",
    },
    Dates: {
        "weaning": "Weaning day",
        "first_sale": "First month of sale",
        "last_sale": "Last month of sale",
        "sale_day": "Day of the month",
        "sales": "Single months of sale",
        "every_week": "Compare every week",
    },
    Group: {
        "name": "Name",
        "sex": "Sex",
        "head": "Head",
        "weight_lb": "Mean weight",
        "bid_cwt": "Price bid today",
        "weight_sd_lb": "Spread of weights",
        "weights_lb": "Every calf's weight",
        "frame": "Frame",
        "muscle": "Muscle",
        "forward": "Forward prices",
        "weaning": "Own weaning day",
        "programs": "Open to these ways only",
    },
    Forward: {
        "month": "Month of that price",
        "weight_lb": "At what weight",
        "price_cwt": "Forward price",
        "name": "Where it comes from",
    },
    Program: {
        "name": "Name",
        "gain_lb_day": "Daily gain",
        "cost_head_day": "Feed or yard cost a day",
        "earliest_on": "First day open",
        "latest_off": "Last day open",
        "wait_gain_lb_day": "Gain while waiting",
        "wait_cost_head_day": "Feed cost while waiting",
        "slump_lb": "Lost after weaning",
        "gain_sd_lb_day": "Spread of the gain",
        "pens_head": "Room in the pens",
        "pasture": "Pasture",
        "ration": "Ration",
        "phases": "Phases",
        "shrink_pct": "Shrink",
        "death_loss_pct": "Death loss",
        "death_sd_pct": "Spread of the death loss",
        "health_head": "Health",
        "mineral_head_day": "Mineral and salt",
        "labor_head_day": "Labor",
        "yardage_head_day": "Yardage",
        "fuel_head_day": "Fuel and equipment",
        "other_head": "Other, once",
        "other_head_day": "Other, by the day",
    },
    Pasture: {
        "kind": "Kind of forage",
        "forage_lb_acre": "Forage grown",
        "utilization_pct": "Share eaten",
        "intake_pct": "Eaten a day, percent",
        "acres": "Acres at hand",
        "cost_acre": "Whole cost of an acre",
        "rent_acre": "Rent",
        "seed_acre": "Seed",
        "fertilizer_acre": "Fertilizer",
        "establishment_acre": "Tillage and planting",
        "fence_acre": "Fence",
        "water_acre": "Water",
        "other_acre": "Other pasture cost",
        "intake_lb_day": "Eaten a day, pounds",
        "forage_sd_pct": "Spread of the yield",
        "alternative_acre": "Worth in other use",
    },
    Feed: {
        "name": "Feed",
        "lb_day": "Fed a day",
        "price_ton": "Price a ton",
        "waste_pct": "Waste",
        "kind": "Kind of forage",
        "dry_matter_pct": "Dry matter",
        "nem_mcal_lb": "Energy for maintenance",
        "neg_mcal_lb": "Energy for gain",
    },
    Phase: {
        "name": "Name",
        "days": "Days",
        "gain_lb_day": "Daily gain",
        "cost_head_day": "Feed or yard cost a day",
        "pasture": "Pasture",
        "ration": "Ration",
    },
    Selling: {
        "commission_pct": "Commission",
        "commission_head": "Commission, by the head",
        "yardage_head": "Yardage at the market",
        "checkoff_head": "Checkoff",
        "freight_head": "Freight, by the head",
        "freight_loaded_mile": "Freight of a load",
        "miles": "Miles to market",
        "load_lb": "Weight of a full load",
        "shrink_pct": "Shrink",
        "hours_hauled": "Hours on the truck",
        "pencil_shrink_pct": "Pencil shrink",
        "insurance_head": "Insurance",
        "contract": "Forward contract",
        "floor": "Price floor",
    },
    Contract: {
        "price_cwt": "Contract price",
        "base_weight_lb": "Base weight",
        "slide_cwt": "Slide",
        "window_lb": "Pounds free of slide",
        "two_way": "Lighter calves bring more too",
        "months": "Months of delivery",
        "groups": "Groups under contract",
    },
    Floor: {"floor_cwt": "Floor", "cost_cwt": "Cost of the floor"},
    Finance: {"interest_pct": "Interest"},
    Risk: {
        "loss_head": "A big loss",
        "draws": "Draws",
        "seed": "Start of the draws",
        "gain_forage_corr": "Gain goes with forage",
        "vary": "What is drawn",
        "beyond_data": "Allow weights outside the records",
        "unseen_months": "Allow months without a sale",
    },
}
SHOWN: dict[type[TomlTable], tuple[str, ...]] = {
    Plan: ("title",),
    Dates: ("weaning", "first_sale", "last_sale", "sale_day"),
    Group: ("name", "sex", "head", "weight_lb", "bid_cwt"),
    Forward: ("month", "weight_lb", "price_cwt", "name"),
    Program: (
        "name", "gain_lb_day", "cost_head_day", "earliest_on", "latest_off", "death_loss_pct", "health_head",
        "mineral_head_day", "labor_head_day", "yardage_head_day",
    ),
    Pasture: ("kind", "forage_lb_acre", "utilization_pct", "intake_pct", "acres", "cost_acre"),
    Feed: ("name", "lb_day", "price_ton", "waste_pct"),
    Phase: ("name", "days", "gain_lb_day", "cost_head_day"),
    Selling: ("commission_pct", "yardage_head", "checkoff_head", "freight_loaded_mile", "miles", "shrink_pct"),
    Contract: ("price_cwt", "base_weight_lb", "slide_cwt", "window_lb"),
    Floor: ("floor_cwt", "cost_cwt"),
    Finance: ("interest_pct",),
    Risk: ("loss_head",),
}  # fmt: skip
PROGRAM_COSTS = frozenset(
    {
        "death_loss_pct", "death_sd_pct", "health_head", "mineral_head_day", "labor_head_day",
        "yardage_head_day", "fuel_head_day", "other_head", "other_head_day", "shrink_pct",
    }
)  # fmt: skip
"""Fields of a way to keep calves that stand among the costs, not with the feed."""

NEW_NAMES = {
    "groups": "Group", "forward": "Forward price", "programs": "Way", "ration": "Feed", "phases": "Phase",
}  # fmt: skip
"""What a new table of a list is called until the user names it."""

CHOICE_WORDS = {
    "L": "L: large", "ML": "ML: medium and large", "M": "M: medium", "MS": "MS: medium and small", "S": "S: small",
    "": "not said",
}  # fmt: skip


Kind = Literal[
    "table", "tables", "choice", "flag", "date", "month", "number", "whole", "texts", "items", "text"
]
Values = dict[str, str]
MOST_ITEMS = 40
MOST_VALUES = 1500
NAME = re.compile(r"[a-z_]+(?:\.(?:\d{1,3}|[a-z_]+)){0,8}")


def bare(annotation: Any) -> Any:
    """Return an annotation without its ``None``."""
    if typing.get_origin(annotation) in (types.UnionType, typing.Union):
        parts = [part for part in typing.get_args(annotation) if part is not type(None)]
        return parts[0]
    return annotation


def kind_of(table: type[TomlTable], name: str) -> Kind:
    """Return how a field of the plan is filled in."""
    info = table.model_fields[name]
    annotation = bare(info.annotation)
    many = typing.get_origin(annotation) is tuple
    if table_class(annotation) is not None:
        return "tables" if many else "table"
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    if many:
        return "texts" if str(extra.get("unit", "")) in ("list of lb", "list of YYYY-MM") else "items"
    if typing.get_origin(annotation) is Literal:
        return "choice"
    plain: dict[Any, Kind] = {bool: "flag", date: "date", float: "number", int: "whole"}
    if annotation in plain:
        return plain[annotation]
    return "month" if extra.get("unit") == "YYYY-MM" else "text"


def field_at(path: list[str]) -> tuple[type[TomlTable], str] | None:
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
        if kind == "tables" and (not parts or not parts.pop(0).isdigit()):
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
        if text.strip() and NAME.fullmatch(name) and field_at(name.split(".")) is not None
    ]
    places: dict[tuple[str, ...], list[int]] = {}
    for path, _ in kept:
        for at, part in enumerate(path):
            if part.isdigit():
                seen = places.setdefault(tuple(path[:at]), [])
                if int(part) not in seen:
                    seen.append(int(part))
    out: Values = {}
    for path, text in kept:
        renumbered = [
            str(sorted(places[tuple(path[:at])]).index(int(part))) if part.isdigit() else part
            for at, part in enumerate(path)
        ]
        if all(int(part) < MOST_ITEMS for part in renumbered if part.isdigit()):
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
    if kind == "texts":
        return [number(part) for part in re.split(r"[;,\s]+", text) if part]
    return text


def number(text: str) -> int | float | str:
    """Return a number that a person typed, or the text when it is none.

    >>> number("$1,250.50"), number("46"), number("3 %"), number("about 5")
    (1250.5, 46, 3, 'about 5')
    """
    plain = re.sub(r"^\$|\s*%$", "", re.sub(r"(?<=\d),(?=\d{3}\b)", "", text.strip())).strip()
    if re.fullmatch(r"[+-]?\d{1,15}", plain):
        return int(plain)
    if re.fullmatch(r"[+-]?(\d{1,15}(\.\d{0,15})?|\.\d{1,15})", plain):
        return float(plain)
    return text


def raw_of(values: Values) -> dict[str, Any]:
    """Return filled fields as the nested tables that a plan is checked from."""
    raw: dict[str, Any] = {}
    for name, text in values.items():
        path = name.split(".")
        found = field_at(path)
        if found is None:
            continue
        here: Any = raw
        for part, following in pairwise(path):
            empty: Any = [] if following.isdigit() else {}
            if part.isdigit():
                while len(here) <= int(part):
                    here.append({})
                here = here[int(part)]
            else:
                here = here.setdefault(part, empty)
        here[path[-1]] = typed(kind_of(*found), text)
    return raw


def plan_of(values: Values) -> Plan:
    """Return the plan of filled fields.

    Raises
    ------
    PlanError
        Every problem found.
    """
    return build_plan(raw_of(values))


def text_of(value: Any) -> str:
    """Return a plan's value as the form holds it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return "; ".join(text_of(item) for item in value)
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
    if last not in NEW_NAMES or field_at([*path.split("."), "0", "name"]) is None:
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
