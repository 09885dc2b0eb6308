"""What the quick question can be told: each field declared once, for the command, the page and the checks."""

from __future__ import annotations

from dataclasses import dataclass

from slidefit.plan.costs import KEEPING_COSTS


@dataclass(frozen=True)
class QuickField:
    """One thing that the quick question can be told; both limits are allowed.

    ``key`` is its input in the budget; empty where it stands for several.
    """

    name: str
    label: str
    unit: str
    low: float
    high: float
    needed: bool = False
    key: str = ""


QUICK_FIELDS: tuple[QuickField, ...] = (
    QuickField("weight_lb", "weight today", "lb", 150, 1400, True, "start_lb"),
    QuickField("price_cwt", "price today", "$/cwt", 30, 1200, True, "start_price_cwt"),
    QuickField("days", "days kept", "days", 1, 730, True, "days"),
    QuickField("to_weight_lb", "weight at sale", "lb", 150, 1600),
    QuickField("gain_lb_day", "daily gain", "lb/day", -2, 8),
    QuickField("later_price_cwt", "price later", "$/cwt", 30, 1200),
    QuickField("later_weight_lb", "weight that the later price is for", "lb", 150, 1600),
    QuickField("slide_pct", "slide", "percent per cwt", -30, 40),
    QuickField("cost_head_day", "cost a day, all told", "$/head-day", 0, 30, key="cost_head_day"),
    *(QuickField(each.key, each.label, each.unit, 0, each.high, key=each.key) for each in KEEPING_COSTS),
    QuickField("death_loss_pct", "death loss", "percent", 0, 50, key="death_loss_pct"),
    QuickField("shrink_pct", "shrink, today and later", "percent", 0, 20),
    QuickField("commission_pct", "commission", "percent of the check", 0, 20, key="commission_pct"),
    QuickField("selling_head", "other selling costs, a head", "$/head", 0, 300, key="yardage_head"),
    QuickField("interest_pct", "interest", "percent a year", 0, 40, key="interest_pct"),
    QuickField("acre_cost", "cost of an acre", "$/acre", 0, 3000, key="cost_acre"),
    QuickField("forage_lb_acre", "forage grown", "lb dry matter/acre", 100, 30_000, key="forage_lb_acre"),
    QuickField("eaten_pct", "share eaten", "percent", 1, 100, key="eaten_pct"),
    QuickField("intake_lb_day", "eaten a day", "lb dry matter/day", 2, 60, key="intake_lb_day"),
    QuickField("intake_pct", "intake", "percent of body weight", 0.5, 6, key="intake_pct"),
)
BY_NAME = {each.name: each for each in QUICK_FIELDS}
