"""The quick question as a form and an address: what may be typed in it, and the plan that it grows into."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from slidefit.errors import SlidefitError
from slidefit.plan.costs import KEEPING_COSTS
from slidefit.plan.quick_fields import BY_NAME
from slidefit.plan.typed_numbers import number_of

EITHER = {
    "growth": (("gain_lb_day", "Gain a day", "lb"), ("to_weight_lb", "Weight at sale", "lb")),
    "later": (("later_price_cwt", "Price then", "$/cwt"), ("slide_pct", "Slide", "% per 100 lb")),
}
"""Fields that stand for one of two things, with the label and unit of each; the first is the usual one."""
UNITS = {
    "weight_lb": "lb", "price_cwt": "$/cwt", "days": "days", "cost_head_day": "$", "head": "head",
    "later_weight_lb": "lb",
}  # fmt: skip
TITLES = {
    "weight_lb": "Weight today",
    "price_cwt": "Price today",
    "days": "Keep them",
    "cost_head_day": "Cost a day, all in",
    "head": "How many",
    "later_weight_lb": "That price is for",
}
SPOKEN = {
    "lb": "pounds",
    "$/cwt": "dollars a hundredweight",
    "$": "dollars a head",
    "% per 100 lb": "percent",
}
COSTS = (
    *(each.key for each in KEEPING_COSTS), "death_loss_pct", "shrink_pct", "commission_pct", "selling_head",
    "interest_pct",
)  # fmt: skip
PASTURE = ("acre_cost", "forage_lb_acre", "eaten_pct", "intake_pct")
ACROSS = (
    "later_price_cwt",
    "price_cwt",
    "gain_lb_day",
    "cost_head_day",
    "days",
    "slide_pct",
    "death_loss_pct",
)
STEPS = {
    "later_price_cwt": 10.0, "price_cwt": 10.0, "gain_lb_day": 0.2, "cost_head_day": 0.25, "days": 15.0,
    "slide_pct": 2.0, "death_loss_pct": 1.0,
}  # fmt: skip
MOST_HEAD = 100_000.0
SEXES = ("steer", "heifer", "bull")
SALE_DAY_LATEST = 28


@dataclass(frozen=True)
class Typed:
    """What an address holds of the quick question.

    Attributes
    ----------
    texts : mapping of field to what was typed
    asked : dict of field to number
        As `decision.quick` takes them.
    faults : dict of field to what is wrong
    head : float or None
    growth, later : str
        Which of the two fields was chosen.
    """

    texts: Mapping[str, str]
    asked: dict[str, float]
    faults: dict[str, str]
    head: float | None
    growth: str
    later: str
    sex: str
    filled: dict[str, str] = field(default_factory=dict)


def typed_of(query: Mapping[str, str]) -> Typed:
    """Return what an address holds; texts that are no numbers are faults."""
    asked: dict[str, float] = {}
    faults: dict[str, str] = {}
    chosen = {
        name: query.get(f"{name}_as", "")
        if query.get(f"{name}_as", "") in [each[0] for each in ways]
        else ways[0][0]
        for name, ways in EITHER.items()
    }
    places = {**{name: name for name in BY_NAME}, **chosen}
    for place, name in places.items():
        text = query.get(place, "").strip()
        if not text:
            continue
        value = number_of(text)
        if value is None:
            faults[place] = f"{text!r} is not a number. Write it like 540 or 1.9."
        else:
            asked[name] = value
            faults |= _beyond(place, name, value)
    head = number_of(query.get("head", "")) if query.get("head", "").strip() else None
    if query.get("head", "").strip() and not (head and 0 < head <= MOST_HEAD):
        faults["head"], head = "How many head? Give 1 to 100,000.", None
    sex = query.get("sex", "")
    return Typed(
        query, asked, faults, head, chosen["growth"], chosen["later"], sex if sex in SEXES else SEXES[0]
    )


def _beyond(place: str, name: str, value: float) -> dict[str, str]:
    each = BY_NAME[name]
    if each.low <= value <= each.high:
        return {}
    return {
        place: f"{value:g} is too {'low' if value < each.low else 'high'}: {each.low:g} to {each.high:g}."
    }


def place_of(fault: SlidefitError, typed: Typed) -> str:
    """Return the form's field that a fault of the question belongs to."""
    name = (str(fault.path[0]) if fault.path else fault.where).split(" or ")[0]
    if name in ("gain_lb_day", "to_weight_lb"):
        return "growth"
    if name in ("later_price_cwt", "slide_pct"):
        return "later"
    return name if name in TITLES or name in BY_NAME else ""


def sale_weight_of(asked: Mapping[str, float]) -> float | None:
    """Return the weight at sale that a question says or implies [lb]; None where it does neither."""
    if "to_weight_lb" in asked:
        return asked["to_weight_lb"]
    if all(name in asked for name in ("weight_lb", "gain_lb_day", "days")):
        return asked["weight_lb"] + asked["gain_lb_day"] * asked["days"]
    return None


def whole_plan(typed: Typed, today: date, *, from_prices: bool) -> dict[str, str]:
    """Return the plan that a quick question grows into, as the flat names and texts of its form.

    Parameters
    ----------
    from_prices : bool
        Prices come from records or a region: what was typed becomes a bid and a forward price; else all are typed.
    """
    asked = typed.asked
    days = int(asked.get("days", 0))
    sale = today + timedelta(days=days)
    out: dict[str, str] = {
        "groups.0.name": "My calves",
        "groups.0.sex": typed.sex,
        "groups.0.head": f"{typed.head or 1:g}",
        "programs.0.name": "Keep them",
        "dates.weaning": today.isoformat(),
        "dates.sales": f"{sale:%Y-%m}",
        "dates.sale_day": str(min(sale.day, SALE_DAY_LATEST)),
    }

    def put(name: str, value: float | None) -> None:
        if value is not None:
            out[name] = f"{value:.10g}"

    put("groups.0.weight_lb", asked.get("weight_lb"))
    later_lb = asked.get("later_weight_lb", sale_weight_of(asked))
    gain = asked.get("gain_lb_day")
    if gain is None and later_lb is not None and days and "weight_lb" in asked:
        gain = (asked.get("to_weight_lb", later_lb) - asked["weight_lb"]) / days
    put("programs.0.gain_lb_day", gain)
    pasture = "forage_lb_acre" in asked
    put("programs.0.cost_head_day", asked.get("cost_head_day", None if pasture else 0.0))
    for name in (*(each.key for each in KEEPING_COSTS), "death_loss_pct"):
        put(f"programs.0.{name}", asked.get(name))
    pairs = {
        "acre_cost": "cost_acre", "forage_lb_acre": "forage_lb_acre", "eaten_pct": "utilization_pct",
        "intake_pct": "intake_pct", "intake_lb_day": "intake_lb_day",
    }  # fmt: skip
    for name, key in pairs.items() if pasture else ():
        put(f"programs.0.pasture.{key}", asked.get(name))
    put("selling.shrink_pct", asked.get("shrink_pct"))
    put("selling.commission_pct", asked.get("commission_pct"))
    put("selling.yardage_head", asked.get("selling_head"))
    put("money.interest_pct", asked.get("interest_pct"))
    later = asked.get("later_price_cwt")
    if from_prices:
        if "price_cwt" not in typed.filled:
            put("groups.0.bid_cwt", asked.get("price_cwt"))
        if later is not None and "later" not in typed.filled:
            out["groups.0.forward.0.month"] = f"{sale:%Y-%m}"
            out["groups.0.forward.0.name"] = "typed"
            put("groups.0.forward.0.weight_lb", later_lb)
            put("groups.0.forward.0.price_cwt", later)
        return out
    out["prices.as_of"] = today.isoformat()
    put("prices.weight_lb", asked.get("weight_lb"))
    put("prices.price_cwt", asked.get("price_cwt"))
    if "slide_pct" in asked:
        put("prices.slide_pct", asked["slide_pct"])
    elif later is not None:
        out["prices.later_month"] = f"{sale:%Y-%m}"
        put("prices.later_weight_lb", later_lb)
        put("prices.later_price_cwt", later)
    return out
