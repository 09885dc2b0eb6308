"""The page of a plan's fields, made from the program's own declarations.

python docs/plan_page.py > docs/plan.md
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from slidefit.plan.feeding import Feed, Pasture, Phase, Program
from slidefit.plan.plan import Dates, Finance, Forward, Group, Plan, PlanFutures, Risk, TypedPrices
from slidefit.plan.selling import Contract, Floor, Selling
from slidefit.toml_tables import TomlTable, cards, default_text, limits_of

TABLES: tuple[tuple[str, type[TomlTable], str], ...] = (
    ("(top of the file)", Plan, "`title` and `as_of` are plain fields; the rest are the tables below."),
    ("[dates]", Dates, "Give `first_sale` and `last_sale`, or `sales`."),
    ("[[groups]]", Group, "One for each group of calves. Give `weight_lb`, or `weights_lb` for every calf."),
    (
        "[[groups.forward]]",
        Forward,
        "It goes under its group, and the expected prices are bent to pass through it: less before its month, in "
        "proportion to the time, and in full after it. The ranges stay as wide as the records make "
        "them, and never narrower than the spread of the basis: a price typed for later is not certain.",
    ),
    (
        "[[programs]]",
        Program,
        "One for each way to keep the calves. Feed comes from `cost_head_day`, `pasture` and `ration`, which add "
        "up, or from `phases` with their own. A program that opens after weaning needs `wait_cost_head_day`.",
    ),
    ("[programs.pasture]", Pasture, "Also inside a phase. Give `intake_pct` or `intake_lb_day`."),
    (
        "[[programs.ration]]",
        Feed,
        "One for each feed. With dry matter and both net energies the gain is checked.",
    ),
    ("[[programs.phases]]", Phase, "In order; only the last may leave out `days`."),
    (
        "[prices]",
        TypedPrices,
        "With it a plan needs no sale records and no region. Season and spread that are left out are typical ones of "
        "ours, named beside the answer.",
    ),
    ("[[futures]]", PlanFutures, "They move the outlook's expected prices and ranges of this plan."),
    ("[selling]", Selling, "The same terms hold for selling now and later."),
    ("[selling.contract]", Contract, "For the kept calves."),
    ("[selling.floor]", Floor, "For the kept calves."),
    ("[money]", Finance, ""),
    ("[risk]", Risk, ""),
)
OPENING = """# The plan

A plan is a TOML file. It says which calves you have, how you could keep them, what selling and money cost, and
which months of sale to compare. `data_demo/plan.toml` is a whole one with comments,
`typed_prices.toml` beside it one that needs no sale records.

- Weights are pounds a head, prices dollars per hundredweight ($/cwt), percentages are in percent (2 is two percent).
- Dates are written 2026-10-14, months of sale "2026-11" in quotes.
- A field that is left out takes the default given here, and every default used is listed beside the answer.
- All faults are told at once, each with its line, its value and what to do.

This page is made from the program's own declarations.
"""


def table_rows(table: type[TomlTable]) -> Iterator[str]:
    """Yield the rows of one table of fields."""
    yield "| field | unit | default | limits | meaning |"
    yield "|---|---|---|---|---|"
    for card in cards(table):
        meaning = f"{card.meaning} Default: {card.source}." if card.source else card.meaning
        yield f"| `{card.name}` | {card.unit} | {default_text(card)} | {limits_of(card)} | {meaning} |"


def plan_document() -> str:
    """Return the page on the plan in Markdown."""
    parts = [OPENING]
    for name, table, note in TABLES:
        doc = (table.__doc__ or "").strip().splitlines()[0]
        parts.append("\n".join([f"## `{name}`", "", f"{doc} {note}".strip(), "", *table_rows(table), ""]))
    return "\n".join(parts)


if __name__ == "__main__":
    sys.stdout.write(plan_document())
