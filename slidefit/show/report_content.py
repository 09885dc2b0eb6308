"""What the report says, once for the page and for the PDF: every sentence, table and picture, none of it laid out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd
from matplotlib.figure import Figure

from slidefit.decision.flips import FlipResult
from slidefit.decision.results import BudgetLine, Comparison, GroupResult, KeepOption
from slidefit.market.outlook import Outlook
from slidefit.market.record_table import RecordTable
from slidefit.show import answers, paper, wording
from slidefit.show import formatting as f
from slidefit.show.charts.flip import swings_chart
from slidefit.show.charts.gain_by_month import gain_by_month, gains_side_by_side
from slidefit.show.charts.price_by_weight import price_by_weight
from slidefit.show.charts.season import season_chart

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

    tables: paper.Sheet
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
    market = [Chart(price_by_weight(outlook, records), wording.price_picture_alt(outlook))]
    if season is not None:
        market.append(Chart(season_chart(season, outlook.basis), wording.season_picture_alt(season)))
    groups = tuple(_group_part(group, flips) for group in comparison.groups)
    notes = [wording.sentence(note) for note in dict.fromkeys((*outlook.notes, *comparison.notes))]
    return Report(
        title=title or wording.REPORT_TITLE,
        as_of=f.day(comparison.as_of),
        groups=groups,
        herd=answers.herd_answer(comparison) if len(comparison.groups) > 1 else "",
        flips=tuple(
            (flip.group, Chart(swings_chart(flip), wording.swings_picture_alt(flip))) for flip in flips
        ),
        market=tuple(market),
        rests_on=(*answers.rests_on(comparison, outlook.basis), *notes),
        left_out=wording.left_out_line(comparison.left_out) if comparison.left_out else "",
        cautions=comparison.cautions,
        defaults=answers.default_rows(comparison),
        sheets=tuple(_printed(sheet, flips) for sheet in paper.sheets_of(comparison.groups)),
        group_notes=paper.shared_notes((part.name, part.notes) for part in groups),
    )


def _printed(sheet: paper.Sheet, flips: Sequence[FlipResult]) -> PrintedSheet:
    kept = [group for group in sheet.groups if group.keep]
    gains = Chart(gains_side_by_side(kept), " ".join(map(wording.gain_picture_alt, kept))) if kept else None
    mine = [flip for flip in flips if flip.group == sheet.groups[0].group] if len(sheet.groups) == 1 else []
    swings = Chart(swings_chart(mine[0], printed=True), wording.swings_picture_alt(mine[0])) if mine else None
    return PrintedSheet(sheet, gains, swings)


def _group_part(group: GroupResult, flips: Sequence[FlipResult]) -> GroupPart:
    shown = answers.shown_option(group)
    return GroupPart(
        name=group.group,
        answer=answers.answer(group),
        how_sure=tuple(answers.how_sure(group)),
        flips=tuple(wording.flip_line(flip) for flip in flips if flip.group == group.group),
        chart=Chart(gain_by_month(group), wording.gain_picture_alt(group)) if group.keep else None,
        programs=tuple(
            _program_part(group, program) for program in dict.fromkeys(o.program for o in group.keep)
        ),
        sell_now=_budget_part(wording.sell_now_title(group), group.sell_now.lines),
        keep=None if shown is None else _budget_part(wording.keep_title(group, shown), shown.lines),
        gain_line="" if shown is None else wording.gain_line(shown),
        breakevens=() if shown is None else tuple(answers.breakeven_row(each) for each in shown.breakevens),
        notes=(
            *_feed_lines(shown),
            *group.notes,
            *(() if shown is None else shown.notes),
            *(wording.unavailable_line(each) for each in group.unavailable),
        ),
    )


def _feed_lines(option: KeepOption | None) -> list[str]:
    if option is None:
        return []
    pasture = [wording.pasture_line(option.pasture)] if option.pasture else []
    hopeful = option.energy is None or option.energy.too_hopeful
    return pasture + ([] if hopeful or option.energy is None else [wording.energy_line(option.energy)])


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
