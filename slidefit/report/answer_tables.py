"""Months, budgets, breakevens, cash, defaults: each table made once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import pandas as pd
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from slidefit.decision.choices import months_of
from slidefit.decision.results import BudgetLine, Comparison, GroupResult, KeepOption
from slidefit.report import answers, sentences
from slidefit.report import formatting as f
from slidefit.report.terminal_tables import new_table, text_of

NARROW_COLUMNS = 84
DEFAULTS_WIDEST = (30, 24)


def slide_table(slides: pd.DataFrame) -> Table:
    """Return the slide by sex, step of weight and month, with its interval.

    Parameters
    ----------
    slides : DataFrame
        ``sex``, ``from_lb``, ``to_lb``, ``month``, ``percent_per_cwt``, ``percent_low``, ``percent_high``,
        ``dollars_per_cwt_per_cwt``; and ``percent_today`` where it is known.
    """
    today = "percent_today" in slides.columns
    columns = [
        ("Sex", "left"), ("From, lb", "right"), ("To, lb", "right"), ("Month", "left"),
        ("Slide, % per cwt", "right"), ("95% interval", "right"), ("$/cwt per cwt", "right"),
    ] + [("Today, %", "right")] * today  # fmt: skip
    rows = []
    for row in slides.to_dict(orient="records"):
        month = row["month"]
        rows.append(
            (
                str(row["sex"]), f.count(float(row["from_lb"])), f.count(float(row["to_lb"])),
                "year" if month is None or pd.isna(month) else f.month_name(int(month), short=True),
                f.percent(float(row["percent_per_cwt"])),
                sentences.interval(float(row["percent_low"]), float(row["percent_high"])),
                f.money_cents(float(row["dollars_per_cwt_per_cwt"])),
                *([f.percent(float(row["percent_today"]))] if today else []),
            )
        )  # fmt: skip
    return new_table(sentences.SLIDE_TITLE, columns, rows, caption=sentences.SLIDE_CAPTION)


def season_table(season: pd.DataFrame) -> Table:
    """Return the season by month, with its interval.

    Parameters
    ----------
    season : DataFrame
        ``month``, ``index``, ``low``, ``high``.
    """
    columns = [("Month", "left"), ("Index", "right"), ("95% interval", "right")]
    rows = [
        (f.month_name(int(month)), f"{index:.1f}", f"{low:.1f} to {high:.1f}")
        for month, index, low, high in season[["month", "index", "low", "high"]].itertuples(index=False)
    ]
    return new_table(sentences.SEASON_TITLE, columns, rows, caption=sentences.SEASON_CAPTION)


def month_table(group: GroupResult, *, width: int = 100) -> Table:
    """Return every program and sale month of a group against selling now.

    Under 84 columns the weight and the price are left out; the budget shows them.
    """
    narrow = width < NARROW_COLUMNS
    head = [("Sold", "left"), ("Program", "left"), ("Weight", "right"), ("Price/cwt", "right")]
    tail = [("Gain/head", "right"), ("8 in 10 between", "right"), ("Odds", "right")]
    columns = (head[:2] if narrow else head) + tail
    options = sorted(group.keep, key=lambda option: option.sale_date)
    monthly = len({(o.program, o.sale_month) for o in options}) == len(options)
    rows = [_month_row(option, monthly, narrow, option is answers.best_option(group)) for option in options]
    return new_table(sentences.month_title(group), columns, rows, caption=sentences.MONTH_CAPTION)


def _month_row(option: KeepOption, monthly: bool, narrow: bool, best: bool) -> list[str]:
    sold = answers.sold_words(option, monthly=monthly)
    cells = answers.outcome_cells(option)
    return [f"{sold} *" if best else sold, option.program, *(cells[2:] if narrow else cells)]


def months_text(comparison: Comparison, *, width: int = 100) -> str:
    """Return the view by month of sale: for each group and date the program that brings most, notes and cautions."""
    columns = [
        ("Sold", "left"), ("Best program", "left"), ("Weight", "right"), ("Price/cwt", "right"),
        ("Gain/head", "right"), ("8 in 10 between", "right"), ("Odds", "right"),
    ]  # fmt: skip
    rows = months_of(comparison)
    parts: list[RenderableType] = []
    for group in dict.fromkeys(row.group for row in rows):
        mine = [row for row in rows if row.group == group]
        monthly = len({row.sale_month for row in mine}) == len(mine)
        cells = [
            (
                answers.sold_words(row, monthly=monthly) + (" *" if row.is_best else ""),
                row.program,
                *answers.outcome_cells(row),
            )
            for row in mine
        ]
        parts.append(new_table(f"{group}: by date of sale", columns, cells, caption=sentences.MONTH_CAPTION))
    notes = [f"{group.group}: {note}" for group in comparison.groups for note in group.notes]
    return text_of(*parts, *notes, *_told(comparison), width=width)


def _told(comparison: Comparison) -> list[str]:
    """Return what goes with every answer: whether the records are enough, notes and cautions."""
    verdict = [sentences.verdict_line(comparison.verdict)] if comparison.verdict else []
    return [*verdict, *comparison.notes, *comparison.cautions]


def budget_table(title: str, lines: Sequence[BudgetLine]) -> Table:
    """Return a budget line by line, each with its arithmetic, in dollars per head started."""
    columns = [("Line", "left"), ("How it comes about", "left"), ("$ a head", "right")]
    table = new_table(title, columns, [])
    for line in lines:
        style = "bold" if line.kind == "total" else ""
        cells = (line.label, line.arithmetic, f.money_cents(line.amount_per_head))
        table.add_row(*(Text(cell, style=style) for cell in cells))
    return table


def breakeven_table(option: KeepOption) -> Table:
    """Return the values at which keeping and selling now come out even."""
    columns = [("What", "left"), ("Planned", "right"), ("Even at", "left")]
    return new_table(
        sentences.BREAKEVEN_TITLE, columns, [answers.breakeven_row(each) for each in option.breakevens]
    )


def cash_table(option: KeepOption) -> Table:
    """Return the cash that keeping calls for, month by month."""
    columns = [("Month", "left"), ("Cash out", "right"), ("In all so far", "right")]
    rows = [(f.sale_month(c.month), f.money(c.amount_herd), f.money(c.total_herd)) for c in option.cash]
    return new_table(sentences.cash_title(option.head_kept), columns, rows)


def defaults_table(comparison: Comparison) -> Table:
    """Return the plan fields that were left out and the values taken for them."""
    columns = [("Field", "left"), ("Taken as", "left"), ("What it is", "left")]
    table = new_table(sentences.DEFAULTS_TITLE, columns, answers.default_rows(comparison))
    for column, widest in zip(table.columns[:2], DEFAULTS_WIDEST, strict=True):
        column.max_width = widest
        column.overflow = "fold"
    return table


def option_detail(group: GroupResult, option: KeepOption, *, width: int = 100) -> str:
    """Return the whole budget of one option as text: both budgets, breakevens, cash needs."""
    parts: list[RenderableType] = [
        budget_table(sentences.sell_now_title(group), group.sell_now.lines),
        budget_table(sentences.keep_title(group, option), option.lines),
        sentences.gain_line(option),
        breakeven_table(option),
    ]
    if option.cash:
        parts.append(cash_table(option))
    if option.pasture:
        parts.append(sentences.pasture_line(option.pasture))
    if option.energy and not option.energy.too_hopeful:
        parts.append(sentences.energy_line(option.energy))
    return text_of(*parts, *option.notes, width=width)


def comparison_text(comparison: Comparison, *, width: int = 100) -> str:
    """Return the whole answer as text: each group's answer and months, what is left out, cautions."""
    parts: list[RenderableType] = []
    for group in comparison.groups:
        parts += [answers.answer(group), *answers.how_sure(group)]
        if group.keep:
            parts.append(month_table(group, width=width))
        parts += [*(sentences.unavailable_line(each) for each in group.unavailable), *group.notes, ""]
    if len(comparison.groups) > 1:
        parts += [answers.herd_answer(comparison), ""]
    if comparison.defaults_used:
        parts += [defaults_table(comparison)]
    told = [sentences.left_out_line(comparison.left_out)] if comparison.left_out else []
    return text_of(*parts, *told, *_told(comparison), width=width)


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
            sentences.SELL_NOW_BUDGET,
            [(f"{g.group}: {f.day(g.sell_now.sale_date)}", _sheet_rows(g.sell_now.lines)) for g in groups],
        )
    ]
    if kept:
        budgets.append(_budget(sentences.KEEP_BUDGET, [_kept(group, option) for group, option in kept]))
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


def _sheet_rows(lines: Sequence[BudgetLine]) -> list[SharedRow]:
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
        *_sheet_rows(option.lines),
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
        sentences.BREAKEVEN_TITLE,
        "",
        24.0 if len(kept) > 1 else 14.0,
        tuple(group.group for group, _ in kept),
        (Column("Planned", True, 9.5), Column("Even at", True, 9.5)),
        tuple(
            SharedRow("line", name, tuple(c for rows in each for c in rows.get(name, (BLANK, BLANK))))
            for name in names
        ),
    )
