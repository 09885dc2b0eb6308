"""What the answer to keep or sell shows: verdicts, alternatives, months, and the folds behind them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from slidefit.decision.notes import is_far
from slidefit.decision.results import Comparison, GroupResult, KeepOption
from slidefit.decision.verdict import verdict_of
from slidefit.market.outlook import Outlook
from slidefit.report import answer_tables, answers, report_content, sentences
from slidefit.report import formatting as f
from slidefit.report.document import Bar, TypedTable
from slidefit.report.futures_content import past_and_futures, said_came_line, said_came_near, said_came_table
from slidefit.web.forms.plan_address import Values, count_of
from slidefit.web.forms.plan_form import label_path

TENTHS = 10
NOTHING = "Nothing to compare"
MOST_PINNED = 3
YEAR = len(", 2026")


@dataclass(frozen=True)
class Card:
    """One group's verdict: its word, one number, one bar and the odds."""

    place: int
    name: str
    head: int
    word: str
    option: KeepOption | None
    bar: Bar | None

    @property
    def gain(self) -> str:
        """The mean gain from keeping, signed."""
        return "" if self.option is None else signed(self.option.mean)

    @property
    def keeps(self) -> bool:
        """Whether the verdict is for keeping."""
        return "keep" in self.word.lower()

    @property
    def tenths(self) -> int:
        """The odds as so many in ten, never none and never all."""
        return 0 if self.option is None else min(max(round(self.option.odds * TENTHS), 1), TENTHS - 1)

    @property
    def until(self) -> str:
        """How and until when the calves would be kept."""
        return (
            ""
            if self.option is None
            else f"a head, {self.option.program} to {f.day(self.option.sale_date)[:-YEAR]}"
        )

    @property
    def short(self) -> str:
        """The verdict in a few words."""
        if self.option is None:
            return f"{self.name}: {self.word.lower()}"
        return f"{self.name}: {self.word.lower()}, {self.gain} a head, {self.tenths} in 10"


@dataclass(frozen=True)
class Months:
    """The gain by day of sale: the ways in order, and a row a day with a bar for each way that is open then."""

    programs: tuple[str, ...]
    rows: tuple[tuple[str, tuple[tuple[int, Bar, str], ...]], ...]


def signed(value: float) -> str:
    """Return dollars with a sign; minus as print has it."""
    return f.money(value, sign=True).replace("-", "\u2212")


def cards_of(comparison: Comparison) -> list[Card]:
    """Return a verdict for each group, all bars on one axis."""
    axis = answers.shared_axis(comparison.groups)
    out = []
    for place, group in enumerate(comparison.groups):
        option = answers.shown_option(group)
        word = NOTHING if option is None else verdict_of(option.mean, option.odds)
        bar = None if option is None else answers.bar_of(group.group, option, axis)
        out.append(Card(place, group.group, group.head, word, option, bar))
    return out


def months_of(group: GroupResult) -> Months:
    """Return the gain by day of sale, every way on one axis."""
    programs = tuple(dict.fromkeys(option.program for option in group.keep))
    axis = answers.axis_of(group.keep)
    rows: dict[Any, list[tuple[int, Bar, str]]] = {}
    for option in sorted(group.keep, key=lambda option: option.sale_date):
        place = programs.index(option.program)
        rows.setdefault(option.sale_date, []).append(
            (place, answers.bar_of(option.program, option, axis), signed(option.mean))
        )
    return Months(
        programs,
        tuple((f.day(day), tuple(sorted(bars, key=lambda bar: bar[0]))) for day, bars in rows.items()),
    )


def folds_of(comparison: Comparison, group: GroupResult) -> list[tuple[str, str, tuple[Any, ...]]]:
    """Return what stands folded under a group's answer: name, what it says closed, and its parts."""
    option = answers.shown_option(group)
    if option is None:
        return []
    kept, now = f.money(option.net_per_head), f.money(group.sell_now.net_per_head)
    cash = (answer_tables.cash_table(option),) if option.cash else ()
    out = f" {f.money(max(each.total_herd for each in option.cash))} cash out." if option.cash else ""
    budget = (
        answer_tables.budget_table(sentences.sell_now_title(group), group.sell_now.lines),
        answer_tables.budget_table(sentences.keep_title(group, option), option.lines),
        sentences.gain_line(option),
        *report_content.feed_lines(option),
        *option.notes,
        *cash,
    )
    months = (answer_tables.month_table(group),)
    folds: list[tuple[str, str, tuple[Any, ...]]] = [
        ("The months as numbers", "Weight, price, range and odds of each.", months),
        ("Budget and cash", f"{kept} kept, {now} sold now.{out}", budget),
    ]
    record = comparison.record
    if record is not None:
        told = (said_came_line(record), said_came_table(record))
        folds.append(("How well have we done?", said_came_near(record, option.odds), told))
    return folds


def rests_of(comparison: Comparison, outlook: Outlook) -> list[str]:
    """Return what the answer rests on, notes of prices and plan among them."""
    notes = dict.fromkeys((*outlook.notes, *comparison.notes))
    past = past_and_futures(comparison.record, None)
    told = [line for line in answers.rests_on(comparison, outlook.basis) if line not in past]
    return [*told, *(sentences.sentence(str(note)) for note in notes)]


def bid_marks(values: Values, comparison: Comparison) -> dict[str, str]:
    """Return what to say beside each bid that lies far off the market, by field."""
    names = {values.get(f"groups.{k}.name", ""): k for k in range(count_of(values, "groups"))}
    return {
        f"groups.{names[group.group]}.bid_cwt": answers.far_bid(group.bid.expected_cwt)
        for group in comparison.groups
        if group.group in names and group.bid is not None and is_far(group.bid)
    }


def best_place(comparison: Comparison) -> int:
    """Return the group whose answer is worth a closer look first: the one that gains most by keeping."""
    means = [
        (option.mean if (option := answers.shown_option(group)) else float("-inf"))
        for group in comparison.groups
    ]
    return means.index(max(means)) if means else 0


def answer_parts(comparison: Comparison, outlook: Outlook, look: int | None) -> dict[str, Any]:
    """Return what the answer's template shows."""
    place = look if look is not None and look < len(comparison.groups) else best_place(comparison)
    group = comparison.groups[place]
    cards, option = cards_of(comparison), answers.shown_option(group)
    defaults: TypedTable | None = (
        answer_tables.defaults_table(comparison) if comparison.defaults_used else None
    )
    return {
        "cards": cards,
        "look": place,
        "group": group,
        "herd": answers.herd_line(comparison.herd) if len(comparison.groups) > 1 else "",
        "even": answer_tables.breakeven_table(option) if option is not None else None,
        "ways": group.alternatives if group.keep else (),
        "fair": [
            answer_tables.fair_floor_line(way.fair_cost_cwt)
            for way in group.alternatives
            if way.fair_cost_cwt is not None
        ],
        "months": months_of(group) if group.keep else None,
        "folds": folds_of(comparison, group),
        "sure": answers.how_sure(group)[answers.SAID_BY_BAR :],
        "rests_on": rests_of(comparison, outlook),
        "left_out": sentences.left_out_line(comparison.left_out) if comparison.left_out else "",
        "cautions": comparison.cautions,
        "group_notes": [
            *map(str, group.notes),
            *(sentences.unavailable_line(each) for each in group.unavailable),
        ],
        "defaults": defaults,
        "headline": " ".join(f"{card.short}." for card in cards),
        "pinned": cards if len(cards) <= MOST_PINNED else [],
    }


def problem_lines(values: dict[str, str], problems: dict[str, str]) -> list[tuple[str, str, str]]:
    """Return what stands in the way: field, its label, and what is wrong or that it is needed."""
    return [
        (name, label_path(name, values), text if values.get(name) or count_of(values, name) else "needed")
        for name, text in problems.items()
    ]
