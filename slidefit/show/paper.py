"""The report's tables as they are printed: the groups side by side in shared tables, a few groups a sheet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from slidefit.decision.results import BudgetLine, GroupResult, KeepOption
from slidefit.show import answers, wording
from slidefit.show import formatting as f

RowKind = Literal["line", "part", "total"]
LineKey = tuple[str, RowKind, int]
GROUPS_A_SHEET = 3
BLANK = ""


@dataclass(frozen=True)
class Column:
    """One column that every group of a shared table has: heading, whether it holds numbers, share of the width."""

    heading: str
    number: bool
    share: float


@dataclass(frozen=True)
class SharedRow:
    """One row: its label and the cells of all groups; a part is a heading between rows and has no cells."""

    kind: RowKind
    label: str
    cells: tuple[str, ...] = ()


@dataclass(frozen=True)
class SharedTable:
    """A table with the same columns for every group, all of it text.

    Attributes
    ----------
    label_share : float
        Width of the first column, in the measure of the columns' shares.
    """

    title: str
    label_heading: str
    label_share: float
    groups: tuple[str, ...]
    columns: tuple[Column, ...]
    rows: tuple[SharedRow, ...]

    @property
    def headed(self) -> bool:
        """Whether the columns have headings of their own below the groups' names."""
        return any(column.heading for column in self.columns)


@dataclass(frozen=True)
class Sheet:
    """The tables of up to three groups."""

    groups: tuple[GroupResult, ...]
    months: SharedTable | None
    budgets: tuple[SharedTable, ...]
    breakevens: SharedTable | None


def sheets_of(groups: Sequence[GroupResult]) -> tuple[Sheet, ...]:
    """Return all groups' tables, three groups a sheet."""
    return tuple(_sheet(groups[at : at + GROUPS_A_SHEET]) for at in range(0, len(groups), GROUPS_A_SHEET))


def shared_notes(noted: Iterable[tuple[str, Sequence[str]]]) -> tuple[str, ...]:
    """Return the groups' notes, those that all groups have said once, the others with their group's name.

    >>> shared_notes([("Steers", ["No bid.", "Mind the feed."]), ("Heifers", ["No bid."])])
    ('No bid.', 'Steers: Mind the feed.')
    """
    each = list(noted)
    common = (
        [note for note in dict.fromkeys(each[0][1]) if all(note in notes for _, notes in each)]
        if each
        else []
    )
    own = [
        note if note.startswith(f"{name}: ") or len(each) == 1 else f"{name}: {note}"
        for name, notes in each
        for note in dict.fromkeys(notes)
        if note not in common
    ]
    return (*common, *own)


def _sheet(groups: Sequence[GroupResult]) -> Sheet:
    shown = [answers.shown_option(group) for group in groups]
    kept = [(group, option) for group, option in zip(groups, shown, strict=True) if option is not None]
    budgets = [
        _budget(
            wording.SELL_NOW_BUDGET,
            [(f"{g.group}: {f.day(g.sell_now.sale_date)}", _told(g.sell_now.lines)) for g in groups],
        )
    ]
    if kept:
        budgets.append(_budget(wording.KEEP_BUDGET, [_kept(group, option) for group, option in kept]))
    return Sheet(
        tuple(groups),
        _months([group for group, _ in kept]) if kept else None,
        tuple(budgets),
        _breakevens(kept) if kept else None,
    )


def _months(groups: Sequence[GroupResult]) -> SharedTable:
    """Return every program's months of sale, the groups side by side."""
    alone = len(groups) == 1
    rows: list[SharedRow] = []
    for program in dict.fromkeys(option.program for group in groups for option in group.keep):
        mine = [{o.sale_date: o for o in group.keep if o.program == program} for group in groups]
        days = sorted({day for options in mine for day in options})
        monthly = len({(day.year, day.month) for day in days}) == len(days)
        rows.append(SharedRow("part", program))
        for day in days:
            cells: list[str] = []
            best = False
            for group, options in zip(groups, mine, strict=True):
                option = options.get(day)
                is_best = option is not None and option is answers.best_option(group)
                best = best or is_best
                cells += _month_cells(option, weight=alone, is_best=is_best)
            label = f.sale_month(day.isoformat(), short=True) if monthly else f.day(day)
            rows.append(SharedRow("total" if best and alone else "line", label, tuple(cells)))
    columns = (
        *([Column("Weight", True, 9.0)] if alone else []),
        Column("$/cwt", True, 7.0),
        Column("Gain", True, 7.5),
        Column("Range", True, 15.0),
        Column("Odds", True, 6.5),
    )
    return SharedTable("", "Sold", 12.0, tuple(group.group for group in groups), columns, tuple(rows))


def _month_cells(option: KeepOption | None, *, weight: bool, is_best: bool) -> list[str]:
    if option is None:
        return [BLANK] * (5 if weight else 4)
    pounds, price, gain, spread, odds = answers.outcome_cells(option)
    return [*([pounds] if weight else []), price, f"{'* ' if is_best else ''}{gain}", spread, odds]


def _told(lines: Sequence[BudgetLine]) -> list[SharedRow]:
    return [
        SharedRow(
            "total" if line.kind == "total" else "line",
            line.label,
            (line.arithmetic, f.cents(line.amount_per_head)),
        )
        for line in lines
    ]


def _kept(group: GroupResult, option: KeepOption) -> tuple[str, list[SharedRow]]:
    worth = (("value of gain", option.value_of_gain_per_lb), ("cost of gain", option.cost_of_gain_per_lb))
    rows = [
        *_told(option.lines),
        *(SharedRow("line", name, ("$ a pound gained", f.cents(v))) for name, v in worth if v is not None),
    ]
    return f"{group.group}: {option.program}, {f.day(option.sale_date)} ({option.days} days)", rows


def _budget(what: str, told: Sequence[tuple[str, list[SharedRow]]]) -> SharedTable:
    """Return the budgets of several groups as one table; a line that a group lacks is blank there."""
    each = [_named(rows) for _, rows in told]
    order: list[LineKey] = []
    for rows in each:
        at = 0
        for key in rows:
            if key not in order:
                order.insert(at, key)
            at = order.index(key) + 1
    return SharedTable(
        "",
        what,
        18.5 if len(told) > 1 else 9.0,
        tuple(name for name, _ in told),
        (Column("", False, 21.0), Column("", True, 9.0)),
        tuple(
            SharedRow(
                kind, label, tuple(c for rows in each for c in rows.get((label, kind, n), (BLANK, BLANK)))
            )
            for label, kind, n in order
        ),
    )


def _named(rows: Sequence[SharedRow]) -> dict[LineKey, tuple[str, ...]]:
    """Return a budget's cells by label, kind and how often that label came before."""
    out: dict[LineKey, tuple[str, ...]] = {}
    for row in rows:
        before = sum((row.label, row.kind) == key[:2] for key in out)
        out[row.label, row.kind, before] = row.cells
    return out


def _breakevens(kept: Sequence[tuple[GroupResult, KeepOption]]) -> SharedTable:
    each = [
        {told[0]: told[1:] for told in map(answers.short_breakeven_row, option.breakevens)}
        for _, option in kept
    ]
    names = list(dict.fromkeys(name for rows in each for name in rows))
    return SharedTable(
        wording.BREAKEVEN_TITLE,
        "",
        24.0 if len(kept) > 1 else 14.0,
        tuple(group.group for group, _ in kept),
        (Column("Planned", True, 9.5), Column("Even at", True, 9.5)),
        tuple(
            SharedRow("line", name, tuple(c for rows in each for c in rows.get(name, (BLANK, BLANK))))
            for name in names
        ),
    )
