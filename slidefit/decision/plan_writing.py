"""A plan as TOML text that reads back to the same plan."""

from __future__ import annotations

from typing import Any

from slidefit.decision.plan import Plan
from slidefit.toml_text import toml_value


def is_tables(value: Any) -> bool:
    """Return whether a value is a list of tables."""
    return isinstance(value, (list, tuple)) and bool(value) and isinstance(value[0], dict)


def table_lines(table: dict[str, Any], path: str) -> list[str]:
    """Return the lines of a table: its own keys, then the tables inside it."""
    inner = {key: value for key, value in table.items() if isinstance(value, dict) or is_tables(value)}
    lines = [f"{key} = {toml_value(value)}" for key, value in table.items() if key not in inner]
    for key, value in inner.items():
        name = f"{path}.{key}" if path else key
        for item in value if is_tables(value) else [value]:
            header = f"[[{name}]]" if is_tables(value) else f"[{name}]"
            lines += ["", header, *table_lines(item, name)]
    return lines


def write_plan(plan: Plan) -> str:
    """Return a plan as TOML: what was given, without the defaults that were not."""
    given = plan.model_dump(exclude_unset=True, exclude_none=True)
    return "\n".join(table_lines(given, "")).lstrip("\n") + "\n"
