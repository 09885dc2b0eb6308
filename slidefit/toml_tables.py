"""Tables of a hand-written file: field, unit, meaning, limits; Month; values written back as TOML.

The checks, the hints, the pages of documentation and any form are made from these declarations.
"""

from __future__ import annotations

import json
import re
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, field_validator
from pydantic.fields import FieldInfo

from slidefit.toml_faults import Problem, Where, suggest_key


class TomlTable(BaseModel):
    """A table of a hand-written file: unknown keys and numbers that are not finite are refused; it never changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)

    @field_validator("*", mode="after")
    @classmethod
    def refuse_fractions(cls, value: Any, info: ValidationInfo) -> Any:
        """Refuse a number that is only plausible as a fraction of what was asked for."""
        smallest = card_of(info.field_name or "", cls.model_fields[info.field_name or ""]).smallest
        if smallest is not None and isinstance(value, float) and 0.0 < value < smallest:
            raise ValueError(
                f"is {value:g}; percentages are in percent, so {value * 100:g} percent is {value * 100:g}"
            )
        return value

    def problems(self) -> Iterator[Problem]:
        """Yield what is wrong between fields that are each right by themselves."""
        yield from ()


def entry(
    default: Any = ...,
    *,
    unit: str = "",
    meaning: str,
    low: float | None = None,
    high: float | None = None,
    smallest: float | None = None,
    source: str = "",
) -> Any:
    """Declare a field of a table.

    Parameters
    ----------
    default
        Taken when the field is missing; leave it out for a field that must be given.
    unit, meaning : str
    low, high : float, optional
        Limits, both allowed.
    smallest : float, optional
        Values above zero and below this are refused: as a rule a fraction given for a percentage.
    source : str
        Where the default comes from.
    """
    extra: dict[str, Any] = {"unit": unit, "source": source}
    if smallest is not None:
        extra["smallest"] = smallest
    limits: dict[str, Any] = {name: value for name, value in (("ge", low), ("le", high)) if value is not None}
    return Field(default, description=meaning, json_schema_extra=extra, **limits)


@dataclass(frozen=True)
class FieldCard:
    """A declared field as its readers see it."""

    name: str
    unit: str
    meaning: str
    required: bool
    default: Any
    low: float | None
    high: float | None
    smallest: float | None
    source: str


def limit_of(info: FieldInfo, name: str) -> float | None:
    """Return the ``ge`` or ``le`` limit of a field, or None."""
    for rule in info.metadata:
        found = getattr(rule, name, None)
        if found is not None:
            return float(found)
    return None


def card_of(name: str, info: FieldInfo) -> FieldCard:
    """Return the card of one field."""
    extra = info.json_schema_extra if isinstance(info.json_schema_extra, dict) else {}
    smallest = extra.get("smallest")
    return FieldCard(
        name=name,
        unit=str(extra.get("unit", "")),
        meaning=info.description or "",
        required=info.is_required(),
        default=None if info.is_required() else info.default,
        low=limit_of(info, "ge"),
        high=limit_of(info, "le"),
        smallest=float(smallest) if isinstance(smallest, (int, float)) else None,
        source=str(extra.get("source", "")),
    )


def default_text(card: FieldCard) -> str:
    """Return a default as the page shows it."""
    if card.required:
        return "must be given"
    if isinstance(card.default, TomlTable):
        return "its own defaults"
    if card.default in (None, "", ()):
        return "none"
    if isinstance(card.default, bool):
        return "true" if card.default else "false"
    if isinstance(card.default, tuple):
        return ", ".join(f"{item}" for item in card.default)
    return f"{card.default:,g}" if isinstance(card.default, float) else f"{card.default}"


def limits_of(card: FieldCard) -> str:
    """Return the limits of a field as the page shows them."""
    if card.low is None or card.high is None:
        return "" if card.low is None else f"{card.low:,.10g} or more"
    text = f"{card.low:,.10g} to {card.high:,.10g}"
    return f"{text}; not between 0 and {card.smallest:g}" if card.smallest else text


def cards(table: type[TomlTable]) -> Iterator[FieldCard]:
    """Yield the card of every field of a table, in the order of their declaration."""
    for name, info in table.model_fields.items():
        yield card_of(name, info)


def table_class(annotation: Any) -> type[TomlTable] | None:
    """Return the table inside an annotation such as ``tuple[Feed, ...]`` or ``Pasture | None``."""
    if isinstance(annotation, type) and issubclass(annotation, TomlTable):
        return annotation
    if isinstance(annotation, types.UnionType) or typing.get_origin(annotation) in (
        tuple,
        dict,
        typing.Union,
    ):
        for part in typing.get_args(annotation):
            found = table_class(part)
            if found is not None:
                return found
    return None


def table_at(where: Where, root: type[TomlTable]) -> type[TomlTable]:
    """Return the class of the table that holds the last key of ``where``; ``root`` is that of the whole file."""
    table = root
    for key in where[:-1]:
        if isinstance(key, str) and key in table.model_fields:
            table = table_class(table.model_fields[key].annotation) or table
    return table


def limits_text(card: FieldCard) -> str:
    """Return the limits of a field in words, such as ``150 to 1,400 lb``."""
    unit = f" {card.unit}" if card.unit else ""
    if card.low is not None and card.high is not None:
        return f"{card.low:,g} to {card.high:,g}{unit}"
    return f"{card.low:,g} or more{unit}" if card.low is not None else f"at most {card.high:,g}{unit}"


def unit_hint(value: Any, card: FieldCard) -> str:
    """Return what a number out of its limits may have been meant as; empty when nothing fits."""
    if not isinstance(value, (int, float)) or card.low is None or card.high is None:
        return ""
    if value < 0 <= card.low:
        return "It can't be negative."
    fits = card.low <= value * 100 <= card.high
    if fits and card.unit == "lb":
        return f"Give pounds, not hundredweight: {value:g} cwt is {value * 100:g} lb."
    if fits and card.unit == "$/cwt":
        return f"Give dollars per hundredweight: ${value:g} a pound is {value * 100:g}."
    if card.unit == "$/cwt" and value > card.high:
        return "Give dollars per hundredweight, not dollars per head or cents."
    return ""


SHAPES = {
    "tuple": ("a list", "Write a list as [1, 2]; tables as [[{key}]] in double brackets, one for each."),
    "model": ("a table", "Write [{key}] on a line of its own, and its fields below it."),
    "string": ("text", "Put it in quotes."),
    "date": ("a date", "Write year-month-day without quotes, such as 2026-10-14."),
    "bool": ("true or false", ""),
}
"""What a value of the wrong shape must be, and how to write it, by the kind of fault."""


def problem_of(error: Any, root: type[TomlTable], kind_of_file: str) -> Problem:
    """Return one fault found by the field checks, in the user's words; ``kind_of_file`` such as ``plan``."""
    where: Where = tuple(error["loc"])
    table = table_at(where, root)
    key = next((part for part in reversed(where) if isinstance(part, str)), "")
    kind, value = error["type"], error["input"]
    if kind == "extra_forbidden":
        return where, f"is not a field of the {kind_of_file}", suggest_key(key, list(table.model_fields))
    card = card_of(key, table.model_fields[key]) if key in table.model_fields else None
    if kind == "missing":
        unit = f" [{card.unit}]" if card and card.unit else ""
        meaning = card.meaning if card else ""
        return where, "is missing", f"Add {key}{unit}: {meaning}"
    limited = card is not None and not (card.low is None and card.high is None)
    if kind in ("greater_than_equal", "less_than_equal") and card is not None and limited:
        return where, f"is {value!r}; it must be {limits_text(card)}", unit_hint(value, card)
    if kind == "literal_error":
        return where, f"is {value!r}", f"Use one of: {error['ctx']['expected']}."
    if kind == "value_error":
        return where, str(error["ctx"]["error"]), ""
    shape = SHAPES.get(kind.split("_from_")[0].removesuffix("_parsing").removesuffix("_type"))
    if shape is not None:
        what, remedy = shape
        return where, f"is {shown(value)}; it must be {what}", remedy.format(key=key)
    said = error["msg"][:1].lower() + error["msg"][1:]
    unit = f" Unit: {card.unit}." if card and card.unit else ""
    return where, f"is {shown(value)}; {said}", unit.strip()


def shown(value: Any) -> str:
    """Return a value as a message shows it; whole tables and lists are only named."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, date):
        return value.isoformat()
    return "a list" if isinstance(value, list) else repr(value)


def toml_value(value: Any) -> str:
    """Return one value in TOML.

    >>> toml_value([1.5, True, "a \\"b\\""])
    '[1.5, true, "a \\\\"b\\\\""]'
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    return repr(value)


def check_month(value: Any) -> Any:
    """Return ``YYYY-MM`` for a date or such a text, and refuse anything else."""
    text = value.strftime("%Y-%m") if isinstance(value, date) else value
    try:
        date.fromisoformat(f"{text}-01")
    except ValueError:
        raise ValueError("must be a year and month in quotes, such as '2026-11'") from None
    return text


Month = Annotated[str, BeforeValidator(check_month)]


_KEY_LINE = re.compile(r'^\s*("[^"]*"|[\w-]+)\s*=')
_HEADING = re.compile(r"^\s*\[([^\]]+)\]")
# a comment after a value: outside of quotes
_TRAILING = re.compile(r'^(?:[^"#]|"[^"]*")*(#.*)$')


def with_comments(text: str, before: str) -> str:
    """Return a file's new text with the comments that somebody wrote into the old one.

    Comments on lines of their own go above the line that they stood above, those after a value after the new value.

    >>> print(with_comments("[noise]\\nlot_pct = 4.0\\n", "[noise]\\n# ours\\nlot_pct = 3.0  # checked\\n"))
    [noise]
    # ours
    lot_pct = 4.0  # checked
    <BLANKLINE>
    """
    own = {line.strip() for line in text.splitlines() if line.lstrip().startswith("#")}
    above: dict[tuple[str, str], list[str]] = {}
    after: dict[tuple[str, str], str] = {}
    waiting: list[str] = []
    for place, line in _placed(before):
        if line.lstrip().startswith("#"):
            waiting += [line] if line.strip() not in own else []
        elif place is not None:
            if waiting:
                above[place], waiting = waiting, []
            comment = _TRAILING.match(line)
            if place[1] and comment:
                after[place] = comment[1]
    out: list[str] = []
    for place, line in _placed(text):
        if place is not None:
            out += above.get(place, [])
            line = f"{line}  {after[place]}" if place in after else line
        out.append(line)
    return "\n".join([*out, *waiting]) + ("\n" if text.endswith("\n") else "")


def _placed(text: str) -> Iterator[tuple[tuple[str, str] | None, str]]:
    """Yield each line with its table and key; a heading has no key, other lines no place."""
    table = ""
    for line in text.splitlines():
        heading, key = _HEADING.match(line), _KEY_LINE.match(line)
        if heading and not line.lstrip().startswith("#"):
            table = heading[1]
            yield (table, ""), line
        else:
            yield ((table, key[1]) if key and not line.lstrip().startswith("#") else None), line
