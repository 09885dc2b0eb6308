"""A plan as TOML text that reads back to the same plan."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

from slidefit.decision.plan import Plan


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
