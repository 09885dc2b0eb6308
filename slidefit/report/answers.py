"""The answer to keep or sell, in sentences: what to do, how sure that is, and where it tips over."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from slidefit.decision.results import (
    SELL_NOW,
    Breakeven,
    Comparison,
    DefaultUsed,
    GroupResult,
    Herd,
    KeepOption,
)
from slidefit.plan.plan import Plan
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.document import Bar
from slidefit.report.futures_content import past_and_futures
from slidefit.report.plan_labels import LABELS, field_label

if TYPE_CHECKING:
    from slidefit.market.outlook import OutlookBasis


BAR_ROOM = 0.05
SAID_BY_BAR = 3
"""How many of the sentences on odds and range stand in the bar and its dots already."""
BREAKEVENS: dict[str, tuple[str, str, Callable[[float], str]]] = {
    "gain_lb_day": ("Daily gain", "lb a day", lambda v: f"{v:.2f}"),
    "days": ("Days kept", "days", f.count),
    "sale_price_cwt": ("Price at the later sale", "/cwt", f.price_cwt),
    "cost_head_day": ("Keeping cost", "per head per day", f.money_cents),
    "slide_pct_cwt": ("Slide", "per cwt", f.percent),
    "forage_lb_acre": ("Forage yield", "lb an acre", f.count),
    "death_loss_pct": ("Death loss", "", f.percent),
    "bid_cwt": ("Price today", "/cwt", f.price_cwt),
    "later_bid_cwt": ("Bid in hand at the later sale", "/cwt", f.price_cwt),
}


def outcome_cells(kept: KeepOption) -> tuple[str, str, str, str, str]:
    """Return weight, price, gain, range and odds of keeping until one sale, as every table writes them."""
    return (
        f.weight_lb(kept.weight_lb, forecast=True),
        f.price_cwt(kept.price_cwt, forecast=True),
        f.money(kept.gain_per_head, sign=True),
        f"{f.money(kept.p10)} to {f.money(kept.p90)}",
        f.odds_percent(kept.odds),
    )


def sold_words(kept: KeepOption, *, monthly: bool) -> str:
    """Return when the calves are sold: the month where there is one sale a month, else the day."""
    return f.sale_month(kept.sale_month, short=True) if monthly else f.day(kept.sale_date)


def default_rows(comparison: Comparison, *, named: bool = False) -> tuple[tuple[str, str, str], ...]:
    """Return the plan fields that were left out: which, the value and unit taken for them, what they are.

    ``named``: by their names in the plan's file, for those who write one; else by what page and paper call them.
    """

    def which(default: DefaultUsed) -> str:
        labels = "; ".join(field_label(name).lower() for name in default.names)
        return default.field if named else f"{default.owner or LABELS[Plan][default.table]}: {labels}"

    def value(default: DefaultUsed) -> str:
        text = (
            f.count(int(default.value))
            if default.value.isdecimal() and "seed" not in default.names
            else default.value
        )
        return f"{text} {default.unit}".strip()

    return tuple((which(d), value(d), d.meaning) for d in comparison.defaults_used)


def best_option(group: GroupResult) -> KeepOption | None:
    """Return the keep option that the group's best choice names; None when it is to sell now."""
    for option in group.keep:
        if (option.program, option.sale_date) == (group.best.choice, group.best.sale_date):
            return option
    return None


def shown_option(group: GroupResult) -> KeepOption | None:
    """Return the option whose budget is worth showing: the best, or else the one that comes nearest to it."""
    best = best_option(group)
    return best or max(group.keep, key=lambda option: option.gain_per_head, default=None)


def choice_words(option: KeepOption) -> str:
    """Return a program and its month of sale in words."""
    return f"{option.program} to {f.sale_month(option.sale_month)}"


def answer(group: GroupResult) -> str:
    """Return the answer for one group in two short sentences."""
    best, option, nearest = group.best, best_option(group), shown_option(group)
    if nearest is None:
        return f"{group.group}: nothing to compare with selling now."
    maybe = "probably " if best.verdict.startswith("Probably") else ""
    if best.too_close:
        return f"{group.group}: too close to call. {sentences.capital(choice_words(nearest))} {_against(nearest)}."
    if option is None:
        sell = f"{maybe}{group.sell_now.words}"
        return f"{group.group}: {sell}. The next best, {choice_words(nearest)}, {_against(nearest)}."
    return f"{group.group}: {maybe}keep. {sentences.capital(choice_words(option))} {_against(option)}."


def _against(option: KeepOption) -> str:
    """Return a gain as what it should bring against selling now."""
    if round(option.gain_per_head) == 0:
        return "should bring the same as selling now"
    more = "more" if option.gain_per_head > 0 else "less"
    return f"should bring {f.money(abs(option.gain_per_head))} a head {more} than selling now"


def how_sure(group: GroupResult) -> list[str]:
    """Return how sure the answer for a group is, a sentence each."""
    option = shown_option(group)
    if option is None:
        return []
    told = [
        f"Keeping that way beats selling now {f.odds(option.odds)}.",
        f"Eight times in ten the gain is between {f.money(option.p10, sign=True)} and "
        f"{f.money(option.p90, sign=True)} a head.",
        f"A bad year (the worst 1 in 10, averaged): {f.money(option.bad_year, sign=True)} a head.",
    ]
    if option.head_kept < group.head:
        told.append(
            f"There is room to keep {f.count(option.head_kept)} of the {f.count(group.head)} head that way; "
            "the rest are sold now."
        )
    if option.energy and option.energy.too_hopeful:
        told.append(f"But look at the feed. {sentences.energy_line(option.energy)}")
    best = group.best
    keeps = best_option(group) is not None
    if keeps and best.runner_up not in (None, SELL_NOW) and best.odds_beats_runner_up is not None:
        told.append(
            f"It beats the next best, {_runner_up(group)}, {f.odds(best.odds_beats_runner_up)}."
            + (f" {sentences.TOLD_APART}" if best.month_too_close else "")
        )
    return told


def _runner_up(group: GroupResult) -> str:
    """Return the second best choice in words; results name it as program and ISO date."""
    for option in group.keep:
        if group.best.runner_up == f"{option.program}, {option.sale_date.isoformat()}":
            return choice_words(option)
    return group.best.runner_up or SELL_NOW


def bar_of(label: str, option: KeepOption, axis: tuple[float, float]) -> Bar:
    """Return an option's range as a bar."""
    words = sentences.bar_words(option)
    return Bar(label, option.p10, option.p90, option.mean, option.bad_year, axis, words)


def bars(group: GroupResult, axis: tuple[float, float]) -> tuple[Bar, ...]:
    """Return the range of the option that is worth showing, as a bar; none where there is nothing to compare."""
    option = shown_option(group)
    return () if option is None else (bar_of(group.group, option, axis),)


def axis_of(options: Iterable[KeepOption]) -> tuple[float, float]:
    """Return ends that hold every bar of some options, their bad years and zero, with a little room on both sides."""
    ends = [0.0, *(end for each in options for end in (each.p10, each.p90, each.mean, each.bad_year))]
    room = BAR_ROOM * (max(ends) - min(ends))
    return min(ends) - room, max(ends) + room


def shared_axis(groups: Sequence[GroupResult]) -> tuple[float, float]:
    """Return the axis of all bars of a plan."""
    return axis_of(option for option in map(shown_option, groups) if option is not None)


def herd_answer(comparison: Comparison) -> str:
    """Return what all groups together gain, each at its own best choice."""
    herd = comparison.herd
    if abs(herd.gain) < 0.5:
        return f"All {f.count(herd.head)} head: selling now is the best choice for every group."
    return (
        f"All {f.count(herd.head)} head, each group at its best: {f.money(abs(herd.gain))} "
        f"{'more' if herd.gain > 0 else 'less'} than selling all now. Eight times in ten the herd's gain is between "
        f"{f.money(herd.p10, sign=True)} and {f.money(herd.p90, sign=True)}. It gains {f.odds(herd.odds)}."
    )


def herd_line(herd: Herd) -> str:
    """Return what all groups at their best gain together, in one short sentence."""
    best = "selling now is best for every group"
    told = f"{f.money(herd.gain, sign=True)} over selling all now, {f.odds(herd.odds)}"
    return f"All {f.count(herd.head)} head at their best: {told if abs(herd.gain) >= 0.5 else best}."


def far_bid(expected_cwt: float) -> str:
    """Return what to say beside a bid that lies far off the market."""
    price = f.price_cwt(expected_cwt, forecast=True)
    return f"Far off the market: calves like these should bring about {price}/cwt. Check it."


def floors_worth(worth: Mapping[str, float]) -> str:
    """Return what a price floor is worth to each group, in a sentence."""
    each = f.listed([f"{f.money_cents(cost)} ({name})" for name, cost in worth.items()])
    return f"By these ranges a price floor is worth {each} a hundredweight; a higher quote costs you."


def breakeven_row(breakeven: Breakeven) -> tuple[str, str, str]:
    """Return a breakeven's label, what the plan says, and where keeping and selling come out even."""
    name, unit, write = _breakeven_words(breakeven)

    def with_unit(value: float) -> str:
        return f"{write(value)}{unit if unit.startswith('/') else f' {unit}'}".rstrip()

    even = breakeven.reason if breakeven.value is None else with_unit(breakeven.value)
    return name, with_unit(breakeven.planned), even


def short_breakeven_row(breakeven: Breakeven) -> tuple[str, str, str]:
    """Return the same with the unit beside the label and no reasons, for a table that has no room for them."""
    name, unit, write = _breakeven_words(breakeven)
    even = sentences.NOWHERE if breakeven.value is None else write(breakeven.value)
    if unit.startswith("/"):
        name += unit
    elif unit and not name.lower().startswith(unit):
        name += f", {unit}"
    return name, write(breakeven.planned), even


def _breakeven_words(breakeven: Breakeven) -> tuple[str, str, Callable[[float], str]]:
    plain = (breakeven.name.replace("_", " "), "", lambda v: f"{v:,.2f}")
    return BREAKEVENS.get(breakeven.name, plain)


def rests_on(comparison: Comparison, basis: OutlookBasis) -> list[str]:
    """Return what the answer rests on, a sentence each."""
    return [
        f"{sentences.basis_line(basis)}.",
        *([sentences.verdict_line(basis.verdict)] if basis.verdict else []),
        f"Price level of {f.day(comparison.as_of)}, from {comparison.source}.",
        f"Odds and ranges: {f.count(comparison.draws)} runs of price, daily gain, death loss and forage together.",
        *past_and_futures(comparison.record, comparison.futures),
    ]
