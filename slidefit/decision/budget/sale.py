"""The part of the budget that prices and selling make: selling now, the price at sale, what a sale takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from slidefit.decision.budget.expressions import Expression, Key, most, price_at, total
from slidefit.decision.budget.table import Entry
from slidefit.plan.costs import SELLING_COSTS

FREIGHT = "{miles:g} miles x ${freight_loaded_mile:,.2f} / {load_lb:,.0f} lb x "
TRUCK = Key("freight_loaded_mile") * Key("miles") / Key("load_lb")
BY_HEAD = (("commission_head", "commission"), *((each.key, each.label) for each in SELLING_COSTS))


@dataclass(frozen=True)
class StretchShape:
    """What a stretch of days holds: waiting for the program, a pasture with intake by weight or as pounds, feeds."""

    label: str
    waits: bool = False
    pasture: Literal["", "by weight", "pounds"] = ""
    feeds: tuple[str, ...] = ()


@dataclass(frozen=True)
class BudgetShape:
    """What a budget has lines for; two options of one shape share one table.

    A ``typed`` price is read with a slide among the inputs; for ``market`` the reader is asked.
    """

    stretches: tuple[StretchShape, ...]
    price: Literal["market", "typed", "contract", "two-way contract"] = "market"
    floor: bool = False


def given(key: str, label: str, unit: str, group: str, default: float = 0.0, **limits: float) -> Entry:
    """Return an input."""
    return Entry(key, label, unit, group, "input", default=default, **limits)  # type: ignore[arg-type]


def step(key: str, label: str, unit: str, group: str, formula: Expression) -> Entry:
    """Return a line that is a step on the way."""
    return Entry(key, label, unit, group, "line", formula)


def cost(key: str, label: str, group: str, formula: Expression, falls: str, words: str = "") -> Entry:
    """Return a line of money out [$ per head started]."""
    return Entry(key, label, "$/head", group, "cost", formula, falls=falls, words=words)


def income(key: str, label: str, group: str, formula: Expression, words: str) -> Entry:
    """Return a line of money in [$ per head started]."""
    return Entry(key, label, "$/head", group, "income", formula, words=words)


def selling_now_entries() -> list[Entry]:
    """Return the inputs of selling, and the budget of selling now: N0."""
    out = [
        given("start_lb", "weight today", "lb", "calves", low=150, high=1400),
        given("start_price_cwt", "price today", "$/cwt", "price", low=30, high=1200),
        given("start_mix", "weights priced one by one, today", "ratio", "price", 1.0),
        given("start_shrink_pct", "shrink, today", "percent", "sale", high=20),
        given("pencil_shrink_pct", "pencil shrink", "percent", "sale", high=10),
        given("commission_pct", "commission", "percent of the check", "sale", high=20),
        given("commission_head", "commission by the head", "$/head", "sale", high=200),
        *(given(each.key, each.label, each.unit, "sale", high=each.high) for each in SELLING_COSTS),
        given("freight_loaded_mile", "freight by the loaded mile", "$/mile", "sale", high=30),
        given("miles", "loaded miles", "miles", "sale", high=3000),
        given("load_lb", "a full load", "lb", "sale", 50_000.0, low=1000, high=100_000),
    ]
    pay = Key("start_lb") * (1 - Key("start_shrink_pct") / 100) * (1 - Key("pencil_shrink_pct") / 100)
    check = Key("start_pay_lb") / 100 * Key("start_price_cwt")
    words = "{start_lb:,.1f} lb less shrink = {start_pay_lb:,.1f} lb x ${start_price_cwt:,.2f}/cwt"
    mixed = "check x ({start_mix:.4f} - 1)"
    out += [
        step("start_pay_lb", "pay weight today", "lb", "sale", pay),
        income("start_check", "calf sold at weaning", "now", check, words),
        income("start_spread_head", "spread of weights", "now", check * (Key("start_mix") - 1), mixed),
    ]
    share = Key("commission_pct") / 100 * (Key("start_check") + Key("start_spread_head"))
    words = "{commission_pct:g}% of ${start_check:,.2f} + ${start_spread_head:,.2f}"
    out.append(cost("start_commission", "commission", "now", share, "sale", words))
    for key, label in BY_HEAD:
        out.append(cost(f"start_{key}", label, "now", Key(key) * 1, "sale", f"${{{key}:,.2f}} a head"))
    truck, words = TRUCK * Key("start_lb"), FREIGHT + "{start_lb:,.1f} lb"
    out.append(cost("start_freight_mile", "freight", "now", truck, "sale", words))
    return [*out, summed("net_now", "net of selling at weaning", out, "now")]


def summed(key: str, label: str, entries: list[Entry], group: str) -> Entry:
    """Return the total of a group's lines: money in less money out."""
    income = tuple(Key(each.key) for each in entries if each.kind == "income" and each.group == group)
    out = tuple(Key(each.key) for each in entries if each.kind == "cost" and each.group == group)
    formula = total(income) - total(out) if out else total(income)
    return Entry(key, label, "$/head", group, "total", formula, words="money in less money out")


def price_entries(shape: BudgetShape) -> list[Entry]:
    """Return the price at sale: the market's, typed with a slide, or a contract's; and a floor under it."""
    pay = (1 - Key("shrink_pct") / 100) * (1 - Key("pencil_shrink_pct") / 100)
    out = [
        given("shrink_pct", "shrink at sale", "percent", "sale", high=20),
        step("pay_lb", "pay weight at sale", "lb", "sale", Key("sale_lb") * pay),
        step("planned_pay_lb", "planned pay weight", "lb", "sale", Key("planned_lb_sale") * pay),
    ]
    if shape.price == "typed":
        out += [
            given("later_price_cwt", "price later", "$/cwt", "price", low=30, high=1200),
            given("later_weight_lb", "weight that the later price is for", "lb", "price", low=150, high=1600),
            given("slide_pct", "slide", "percent per cwt", "price", low=-30, high=40),
        ]
        off = (Key("sale_lb") - Key("later_weight_lb")) / 100
        market = Key("later_price_cwt") * (1 - Key("slide_pct") / 100) ** off
    elif shape.price == "market":
        market = price_at(Key("sale_lb"), Key("days_all"))
    else:
        out += [
            given("contract_price_cwt", "contract price", "$/cwt", "price", low=30, high=1200),
            given("contract_weight_lb", "contract base weight", "lb", "price", low=150, high=1400),
            given("contract_slide_cwt", "contract slide", "$/cwt per cwt", "price", high=80),
            given("contract_window_lb", "contract window", "lb", "price", high=200),
        ]
        over = Key("pay_lb") - Key("contract_weight_lb")
        moved = most(over - Key("contract_window_lb"), 0)
        if shape.price == "two-way contract":
            moved = moved - most(-over - Key("contract_window_lb"), 0)
        market = Key("contract_price_cwt") - Key("contract_slide_cwt") * moved / 100
    out.append(step("market_cwt", "price before a floor", "$/cwt", "price", market))
    if not shape.floor:
        return [*out, step("price_cwt", "price at sale", "$/cwt", "price", Key("market_cwt") * 1)]
    words = "{planned_pay_lb:,.1f} lb x ${floor_cost_cwt:.2f}/cwt"
    paid = Key("floor_cost_cwt") * Key("planned_pay_lb") / 100
    return [
        *out,
        given("floor_cwt", "price floor", "$/cwt", "price", high=1200),
        given("floor_cost_cwt", "cost of the floor", "$/cwt", "price", high=200),
        step("price_cwt", "price at sale", "$/cwt", "price", most(Key("market_cwt"), Key("floor_cwt"))),
        cost("floor_head", "price floor", "keep", paid, "start", words),
    ]


def sale_entries() -> list[Entry]:
    """Return the check at sale and what selling takes, per head started."""
    check, sold = Key("pay_lb") * Key("price_cwt") / 100, Key("check_head") * Key("alive")
    words = "{sale_lb:,.1f} lb less shrink = {pay_lb:,.1f} lb x ${price_cwt:,.2f}/cwt x {alive:.3f} alive"
    mixed = "check x ({sale_mix:.4f} - 1)"
    share = "{commission_pct:g}% of ${check_head:,.2f} x {alive:.3f} sold"
    out = [
        given("death_loss_pct", "death loss", "percent", "care", high=50),
        given("sale_mix", "weights priced one by one, at sale", "ratio", "price", 1.0),
        step("alive", "share sold", "ratio", "sale", 1 - Key("death_loss_pct") / 100),
        step("check_head", "check of a calf sold", "$/head sold", "sale", check * Key("sale_mix")),
        income("sale_check", "calf sold later", "keep", check * Key("alive"), words),
        income("spread_head", "spread of weights", "keep", sold - Key("sale_check"), mixed),
        cost("sale_commission", "commission", "keep", Key("commission_pct") / 100 * sold, "sale", share),
    ]
    for key, label in BY_HEAD:
        words = f"${{{key}:,.2f}} a head x {{alive:.3f}} sold"
        out.append(cost(f"sale_{key}", label, "keep", Key(key) * Key("alive"), "sale", words))
    truck, words = TRUCK * Key("sale_lb") * Key("alive"), FREIGHT + "{sale_lb:,.1f} lb x {alive:.3f} sold"
    return [*out, cost("sale_freight_mile", "freight", "keep", truck, "sale", words)]
