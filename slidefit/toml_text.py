"""Values as TOML writes them."""

from __future__ import annotations

import json
from datetime import date
from typing import Any


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
