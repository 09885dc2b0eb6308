"""The report: one page of HTML that stands alone, for the kitchen table and for the lender."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pandas as pd
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from matplotlib.figure import Figure

from slidefit.decision.flips import FlipResult
from slidefit.decision.results import BudgetLine, Comparison, GroupResult, KeepOption
from slidefit.market.outlook import Outlook
from slidefit.show import answers, wording
from slidefit.show import formatting as f
from slidefit.show.charts.flip import swings_chart
from slidefit.show.charts.gain_by_month import gain_by_month
from slidefit.show.charts.price_by_weight import price_by_weight
from slidefit.show.charts.season import season_chart
from slidefit.show.charts.style import rendered

Row = tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """A chart as it goes into the page: the image itself as a data address, and what it shows in words."""

    address: str
    alt: str


@dataclass(frozen=True)
class BudgetPart:
    """One budget of the page."""

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
    """One group's part of the page, all of it already text."""

    name: str
    answer: str
    how_sure: tuple[str, ...]
    picture: Picture | None
    programs: tuple[ProgramPart, ...]
    sell_now: BudgetPart
    keep: BudgetPart | None
    gain_line: str
    breakevens: tuple[Row, ...]
    notes: tuple[str, ...]


def report_html(
    comparison: Comparison,
    outlook: Outlook,
    *,
    records: pd.DataFrame | None = None,
    season: pd.DataFrame | None = None,
    flips: Sequence[FlipResult] = (),
    title: str = "Keep or sell",
) -> str:
    """Return the report as the text of one HTML page that needs no other file and no network.

    Parameters
    ----------
    records : DataFrame or None
        Tidy sale records, to be shown behind the price curve.
    season : DataFrame or None
        ``month``, ``index``, ``low``, ``high``; its picture is left out without it.
    flips : sequence of FlipResult
        Swings, one option a group; what flips a group's answer is told beside it.
    """
    market = [(price_by_weight(outlook, records), wording.price_picture_alt(outlook))]
    if season is not None:
        market.append((season_chart(season, outlook.basis), wording.season_picture_alt(season)))
    return page_template("report.html.j2").render(
        title=title,
        as_of=f.day(comparison.as_of),
        groups=[_group_part(group, flips) for group in comparison.groups],
        flips=[
            (flip.group, picture_of(swings_chart(flip), wording.swings_picture_alt(flip))) for flip in flips
        ],
        herd=answers.herd_answer(comparison) if len(comparison.groups) > 1 else "",
        market=[picture_of(figure, alt) for figure, alt in market],
        rests_on=answers.rests_on(comparison, outlook.basis),
        notes=list(dict.fromkeys((*outlook.notes, *comparison.notes))),
        left_out=comparison.left_out,
        cautions=comparison.cautions,
        defaults=[(d.field, f"{d.value} {d.unit}".strip(), d.meaning) for d in comparison.defaults_used],
        wording=wording,
    )


@cache
def page_template(name: str) -> Template:
    """Return a page's template by its file name, escaping what is put into it."""
    folder = Path(__file__).parent / "templates"
    environment = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)


def picture_of(figure: Figure, alt: str) -> Picture:
    """Return a figure as a picture that a page holds in itself."""
    data = base64.b64encode(rendered(figure, "svg")).decode()
    return Picture(f"data:image/svg+xml;base64,{data}", alt)


def _group_part(group: GroupResult, flips: Sequence[FlipResult]) -> GroupPart:
    shown = answers.shown_option(group)
    return GroupPart(
        name=group.group,
        answer=answers.answer(group),
        how_sure=(
            *answers.how_sure(group),
            *(wording.flip_line(flip) for flip in flips if flip.group == group.group),
        ),
        picture=picture_of(gain_by_month(group), wording.gain_picture_alt(group)) if group.keep else None,
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
        tuple(_month_row(option, monthly) for option in options),
        options.index(best) if best is not None and best in options else None,
    )


def _month_row(option: KeepOption, monthly: bool) -> Row:
    return (
        f.sale_month(option.sale_month, short=True) if monthly else f.day(option.sale_date),
        f.weight_lb(option.weight_lb, forecast=True),
        f.price_cwt(option.price_cwt, forecast=True),
        f.money(option.gain_per_head, sign=True),
        f"{f.money(option.p10)} to {f.money(option.p90)}",
        f.odds_percent(option.odds),
    )
