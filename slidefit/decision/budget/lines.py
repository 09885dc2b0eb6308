"""The budget of keeping calves, declared once: every input and line of it, with its formula.

Adding a cost is one row of `plan.costs`; it is then a plan field, a line here, and in cash needs, draws, breakevens,
replay, the workbook's formulas and the page. What the plan repeats (stretches of growth, feeds of a ration) is written
out when the table is made.
"""

from __future__ import annotations

from functools import cache, lru_cache

from slidefit.decision.budget.expressions import Constant, Expression, Key, least, most, total
from slidefit.decision.budget.sale import (
    BudgetShape,
    StretchShape,
    cost,
    given,
    price_entries,
    sale_entries,
    selling_now_entries,
    step,
    summed,
)
from slidefit.decision.budget.table import Budget, Entry
from slidefit.plan.costs import KEEPING_COSTS

DAYS_PER_YEAR = 365.0
LB_PER_TON = 2000.0
LOWEST_GAIN_LB_DAY = -0.5
"""A drawn daily gain is held here: calves that lose more are sold or fed (ours)."""


def suffix(number: int) -> str:
    """Return what a key of the first stretch, and of later ones, ends in."""
    return "" if number == 0 else f"_{number + 1}"


def growth_entries(stretches: tuple[StretchShape, ...]) -> list[Entry]:
    """Return days and gains, and the planned weight after each stretch.

    ``gain_change`` moves the plan's daily gain on the program, waiting apart; ``gain_miss`` is how far
    a year misses it.
    """
    out = [
        given("slump_lb", "weight lost after weaning", "lb", "calves", high=100),
        given("gain_change", "change of the daily gain planned", "lb/day", "calves", low=-8, high=8),
        given("gain_miss", "how far the daily gain misses the plan", "lb/day", "calves", low=-8, high=8),
    ]
    at: Expression = Key("start_lb") - Key("slump_lb")
    on: list[Expression] = []
    since: list[Expression] = []
    for number, shape in enumerate(stretches):
        end, label = suffix(number), shape.label
        days, gain = Key(f"days{end}"), Key(f"gain_lb_day{end}")
        told = f"days, {label}" if end or shape.waits else "days kept"
        out.append(given(days.name, told, "days", "calves", high=730))
        told = f"daily gain, {label}" if end else "daily gain"
        out.append(given(gain.name, told, "lb/day", "calves", low=-2, high=6))
        grown = (gain if shape.waits else gain + Key("gain_change")) * days
        since.append(Constant(0.0) if shape.waits else total((*on, days / 2)))
        on += [] if shape.waits else [days]
        out.append(step(f"mean_lb{end}", f"mean weight, {label}", "lb", "calves", at + grown / 2))
        out.append(step(f"planned_lb{end}", f"planned weight after {label}", "lb", "calves", at + grown))
        at = Key(f"planned_lb{end}")
    everything = total(tuple(Key(f"days{suffix(k)}") for k in range(len(stretches))))
    out.append(step("days_all", "days kept", "days", "calves", everything))
    out.append(step("days_on", "days on the program", "days", "calves", total(tuple(on))))
    out.append(step("planned_lb_sale", "planned weight at sale", "lb", "calves", at))
    lowest = least(0, LOWEST_GAIN_LB_DAY - (at - Key("start_lb")) / Key("days_all"))
    held = most(Key("gain_miss"), lowest)
    out.append(step("gain_off", "miss of the daily gain, held", "lb/day", "calves", held))
    for number, shape in enumerate(stretches):
        if shape.pasture == "by weight":
            end = suffix(number)
            grazing = Key(f"mean_lb{end}") + Key("gain_off") * since[number]
            out.append(step(f"grazing_lb{end}", "mean weight while grazing", "lb", "calves", grazing))
    sold = Key("planned_lb_sale") + Key("days_on") * Key("gain_off")
    return [*out, step("sale_lb", "weight at sale", "lb", "calves", sold)]


def pasture_entries(number: int, shape: StretchShape) -> list[Entry]:
    """Return the pasture of a stretch: what a calf eats, what an acre carries, what that costs."""
    end, forage = suffix(number), "lb dry matter/acre"
    out = [
        given(f"cost_acre{end}", "cost of an acre", "$/acre", "feed", high=3000),
        given(f"forage_lb_acre{end}", "forage grown", forage, "feed", 3000.0, low=100, high=30_000),
        given(f"eaten_pct{end}", "share eaten", "percent", "feed", 50.0, low=1, high=100),
    ]
    a_day, dry = f"intake_lb_day{end}", "lb dry matter/day"
    if shape.pasture == "by weight":
        unit = "percent of body weight"
        out.append(given(f"intake_pct{end}", "intake", unit, "feed", 2.5, low=0.5, high=6))
        eats = Key(f"intake_pct{end}") / 100 * Key(f"grazing_lb{end}")
        out.append(step(a_day, "eaten a day", dry, "feed", eats))
    else:
        out.append(given(a_day, "eaten a day", dry, "feed", 15.0, low=2, high=60))
    eaten = Key(f"forage_lb_acre{end}") * Key(f"eaten_pct{end}") / 100
    carries = Key("forage_ratio") * eaten / Key(a_day)
    out.append(step(f"head_days_acre{end}", "head-days an acre", "head-days/acre", "feed", carries))
    acres = Key(f"days{end}") / Key(f"head_days_acre{end}")
    out.append(step(f"acres_head{end}", "acres for one head", "acres/head", "feed", acres))
    words = (
        f"{{days{end}:g}} days x ${{cost_acre{end}:,.2f}} / {{head_days_acre{end}:,.1f}} head-days an acre"
    )
    paid = Key(f"cost_acre{end}") * Key(f"acres_head{end}") * Key("feed_ratio")
    falls = f"stretch {number + 1}"
    return [*out, cost(f"pasture_head{end}", f"pasture, {shape.label}", "keep", paid, falls, words)]


def feed_entries(number: int, shape: StretchShape) -> list[Entry]:
    """Return the feed of a stretch: by the day, each feed of a ration, and the pasture."""
    end, falls, days = suffix(number), f"stretch {number + 1}", Key(f"days{suffix(number)}")
    out = [given(f"cost_head_day{end}", f"feed, {shape.label}", "$/head-day", "feed", high=30)]
    words = f"{{days{end}:g}} days x ${{cost_head_day{end}:.2f}}"
    daily = Key(f"cost_head_day{end}") * days * Key("feed_ratio")
    out.append(cost(f"feed_head{end}", f"feed, {shape.label}", "keep", daily, falls, words))
    for place, name in enumerate(shape.feeds, start=1):
        own = f"_{place}{end}" if end else f"_{place}"
        lb, ton, waste = f"feed_lb_day{own}", f"feed_price_ton{own}", f"feed_waste_pct{own}"
        out += [
            given(lb, f"{name}, eaten a day", "lb as fed/day", "feed", high=150),
            given(ton, f"{name}, price", "$/ton", "feed", high=5000),
            given(waste, f"{name}, wasted", "percent", "feed", high=80),
        ]
        used = f"feed_used{own}"
        out.append(step(used, f"{name}, share eaten", "ratio", "feed", 1 - Key(waste) / 100))
        pounds = Key(lb) / Key(used)
        words = (
            f"{{days{end}:g}} days x {{{lb}:g}} lb / {{{used}:.2f}} for waste x ${{{ton}:,.2f}} / 2,000 lb"
        )
        paid = pounds * Key(ton) / LB_PER_TON * days * Key("feed_ratio")
        out.append(cost(f"ration_head{own}", f"feed, {name}", "keep", paid, falls, words))
    return [*out, *(pasture_entries(number, shape) if shape.pasture else [])]


def care_entries() -> list[Entry]:
    """Return every other cost of keeping, from `plan.costs`."""
    out: list[Entry] = []
    for each in KEEPING_COSTS:
        daily = each.per == "day"
        key = f"{each.key}_all" if daily else f"{each.key}_once"
        words = f"{{days_all:g}} days x ${{{each.key}:.2f}}" if daily else "once a head"
        out.append(given(each.key, each.label, each.unit, "care", high=each.high))
        paid = Key(each.key) * (Key("days_all") if daily else 1)
        out.append(cost(key, each.label, "keep", paid, "daily" if daily else "start", words))
    return [*out, given("spent_head", "already spent", "$/head", "care", high=5000)]


def answer_entries(shape: BudgetShape, above: list[Entry]) -> list[Entry]:
    """Return cash, interest, the net of keeping, the gain from keeping, and the gain of an acre."""
    costs = [each for each in above if each.kind == "cost" and each.group == "keep" and each.falls != "sale"]
    feed = tuple(Key(each.key) for each in costs if each.falls.startswith("stretch"))
    counted = least(Key("spent_head"), total(tuple(Key(each.key) for each in costs)))
    told = "by the plan, at most the costs above"
    costs.append(cost("spent_back", "already spent, not counted again", "keep", -counted, "start", told))
    cash = total((*(Key(each.key) for each in costs), Key("cost_added")))
    year = Key("interest_pct") / 100 * Key("days_all") / DAYS_PER_YEAR
    interest = year * (Key("net_now") + Key("cash_head") / 2)
    words = "{interest_pct:g}% x {days_all:g}/365 x (${net_now:,.2f} + half of ${cash_head:,.2f})"
    out = [
        costs[-1],
        given("cost_add_head_day", "other costs added", "$/head-day", "care", low=-30, high=30),
        cost("cost_added", "other costs added", "keep", Key("cost_add_head_day") * Key("days_all"), "daily"),
        given("interest_pct", "interest", "percent a year", "money", high=40),
        step("feed_all", "feed and pasture", "$/head", "feed", total(feed)),
        step("cash_head", "cash costs of keeping", "$/head", "money", cash),
        cost("interest_head", "interest", "keep", interest, "sale", words),
    ]
    out.append(summed("net_later", "net of keeping", [*above, *out], "keep"))
    answer = Key("net_later") - Key("net_now")
    words = "${net_later:,.2f} less ${net_now:,.2f}"
    out.append(Entry("gain_per_head", "gain from keeping", "$/head", "keep", "total", answer, words=words))
    grazed = [number for number, each in enumerate(shape.stretches) if each.pasture]
    if grazed:
        acres = total(tuple(Key(f"acres_head{suffix(number)}") for number in grazed))
        out.append(step("head_per_acre", "head that an acre carries", "head/acre", "answer", 1 / acres))
        acre = Key("gain_per_head") * Key("head_per_acre")
        out.append(step("gain_per_acre", "gain from keeping, an acre", "$/acre", "answer", acre))
    return out


@cache
def selling_budget() -> Budget:
    """Return the table of selling now alone."""
    return Budget(tuple(selling_now_entries()))


@lru_cache(maxsize=256)
def budget_of(shape: BudgetShape) -> Budget:
    """Return the table of a budget of one shape.

    Harp, Tarleton State University: 360 lb at $1.05 kept for 300 lb of gain; processing $20, land $80.

    >>> budget = budget_of(BudgetShape((StretchShape("grass"),), "typed"))
    >>> hand = {"start_lb": 360, "start_price_cwt": 105, "days": 150, "gain_lb_day": 2, "health_head": 20,
    ...         "other_head": 80, "later_price_cwt": 78, "later_weight_lb": 660, "shrink_pct": 2}
    >>> round(budget.values(hand)["sale_check"], 2)
    504.5
    """
    ratios = [
        given("forage_ratio", "forage grown over the plan", "ratio", "feed", 1.0, low=0.01, high=10),
        given("feed_ratio", "cost of feed over the plan", "ratio", "feed", 1.0, low=0.0, high=10),
    ]
    entries = [
        *selling_now_entries(),
        *growth_entries(shape.stretches),
        *price_entries(shape),
        *sale_entries(),
        *ratios,
    ]
    for number, each in enumerate(shape.stretches):
        entries += feed_entries(number, each)
    entries += care_entries()
    return Budget((*entries, *answer_entries(shape, entries)))
