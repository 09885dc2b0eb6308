"""The fields of a plan's table that declared costs make."""

from __future__ import annotations

from typing import Any

from pydantic import create_model

from slidefit.plan.costs import Cost
from slidefit.toml_tables import TomlTable, entry


def cost_fields(name: str, costs: tuple[Cost, ...]) -> Any:
    """Return a table with a field for each cost, to be the base of a plan's own."""
    fields: dict[str, Any] = {
        each.key: (
            float,
            entry(
                each.default, unit=each.unit, meaning=each.meaning, low=0, high=each.high, source=each.source
            ),
        )
        for each in costs
    }
    return create_model(name, __base__=TomlTable, **fields)
