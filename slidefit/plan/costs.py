"""The costs of a plan, each declared once: plan fields, budget lines, cash needs and forms are made from these rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Cost:
    """A cost of keeping or selling a calf: the plan's field, and its line in a budget.

    ``high`` is the most that a plan may say; ``per`` a day kept, a head started, or a head sold (now or later);
    ``source`` tells where the default comes from.
    """

    key: str
    label: str
    unit: str
    meaning: str
    high: float
    per: Literal["day", "head", "sold"]
    default: float = 0.0
    source: str = ""


KEEPING_COSTS = (
    Cost("health_head", "health", "$/head", "Vaccines, medicine, processing.", 500, "head"),
    Cost("other_head", "other, once", "$/head", "Any other cost, once.", 2000, "head"),
    Cost("mineral_head_day", "mineral", "$/head-day", "Mineral and salt.", 5, "day"),
    Cost("labor_head_day", "labor", "$/head-day", "Labor.", 10, "day"),
    Cost("yardage_head_day", "yardage", "$/head-day", "Yardage.", 10, "day"),
    Cost("fuel_head_day", "fuel and equipment", "$/head-day", "Fuel and equipment.", 10, "day"),
    Cost("other_head_day", "other, by the day", "$/head-day", "Any other cost a day.", 20, "day"),
)
SELLING_COSTS = (
    Cost("yardage_head", "yardage at the market", "$/head", "Yardage and feed at the market.", 100, "sold"),
    Cost(
        "checkoff_head",
        "checkoff",
        "$/head",
        "Beef checkoff, with any state checkoff added.",
        10,
        "sold",
        1.0,
        "7 CFR 1260.310",
    ),
    Cost("insurance_head", "insurance", "$/head", "Insurance until sold.", 50, "sold"),
    Cost("freight_head", "freight", "$/head", "Freight by the head.", 300, "sold"),
)
