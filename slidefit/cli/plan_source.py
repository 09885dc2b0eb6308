"""The plan that a command names, with what its words add to it: forward prices, months never seen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from slidefit.cli.market_source import MarketChoice
    from slidefit.decision.plan import Plan

ForwardWords = tuple[str, str, float, float]


@dataclass(frozen=True)
class PlanChoice:
    """A plan's file and what the command's words add to it."""

    path: str
    forward: tuple[ForwardWords, ...]
    allow_unseen: bool

    def read(self, market: MarketChoice) -> Plan:
        """Return the plan, checked with all that was added.

        Raises
        ------
        PlanError
            The file or a word is at fault.
        SlidefitError
            A forward price names no group of the plan.
        """
        from slidefit.decision.lookup import nearest_name
        from slidefit.decision.plan_reading import build_plan, read_plan

        plan = market.source.plan(read_plan(self.path))
        if not self.forward and not self.allow_unseen:
            return plan
        raw = plan.model_dump(mode="json", exclude_unset=True, exclude_none=True)
        names = [group["name"] for group in raw["groups"]]
        for group, month, weight_lb, price_cwt in self.forward:
            if group not in names:
                raise nearest_name(group, names, "group")
            table = raw["groups"][names.index(group)]
            kept = [each for each in table.get("forward", ()) if each["month"] != month]
            added = {"month": month, "weight_lb": weight_lb, "price_cwt": price_cwt, "name": "--forward"}
            table["forward"] = [*kept, added]
        if self.allow_unseen:
            raw.setdefault("risk", {})["unseen_months"] = True
        return build_plan(raw, self.path)


def plan_option(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the argument PLAN, ``--forward`` and ``--allow-unseen``; it gets them as one PlanChoice."""

    @click.argument("plan", type=click.Path())
    @click.option(
        "--forward",
        nargs=4,
        type=(str, str, float, float),
        multiple=True,
        metavar="GROUP YYYY-MM LB PRICE",
        help="Go by this price, in dollars per hundredweight, for a group's calves at a weight, in pounds, in a "
        "month to come; may be given several times.",
    )
    @click.option(
        "--allow-unseen",
        is_flag=True,
        help="Compare months that no sale was seen in, too, with a wider range.",
    )
    @wraps(command)
    def with_plan(
        *words: Any, plan: str, forward: tuple[ForwardWords, ...], allow_unseen: bool, **named: Any
    ) -> None:
        command(*words, plan=PlanChoice(plan, forward, allow_unseen), **named)

    return with_plan
