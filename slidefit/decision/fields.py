"""How a field of the plan is declared: its unit, meaning, default and limits, once, for every reader.

The checks, the hints, docs/plan.md and any form are made from these declarations.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, field_validator
from pydantic.fields import FieldInfo

from slidefit.toml_faults import Problem as Problem
from slidefit.toml_lines import Where as Where


def check_month(value: Any) -> Any:
    """Return ``YYYY-MM`` for a date or such a text, and refuse anything else."""
    text = value.strftime("%Y-%m") if isinstance(value, date) else value
    try:
        date.fromisoformat(f"{text}-01")
    except ValueError:
        raise ValueError("must be a year and month in quotes, such as '2026-11'") from None
    return text


Month = Annotated[str, BeforeValidator(check_month)]


class PlanTable(BaseModel):
    """A table of the plan: unknown keys and numbers that are not finite are refused; it never changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

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
    """Declare a field of the plan.

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


def cards(table: type[PlanTable]) -> Iterator[FieldCard]:
    """Yield the card of every field of a table, in the order of their declaration."""
    for name, info in table.model_fields.items():
        yield card_of(name, info)
