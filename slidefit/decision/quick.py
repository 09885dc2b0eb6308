"""The quick question: two prices (or one and a slide), a weight, days and what they cost; no records, no plan.

Everything is read from the same budget as a whole plan's (`budget.lines`). Costs that are not given are zero, and
named.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from slidefit.decision.budget.even import even_at
from slidefit.decision.budget.lines import budget_of
from slidefit.decision.budget.sale import BudgetShape, StretchShape
from slidefit.decision.budget.table import Budget
from slidefit.errors import SlidefitError
from slidefit.plan.quick_fields import BY_NAME, QUICK_FIELDS
from slidefit.public_result import PublicResult

LEAST_GAIN_LB = 1.0
LEAST_FOR_SLIDE_LB = 20.0
"""Two prices closer in weight than this say nothing of the slide."""
MOST_RATIO = 5.0
"""A price that changes more than this for 100 lb is no slide."""
MOST_CELLS = 2500
MISSING = "missing"
"""The code of a question that lacks a field."""
PASTURE = ("forage_lb_acre", "eaten_pct")
INTAKES = ("intake_lb_day", "intake_pct")
EVEN_AT = {
    "price_cwt": (30.0, 1200.0),
    "later_price_cwt": (1.0, 1600.0),
    "gain_lb_day": (-2.0, 8.0),
    "days": (1.0, 730.0),
    "cost_head_day": (0.0, 60.0),
    "slide_pct": (-60.0, 80.0),
    "death_loss_pct": (0.0, 99.9),
    "forage_lb_acre": (50.0, 60_000.0),
}


@dataclass(frozen=True)
class QuickGrid:
    """The gain from keeping over two inputs [$ per head]; ``gains`` has a row for each y value."""

    x: str
    y: str
    x_values: tuple[float, ...]
    y_values: tuple[float, ...]
    gains: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, repr=False)
class QuickAnswer(PublicResult):
    """What the quick question comes to.

    Attributes
    ----------
    net_now, net_later, gain_per_head : float [$ per head started]
    gain_per_acre, head_per_acre : float or None
        Without a pasture there is none.
    value_of_gain_per_lb, cost_of_gain_per_lb : float or None [$/lb]
        None where less than a pound is put on.
    slide_pct : float [percent per cwt]
        Typed, or what the two prices imply.
    breakeven, planned : mapping of field to number or None
        Where keeping comes out even, each holding when it is given in place of what was ``planned``.
    left_out : tuple of str
        Costs that were not given, taken as zero.
    values : mapping of every key of the budget to its value
    """

    net_now: float
    net_later: float
    gain_per_head: float
    gain_per_acre: float | None
    head_per_acre: float | None
    value_of_gain_per_lb: float | None
    cost_of_gain_per_lb: float | None
    slide_pct: float
    sale_lb: float
    sale_price_cwt: float
    breakeven: Mapping[str, float | None]
    planned: Mapping[str, float]
    left_out: tuple[str, ...]
    values: Mapping[str, float]
    grid: QuickGrid | None = None


def check_question(asked: Mapping[str, float]) -> None:
    """Refuse a question that can't be answered (SlidefitError, the field's name in ``where``)."""
    for name, value in asked.items():
        if name not in BY_NAME:
            raise SlidefitError(
                f"{name!r} is not a field of the quick question", remedy=f"Use: {', '.join(BY_NAME)}."
            )
        field = BY_NAME[name]
        if not field.low <= value <= field.high:
            raise SlidefitError(
                f"is {value:g}; {field.label} is {field.low:g} to {field.high:g} {field.unit}", where=name
            )
    missing = [each.name for each in QUICK_FIELDS if each.needed and each.name not in asked]
    for one, other in (("to_weight_lb", "gain_lb_day"), ("later_price_cwt", "slide_pct")):
        if one not in asked and other not in asked:
            missing.append(f"{one} or {other}")
    if missing:
        labels = [" or ".join(BY_NAME[name].label for name in each.split(" or ")) for each in missing]
        raise SlidefitError(
            f"missing: {', '.join(labels)}",
            where=missing[0],
            remedy=f"Give {', '.join(missing)}.",
            code=MISSING,
        )
    if "to_weight_lb" in asked and "gain_lb_day" in asked:
        raise SlidefitError(
            "is given beside to_weight_lb", where="gain_lb_day", remedy="Keep one of the two."
        )
    check_pasture(asked)


def check_pasture(asked: Mapping[str, float]) -> None:
    """Refuse half a pasture (SlidefitError: some of its numbers are missing, or two intakes are given)."""
    has = [name for name in ("acre_cost", *PASTURE, *INTAKES) if name in asked]
    intakes = [name for name in INTAKES if name in asked]
    lacks = [name for name in PASTURE if name not in asked] + (
        [] if intakes else ["intake_lb_day or intake_pct"]
    )
    if has and lacks:
        raise SlidefitError(
            "a pasture needs more than that", where=lacks[0], remedy=f"Give {', '.join(lacks)} too."
        )
    if len(intakes) > 1:
        raise SlidefitError(
            "is given beside intake_lb_day", where="intake_pct", remedy="Keep one of the two."
        )


def quick_budget(asked: Mapping[str, object]) -> Budget:
    """Return the budget that answers a question: with a pasture where it names one."""
    stretch = StretchShape("kept")
    if "intake_lb_day" in asked:
        stretch = StretchShape("kept", pasture="pounds")
    elif "intake_pct" in asked:
        stretch = StretchShape("kept", pasture="by weight")
    return budget_of(BudgetShape((stretch,), "typed"))


def budget_inputs(asked: Mapping[str, float]) -> dict[str, float]:
    """Return the budget's inputs for a question.

    The later price is typed for a weight, the one at sale unless told; where only a slide is typed, today's price at
    today's weight holds later too. Without a typed slide it is what the two prices imply:
    1 - (later / today)^(100 lb / difference of the weights).
    """
    start, days, price = asked["weight_lb"], asked["days"], asked["price_cwt"]
    gain = asked["gain_lb_day"] if "gain_lb_day" in asked else (asked["to_weight_lb"] - start) / days
    out = {field.key: asked[field.name] for field in QUICK_FIELDS if field.key and field.name in asked}
    shrink = asked.get("shrink_pct", 0.0)
    later, at_lb = price, start
    if "later_price_cwt" in asked:
        later, at_lb = asked["later_price_cwt"], asked.get("later_weight_lb", start + gain * days)
    slide = asked["slide_pct"] if "slide_pct" in asked else implied_slide_pct(start, price, at_lb, later)
    typed = {"later_price_cwt": later, "later_weight_lb": at_lb, "slide_pct": slide}
    return out | {"gain_lb_day": gain, "shrink_pct": shrink, "start_shrink_pct": shrink} | typed


def implied_slide_pct(from_lb: float, from_cwt: float, to_lb: float, to_cwt: float) -> float:
    """Return the slide that two prices at two weights imply [percent per cwt]; zero within 20 lb.

    >>> round(implied_slide_pct(500, 140, 600, 126), 6)
    10.0
    """
    if abs(to_lb - from_lb) < LEAST_FOR_SLIDE_LB:
        return 0.0
    ratio: float = (to_cwt / from_cwt) ** (100.0 / (to_lb - from_lb))
    return 100.0 * (1.0 - min(max(ratio, 1.0 / MOST_RATIO), MOST_RATIO))


@dataclass(frozen=True)
class Question:
    """A question with its budget, and what it says of each field that can come out even, given or implied."""

    asked: Mapping[str, float]
    budget: Budget
    values: Mapping[str, float]
    planned: Mapping[str, float]

    def with_values(self, changes: Mapping[str, float]) -> dict[str, float]:
        """Return the question with fields typed in place of what stood for them.

        A daily gain or days moved leave the later price at the weight that it was typed for; a slide stands in place of
        a later price.
        """
        asked, out = self.asked, dict(self.asked)
        if "slide_pct" in changes and "slide_pct" not in asked:
            out.pop("later_price_cwt", None)
            out.pop("later_weight_lb", None)
        moved = {"gain_lb_day", "to_weight_lb", "days", "weight_lb"} & set(changes)
        later = "later_price_cwt" in out or "later_price_cwt" in changes
        if later and (moved or "later_price_cwt" not in asked) and "later_weight_lb" not in out:
            out["later_weight_lb"] = self.values["sale_lb"]
        if "to_weight_lb" in changes:
            out.pop("gain_lb_day", None)
        elif moved & {"gain_lb_day", "days"}:
            out["gain_lb_day"] = self.planned["gain_lb_day"]
            out.pop("to_weight_lb", None)
        return out | dict(changes)

    def gain_with(self, changes: Mapping[str, float]) -> float:
        """Return the gain from keeping with fields at other values [$ per head]."""
        inputs = self.budget.with_defaults(budget_inputs(self.with_values(changes)))
        return float(self.budget.function(("gain_per_head",))(inputs, None)[0])

    def breakevens(self) -> dict[str, float | None]:
        """Return where keeping and selling come out even, one field at a time; None where nowhere in reach."""
        return {
            name: even_at(
                lambda values, name=name: [self.gain_with({name: each}) for each in values],  # type: ignore[misc]
                *EVEN_AT[name],
                planned,
            )
            for name, planned in self.planned.items()
            if name != "forage_lb_acre" or name in self.asked
        }


def question_of(asked: Mapping[str, float]) -> Question:
    """Return a question that was checked, worked out as it stands."""
    budget, inputs = quick_budget(asked), budget_inputs(asked)
    values = {key: float(each) for key, each in budget.values(inputs).items()}
    implied = {"later_price_cwt": "price_cwt", "gain_lb_day": "gain_lb_day", "slide_pct": "slide_pct"}
    planned = {
        name: values[implied[name]] if name in implied else float(asked.get(name, 0.0)) for name in EVEN_AT
    }
    return Question(asked, budget, values, planned)


def grid_of(
    asked: Mapping[str, float], x: str, x_values: Sequence[float], y: str, y_values: Sequence[float]
) -> QuickGrid:
    """Return the gain from keeping over two fields (SlidefitError for no such field, one twice, or too many cells)."""
    question = question_of(asked)
    for name, values in ((x, x_values), (y, y_values)):
        for value in (min(values), max(values)):
            check_question(question.with_values({name: value}))
    if x == y:
        raise SlidefitError(f"{x} is given twice", where="grid", remedy="Name two different fields.")
    if len(x_values) * len(y_values) > MOST_CELLS:
        raise SlidefitError(
            f"the table would have over {MOST_CELLS:,} cells", where="grid", remedy="Take larger steps."
        )
    gains = (tuple(question.gain_with({x: across, y: down}) for across in x_values) for down in y_values)
    return QuickGrid(x, y, tuple(x_values), tuple(y_values), tuple(gains))


def quick_answer(asked: Mapping[str, float], grid: QuickGrid | None = None) -> QuickAnswer:
    """Answer the quick question.

    Raises
    ------
    SlidefitError
        A field is missing, off its limits or not one of `QUICK_FIELDS`.

    Examples
    --------
    Noble Foundation, 2005: 500 lb at $140 to 600 lb at $126.

    >>> hand = {"weight_lb": 500, "price_cwt": 140, "to_weight_lb": 600, "later_price_cwt": 126, "days": 50}
    >>> answer = quick_answer(hand)
    >>> round(answer.gain_per_head, 2), round(answer.value_of_gain_per_lb, 2), round(answer.slide_pct, 2)
    (56.0, 0.56, 10.0)
    """
    check_question(asked)
    question = question_of(asked)
    values = question.values
    put_on = values["sale_lb"] - values["start_lb"]
    enough = put_on >= LEAST_GAIN_LB
    checks = values["pay_lb"] * values["price_cwt"] / 100 - values["start_check"]
    return QuickAnswer(
        net_now=values["net_now"],
        net_later=values["net_later"],
        gain_per_head=values["gain_per_head"],
        gain_per_acre=values.get("gain_per_acre"),
        head_per_acre=values.get("head_per_acre"),
        value_of_gain_per_lb=checks / put_on if enough else None,
        cost_of_gain_per_lb=(values["cash_head"] + values["interest_head"]) / put_on if enough else None,
        slide_pct=values["slide_pct"],
        sale_lb=values["sale_lb"],
        sale_price_cwt=values["price_cwt"],
        breakeven=question.breakevens(),
        planned=question.planned,
        left_out=left_out_of(asked),
        values=values,
        grid=grid,
    )


def left_out_of(asked: Mapping[str, float]) -> tuple[str, ...]:
    """Return the labels of the costs that were not given; feed counts as given by a cost a day or a pasture."""
    costs = [each for each in QUICK_FIELDS if each.key and each.low == 0 and each.name not in ("acre_cost",)]
    out = [each.label for each in costs if not asked.get(each.name) and each.name != "cost_head_day"]
    if not asked.get("cost_head_day") and "forage_lb_acre" not in asked:
        out.insert(0, "feed and every other cost a day")
    return (*out, *(() if asked.get("shrink_pct") else ("shrink",)))
