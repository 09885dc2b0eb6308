"""Tables for the terminal: plain in black and white, and readable in 60 columns."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from copy import copy

import pandas as pd
from rich import box
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from slidefit.decision.lookup import months_of
from slidefit.decision.results import BudgetLine, Comparison, GroupResult, KeepOption
from slidefit.show import answers, wording
from slidefit.show import formatting as f

NARROW_COLUMNS = 84
DEFAULTS_WIDEST = (30, 24)


def new_table(
    title: str, columns: Sequence[tuple[str, str]], rows: Iterable[Sequence[str]], *, caption: str = ""
) -> Table:
    """Return a table in the house style.

    Parameters
    ----------
    columns : sequence of (heading, 'left' or 'right')
    rows : iterable of sequences of str
        Shown as they stand: brackets are no markup. Right columns hold numbers and never wrap.
    """
    table = Table(
        title=Text(title, style="bold"), title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False,
        caption=Text(caption) if caption else None, caption_justify="left", header_style="bold",
    )  # fmt: skip
    for heading, side in columns:
        number = side == "right"
        table.add_column(
            Text(heading), justify="right" if number else "left", overflow="fold", no_wrap=number
        )
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    return table


def text_of(*parts: RenderableType, width: int = 100) -> str:
    """Return tables and lines as plain text, ``width`` columns at most; a table's title may be wider than it."""
    out = io.StringIO()
    console = Console(file=out, width=width, color_system=None, highlight=False, legacy_windows=False)
    for number, part in enumerate(parts):
        if isinstance(part, Table):
            bare = copy(part)
            bare.title = bare.caption = None
            lines: list[RenderableType] = [part.title or "", bare, part.caption or ""]
            console.print(*([""] if number else []), *filter(None, lines), sep="\n")
        else:
            console.print(Text(part) if isinstance(part, str) else part)
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"


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
                wording.interval(float(row["percent_low"]), float(row["percent_high"])),
                f.money_cents(float(row["dollars_per_cwt_per_cwt"])),
                *([f.percent(float(row["percent_today"]))] if today else []),
            )
        )  # fmt: skip
    return new_table(wording.SLIDE_TITLE, columns, rows, caption=wording.SLIDE_CAPTION)


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
    return new_table(wording.SEASON_TITLE, columns, rows, caption=wording.SEASON_CAPTION)


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
    return new_table(wording.month_title(group), columns, rows, caption=wording.MONTH_CAPTION)


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
        parts.append(new_table(f"{group}: by date of sale", columns, cells, caption=wording.MONTH_CAPTION))
    notes = [f"{group.group}: {note}" for group in comparison.groups for note in group.notes]
    return text_of(*parts, *notes, *_told(comparison), width=width)


def _told(comparison: Comparison) -> list[str]:
    """Return what goes with every answer: whether the records are enough, notes and cautions."""
    verdict = [wording.verdict_line(comparison.verdict)] if comparison.verdict else []
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
        wording.BREAKEVEN_TITLE, columns, [answers.breakeven_row(each) for each in option.breakevens]
    )


def cash_table(option: KeepOption) -> Table:
    """Return the cash that keeping calls for, month by month."""
    columns = [("Month", "left"), ("Cash out", "right"), ("In all so far", "right")]
    rows = [(f.sale_month(c.month), f.money(c.amount_herd), f.money(c.total_herd)) for c in option.cash]
    return new_table(wording.cash_title(option.head_kept), columns, rows)


def defaults_table(comparison: Comparison) -> Table:
    """Return the plan fields that were left out and the values taken for them."""
    columns = [("Field", "left"), ("Taken as", "left"), ("What it is", "left")]
    table = new_table(wording.DEFAULTS_TITLE, columns, answers.default_rows(comparison))
    for column, widest in zip(table.columns[:2], DEFAULTS_WIDEST, strict=True):
        column.max_width = widest
        column.overflow = "fold"
    return table


def option_detail(group: GroupResult, option: KeepOption, *, width: int = 100) -> str:
    """Return the whole budget of one option as text: both budgets, breakevens, cash needs."""
    parts: list[RenderableType] = [
        budget_table(wording.sell_now_title(group), group.sell_now.lines),
        budget_table(wording.keep_title(group, option), option.lines),
        wording.gain_line(option),
        breakeven_table(option),
    ]
    if option.cash:
        parts.append(cash_table(option))
    if option.pasture:
        parts.append(wording.pasture_line(option.pasture))
    if option.energy and not option.energy.too_hopeful:
        parts.append(wording.energy_line(option.energy))
    return text_of(*parts, *option.notes, width=width)


def comparison_text(comparison: Comparison, *, width: int = 100) -> str:
    """Return the whole answer as text: each group's answer and months, what is left out, cautions."""
    parts: list[RenderableType] = []
    for group in comparison.groups:
        parts += [answers.answer(group), *answers.how_sure(group)]
        if group.keep:
            parts.append(month_table(group, width=width))
        parts += [*(wording.unavailable_line(each) for each in group.unavailable), *group.notes, ""]
    if len(comparison.groups) > 1:
        parts += [answers.herd_answer(comparison), ""]
    if comparison.defaults_used:
        parts += [defaults_table(comparison)]
    told = [wording.left_out_line(comparison.left_out)] if comparison.left_out else []
    return text_of(*parts, *told, *_told(comparison), width=width)
