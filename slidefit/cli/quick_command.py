"""quick: keep or sell from typed prices, in one command and without records."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from slidefit.cli.speaking import json_option, say
from slidefit.errors import SlidefitError
from slidefit.plan.quick_fields import BY_NAME, QUICK_FIELDS
from slidefit.plan.typed_numbers import number_of

FLAGS = {
    "weight_lb": "weight",
    "price_cwt": "price",
    "to_weight_lb": "to-weight",
    "gain_lb_day": "gain",
    "later_price_cwt": "later",
    "later_weight_lb": "later-weight",
    "slide_pct": "slide",
    "cost_head_day": "cost-day",
    "death_loss_pct": "death-loss",
    "shrink_pct": "shrink",
    "commission_pct": "commission",
    "selling_head": "selling",
    "interest_pct": "interest",
    "forage_lb_acre": "forage",
    "eaten_pct": "eaten",
}
MOST_PERCENT_INTAKE = 6.0
"""A calf eats more than 6 lb a day and never 6 percent of its weight: one number can't be taken for the other."""


class Amount(click.ParamType):  # type: ignore[type-arg]
    """A number as people type it: 312, $312, 520 lb, 1,832, 9%."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number."""
        if isinstance(value, float):
            return value
        number = number_of(str(value))
        if number is None:
            self.fail(f"{value!r} is not a number", param, ctx)
        return number


def flag_of(name: str) -> str:
    """Return a field's option, without its dashes."""
    return FLAGS.get(name, name.replace("_head_day", "-day").removesuffix("_head").replace("_", "-"))


def with_fields(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command an option for every field of the quick question; one for both kinds of intake."""
    fields = [each for each in QUICK_FIELDS if not each.name.startswith("intake")]
    help_intake = "Dry matter eaten a day: percent of body weight (2.6%), or pounds (15)."
    command = click.option("--intake", type=Amount(), help=help_intake)(command)
    for each in reversed(fields):
        needed = " Needed." if each.needed else ""
        text = f"{each.label[0].upper()}{each.label[1:]} [{each.unit}].{needed}"
        command = click.option(f"--{flag_of(each.name)}", each.name, type=Amount(), help=text)(command)
    return command


def steps_of(text: str) -> tuple[str, tuple[float, ...]]:
    """Return the field and the values of one side of a table, from words such as ``later=250:275:5``."""
    flag, _, rest = text.partition("=")
    names = {flag_of(each.name): each.name for each in QUICK_FIELDS if not each.name.startswith("intake")}
    parts = rest.split(":")
    try:
        low, high, step = (float(part) for part in parts)
    except ValueError:
        low, high, step = 0.0, 0.0, 0.0
    if flag.strip("- ") not in names or not step > 0 or high < low:
        raise SlidefitError(
            f"{text!r} is not a field with from, to and step",
            where="--grid",
            remedy=f"Write it like later=250:275:5. Fields: {', '.join(names)}.",
        )
    return names[flag.strip("- ")], tuple(low + step * k for k in range(int((high - low) / step + 1e-9) + 1))


@click.command()
@with_fields
@click.option(
    "--grid",
    "sides",
    multiple=True,
    metavar="FIELD=FROM:TO:STEP",
    help="Twice: a two-way table of the gain a head, such as --grid later=250:275:5 --grid days=60:120:15.",
)
@json_option
def quick(sides: tuple[str, ...], intake: float | None, as_json: bool, **given: float | None) -> None:
    """Keep or sell from typed prices: no records, no plan. Costs that are left out are zero, and named.

    \b
    slidefit quick --weight 520 --price 312 --to-weight 700 --later 262 --days 90 --cost-day 1.55
    """
    from slidefit.decision.quick import grid_of, quick_answer
    from slidefit.report.quick_content import quick_content

    asked = {name: value for name, value in given.items() if value is not None}
    if intake is not None:
        asked["intake_pct" if intake <= MOST_PERCENT_INTAKE else "intake_lb_day"] = intake
    try:
        (x, x_values), (y, y_values) = _sides(sides) or (("", ()), ("", ()))
        answer = quick_answer(asked, grid_of(asked, x, x_values, y, y_values) if sides else None)
    except SlidefitError as fault:
        raise _with_flags(fault) from None
    say(answer, lambda: quick_content(answer), as_json=as_json)


def _sides(sides: tuple[str, ...]) -> list[tuple[str, tuple[float, ...]]]:
    if len(sides) not in (0, 2):
        raise SlidefitError("a two-way table needs two fields", where="--grid", remedy="Give --grid twice.")
    return [steps_of(side) for side in sides]


def _with_flags(fault: SlidefitError) -> SlidefitError:
    where, remedy = fault.where or "", fault.remedy or ""
    for name in sorted(BY_NAME, key=len, reverse=True):
        flag = "--intake" if name.startswith("intake") else f"--{flag_of(name)}"
        where = flag if where.split(" or ")[0] == name else where
        remedy = remedy.replace(name, flag)
    return SlidefitError(fault.what, where=where, remedy=remedy)
