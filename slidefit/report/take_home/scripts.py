"""JavaScript that answers where it is typed, generated from the declared budget."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from pathlib import Path

BROWSER = Path(__file__).parent / "browser"
SHAPES = {
    "budget_daily": {},
    "budget_pounds": {"intake_lb_day": 1.0},
    "budget_by_weight": {"intake_pct": 1.0},
}
"""The generated functions, and a question of each shape: no pasture, intake as pounds, intake as percent."""


@cache
def quick_script() -> str:
    """Return the JavaScript of the quick question: `quick.answer(asked)` gives what `quick_answer` gives.

    Notes
    -----
    It defines the global ``quick`` with number, faults, answer, grid, withValues; ``QUICK_FIELDS`` are the fields of
    the form. Needs no network, no other file, no ``eval``.
    """
    from slidefit.decision.quick import EVEN_AT, quick_budget
    from slidefit.plan.quick_fields import QUICK_FIELDS

    fields = json.dumps([asdict(field) for field in QUICK_FIELDS])
    parts = [quick_budget(question).javascript(name) for name, question in SHAPES.items()]
    parts.append(f"const QUICK_FIELDS = {fields};\nconst QUICK_LIMITS = {json.dumps(EVEN_AT)};")
    return "\n".join([*parts, script("quick.js")])


def script(name: str) -> str:
    """Return the text of one of our scripts."""
    return (BROWSER / name).read_text(encoding="utf-8")
