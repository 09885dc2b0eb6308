"""Comparison, report, what would change it, sorting: as documents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd
from matplotlib.figure import Figure
from rich.console import RenderableType
from rich.table import Table

from slidefit.decision.results import SELL_NOW, BudgetLine, Comparison, GroupResult, KeepOption
from slidefit.decision.risk.answer_changes import FlipGrid, FlipResult
from slidefit.decision.risk.sorting import Sorting
from slidefit.market.fit.coding import RecordTable
from slidefit.market.outlook import Outlook
from slidefit.report import answer_tables, answers, sentences
from slidefit.report import formatting as f
from slidefit.report.charts.answer_charts import gain_by_month, gains_side_by_side, swings_chart
from slidefit.report.charts.market_charts import price_by_weight, season_chart
from slidefit.report.terminal_tables import new_table, text_of

Row = tuple[str, ...]


@dataclass(frozen=True)
class Chart:
    """A picture and what it shows in words."""

    figure: Figure
    alt: str


@dataclass(frozen=True)
class BudgetPart:
    """One budget."""

    title: str
    rows: tuple[Row, ...]
    totals: tuple[Row, ...]


@dataclass(frozen=True)
class ProgramPart:
    """One program's months of sale."""

    name: str
    rows: tuple[Row, ...]
    best_row: int | None


@dataclass(frozen=True)
class GroupPart:
    """One group, all of it already text."""

    name: str
    answer: str
    how_sure: tuple[str, ...]
    flips: tuple[str, ...]
    chart: Chart | None
    programs: tuple[ProgramPart, ...]
    sell_now: BudgetPart
    keep: BudgetPart | None
    gain_line: str
    breakevens: tuple[Row, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class PrintedSheet:
    """The tables of up to three groups as they are printed, with the pictures at the size of paper."""

    tables: answer_tables.Sheet
    gains: Chart | None
    swings: Chart | None


@dataclass(frozen=True)
class Report:
    """The whole report.

    Attributes
    ----------
    groups, flips, market, defaults
        What the screen shows: each group apart, with its pictures.
    sheets, group_notes
        What is printed in their place: the groups side by side.
    """

    title: str
    as_of: str
    groups: tuple[GroupPart, ...]
    herd: str
    flips: tuple[tuple[str, Chart], ...]
    market: tuple[Chart, ...]
    rests_on: tuple[str, ...]
    left_out: str
    cautions: tuple[str, ...]
    defaults: tuple[Row, ...]
    sheets: tuple[PrintedSheet, ...]
    group_notes: tuple[str, ...]


def report_of(
    comparison: Comparison,
    outlook: Outlook,
    *,
    records: pd.DataFrame | RecordTable | None = None,
    season: pd.DataFrame | None = None,
    flips: Sequence[FlipResult] = (),
    title: str = "",
) -> Report:
    """Return the report of a comparison.

    Parameters
    ----------
    records : DataFrame, RecordTable or None
        Tidy sale records, to be shown behind the price curve.
    season : DataFrame or None
        ``month``, ``index``, ``low``, ``high``; its picture is left out without it.
    flips : sequence of FlipResult
        Swings, one option a group; what flips a group's answer is told beside it.
    title : str
        The plan's name; "Keep or sell" without one.
    """
    market = [Chart(price_by_weight(outlook, records), sentences.price_picture_alt(outlook))]
    if season is not None:
        market.append(Chart(season_chart(season, outlook.basis), sentences.season_picture_alt(season)))
    groups = tuple(_group_part(group, flips) for group in comparison.groups)
    notes = [sentences.sentence(note) for note in dict.fromkeys((*outlook.notes, *comparison.notes))]
    return Report(
        title=title or sentences.REPORT_TITLE,
        as_of=f.day(comparison.as_of),
        groups=groups,
        herd=answers.herd_answer(comparison) if len(comparison.groups) > 1 else "",
        flips=tuple(
            (flip.group, Chart(swings_chart(flip), sentences.swings_picture_alt(flip))) for flip in flips
        ),
        market=tuple(market),
        rests_on=(*answers.rests_on(comparison, outlook.basis), *notes),
        left_out=sentences.left_out_line(comparison.left_out) if comparison.left_out else "",
        cautions=comparison.cautions,
        defaults=answers.default_rows(comparison),
        sheets=tuple(_printed(sheet, flips) for sheet in answer_tables.sheets_of(comparison.groups)),
        group_notes=answer_tables.shared_notes((part.name, part.notes) for part in groups),
    )


def _printed(sheet: answer_tables.Sheet, flips: Sequence[FlipResult]) -> PrintedSheet:
    kept = [group for group in sheet.groups if group.keep]
    gains = Chart(gains_side_by_side(kept), " ".join(map(sentences.gain_picture_alt, kept))) if kept else None
    mine = [flip for flip in flips if flip.group == sheet.groups[0].group] if len(sheet.groups) == 1 else []
    swings = (
        Chart(swings_chart(mine[0], printed=True), sentences.swings_picture_alt(mine[0])) if mine else None
    )
    return PrintedSheet(sheet, gains, swings)


def _group_part(group: GroupResult, flips: Sequence[FlipResult]) -> GroupPart:
    shown = answers.shown_option(group)
    return GroupPart(
        name=group.group,
        answer=answers.answer(group),
        how_sure=tuple(answers.how_sure(group)),
        flips=tuple(sentences.flip_line(flip) for flip in flips if flip.group == group.group),
        chart=Chart(gain_by_month(group), sentences.gain_picture_alt(group)) if group.keep else None,
        programs=tuple(
            _program_part(group, program) for program in dict.fromkeys(o.program for o in group.keep)
        ),
        sell_now=_budget_part(sentences.sell_now_title(group), group.sell_now.lines),
        keep=None if shown is None else _budget_part(sentences.keep_title(group, shown), shown.lines),
        gain_line="" if shown is None else sentences.gain_line(shown),
        breakevens=() if shown is None else tuple(answers.breakeven_row(each) for each in shown.breakevens),
        notes=(
            *_feed_lines(shown),
            *group.notes,
            *(() if shown is None else shown.notes),
            *(sentences.unavailable_line(each) for each in group.unavailable),
        ),
    )


def _feed_lines(option: KeepOption | None) -> list[str]:
    if option is None:
        return []
    pasture = [sentences.pasture_line(option.pasture)] if option.pasture else []
    hopeful = option.energy is None or option.energy.too_hopeful
    return pasture + ([] if hopeful or option.energy is None else [sentences.energy_line(option.energy)])


def _budget_part(title: str, lines: tuple[BudgetLine, ...]) -> BudgetPart:
    written = [
        (line.kind, (line.label, line.arithmetic, f.money_cents(line.amount_per_head))) for line in lines
    ]
    return BudgetPart(
        title,
        tuple(row for kind, row in written if kind != "total"),
        tuple(row for kind, row in written if kind == "total"),
    )


def _program_part(group: GroupResult, program: str) -> ProgramPart:
    options = sorted((o for o in group.keep if o.program == program), key=lambda option: option.sale_date)
    monthly = len({option.sale_month for option in options}) == len(options)
    best = answers.best_option(group)
    return ProgramPart(
        program,
        tuple((answers.sold_words(o, monthly=monthly), *answers.outcome_cells(o)) for o in options),
        options.index(best) if best is not None and best in options else None,
    )


GRID_COLUMNS = 5


def swings_table(result: FlipResult) -> Table:
    """Return each input's swing over its own range, the widest first."""
    columns = [
        ("Input", "left"), ("From", "right"), ("to", "right"), ("Gain/head from", "right"), ("to", "right"),
        ("Flips at", "left"),
    ]  # fmt: skip
    rows = [
        (
            sentences.capital(s.label), f.measure(s.low, s.unit), f.measure(s.high, s.unit),
            f.money(s.gain_low, sign=True), f.money(s.gain_high, sign=True),
            f.measure(s.flip_at, s.unit) if s.flips else "",
        )
        for s in result.swings
    ]  # fmt: skip
    title = f"{sentences.swings_title(result)} ({f.money(result.gain_per_head, sign=True)} a head as planned)"
    return new_table(title, columns, rows, caption=sentences.SWINGS_CAPTION)


def flips_text(results: Sequence[FlipResult], *, width: int = 100) -> str:
    """Return the swings of every option asked for, each with the sentence on what flips it."""
    parts: list[RenderableType] = []
    for result in results:
        parts += [swings_table(result), sentences.flip_line(result)]
    return text_of(*parts, width=width)


def grid_text(grid: FlipGrid, *, width: int = 100) -> str:
    """Return the gain from keeping over two inputs, five values a side at most, the ends included."""
    across, down = _ends_and_between(len(grid.x_values)), _ends_and_between(len(grid.y_values))
    columns = [
        (sentences.capital(grid.y.label), "left"),
        *((f.measure(grid.x_values[k], grid.x.unit), "right") for k in across),
    ]
    rows = [
        [
            f.measure(grid.y_values[row], grid.y.unit),
            *(f.money(grid.gains[row][column], sign=True) for column in across),
        ]
        for row in down
    ]
    even = [
        f"Even at {f.measure(x, grid.x.unit)} with {grid.y.label} {f.measure(y, grid.y.unit)}."
        for x, y in grid.flip_line[:: max(len(grid.flip_line) - 1, 1)]
    ]
    return text_of(
        new_table(f"{sentences.grid_title(grid)}; {grid.x.label} across", columns, rows), *even, width=width
    )


def _ends_and_between(count: int) -> list[int]:
    steps = min(count, GRID_COLUMNS)
    return sorted({round(k * (count - 1) / max(steps - 1, 1)) for k in range(steps)})


def sorting_text(sorting: Sorting, *, width: int = 100) -> str:
    """Return the best choice at each weight, and what sorting is worth."""
    columns = [("Weight", "right"), ("Best choice", "left"), ("Best gain/head from keeping", "right")]
    rows = [
        (
            f.weight_lb(row.weight_lb),
            SELL_NOW if row.choice == SELL_NOW else f"{row.choice}, sold {f.day(row.sale_date)}",
            f.money(row.gain_per_head, sign=True),
        )
        for row in sorting.rows
    ]
    table = new_table(sentences.sorting_title(sorting), columns, rows)
    return text_of(sentences.sorting_line(sorting), "", table, width=width)
