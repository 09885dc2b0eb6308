"""What the fields of a plan are declared with: the tables of any hand-written file, and the month of a sale."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from pydantic import BeforeValidator

from slidefit.toml_faults import Problem
from slidefit.toml_lines import Where
from slidefit.toml_tables import FieldCard, card_of, cards, entry
from slidefit.toml_tables import TomlTable as PlanTable

__all__ = ["FieldCard", "Month", "PlanTable", "Problem", "Where", "card_of", "cards", "check_month", "entry"]


def check_month(value: Any) -> Any:
    """Return ``YYYY-MM`` for a date or such a text, and refuse anything else."""
    text = value.strftime("%Y-%m") if isinstance(value, date) else value
    try:
        date.fromisoformat(f"{text}-01")
    except ValueError:
        raise ValueError("must be a year and month in quotes, such as '2026-11'") from None
    return text


Month = Annotated[str, BeforeValidator(check_month)]
