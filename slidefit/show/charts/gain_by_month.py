"""Gain from keeping by date of sale: each program's budget and the range of outcomes, against selling now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from slidefit.decision.results import GroupResult, KeepOption
from slidefit.show import answers, formatting, wording
from slidefit.show.charts.style import (
    GRID,
    HALO,
    HEIGHT_IN,
    INK,
    LOOKS,
    SMALL_PT,
    Look,
    label,
    legend,
    literal,
    new_figure,
    new_figures,
    short_label,
)

MONTH_TICKS = 14
SPREAD_SHARE = 0.5
SHORT_NAME_CHARS = 14
LEGEND_ROW_IN = 0.21
PAPER_WIDTH_IN, PAPER_HEIGHT_IN = 7.3, 1.65
PAPER_TICKS = 6
PAPER_LEGEND_COLUMNS = 4
MARK_PT, SMALL_MARK_PT = 6.5, 4.5


def gain_by_month(group: GroupResult) -> Figure:
    """Return the picture of the gain from keeping a group, by date of sale.

    Notes
    -----
    Each bar holds eight outcomes in ten for that program and date; the bars of two dates share the same price
    draws, so overlapping bars can still be told apart (see the odds).
    """
    programs = list(dict.fromkeys(option.program for option in group.keep))
    columns = 1 if max(map(len, programs), default=0) > SHORT_NAME_CHARS else 3
    extra_rows = max(-(-(len(programs) + 1) // columns) - 2, 0)
    figure, axes = new_figure(height_in=HEIGHT_IN + LEGEND_ROW_IN * extra_rows)
    _plot(axes, group, programs, MARK_PT)
    legend(axes, "above", columns=columns)
    label(
        axes,
        title=wording.gain_title(group.group),
        y=wording.GAIN_AXIS,
        source=wording.GAIN_SOURCE,
    )
    return figure


def gains_side_by_side(groups: Sequence[GroupResult]) -> Figure:
    """Return the same of several groups side by side on one scale, at the size and in the letters of a printed page."""
    programs = list(dict.fromkeys(option.program for group in groups for option in group.keep))
    rows = -(-(len(programs) + 1) // PAPER_LEGEND_COLUMNS)
    figure, every = new_figures(
        len(groups), width_in=PAPER_WIDTH_IN, height_in=PAPER_HEIGHT_IN + LEGEND_ROW_IN * rows
    )
    for axes, group in zip(every, groups, strict=True):
        _plot(axes, group, programs, SMALL_MARK_PT, months=PAPER_TICKS if len(groups) > 1 else MONTH_TICKS)
        axes.tick_params(labelsize=SMALL_PT)
        axes.yaxis.set_major_locator(MaxNLocator(nbins=4, steps=[1, 2, 2.5, 5, 10]))
        if len(groups) > 1:
            title = literal(short_label(group.group))
            axes.set_title(title, fontsize=SMALL_PT + 0.5, fontweight="bold", color=INK, loc="left")
    every[0].set_ylabel(wording.GAIN_AXIS_SHORT, fontsize=SMALL_PT, color=INK)
    names: dict[str, Artist] = {}
    for axes in every:
        handles, told = axes.get_legend_handles_labels()
        names = {**dict(zip(told, handles, strict=True)), **names}
    figure.legend(
        list(names.values()), list(names), loc="outside upper left", frameon=False, fontsize=SMALL_PT,
        labelcolor=INK, ncols=PAPER_LEGEND_COLUMNS, handlelength=2.6, borderaxespad=0.1, columnspacing=1.4,
    )  # fmt: skip
    return figure


def _plot(
    axes: Axes, group: GroupResult, programs: list[str], mark_pt: float, *, months: int = MONTH_TICKS
) -> None:
    days = sorted({option.sale_date for option in group.keep})
    gap = min((b - a).days for a, b in pairwise(days)) if len(days) > 1 else 30
    axes.axhline(0.0, color=INK, linewidth=1.4, gid="selling-now", label=wording.ZERO_LINE)
    for rank, program in enumerate(programs):
        options = sorted((o for o in group.keep if o.program == program), key=lambda o: o.sale_date)
        if options:
            _program(axes, options, _offset(rank, len(programs), gap), LOOKS[rank % len(LOOKS)], mark_pt)
    _frame(axes, days, gap, months)
    _mark_best(axes, group, programs, gap)


def _offset(rank: int, programs: int, gap: int) -> float:
    return (rank - (programs - 1) / 2.0) * SPREAD_SHARE * gap / programs


def _program(axes: Axes, options: list[KeepOption], offset: float, look: Look, mark_pt: float) -> None:
    program = options[0].program
    at = np.array([option.sale_date.toordinal() + offset for option in options])
    low, high = [option.p10 for option in options], [option.p90 for option in options]
    axes.vlines(
        at, low, high, color=look.colour, linewidth=0.75 * mark_pt, alpha=0.35, gid=f"range-{program}"
    )
    axes.plot(
        at, [option.gain_per_head for option in options], color=look.colour, linestyle=look.dash,
        linewidth=1.3, marker=look.marker, markersize=mark_pt, label=literal(short_label(program)),
        gid=f"gain-{program}",
    )  # fmt: skip


def _mark_best(axes: Axes, group: GroupResult, programs: list[str], gap: int) -> None:
    option = answers.best_option(group)
    if option is None:
        return
    at = option.sale_date.toordinal() + _offset(programs.index(option.program), len(programs), gap)
    axes.annotate(
        literal(formatting.money(option.gain_per_head, sign=True)), (at, option.gain_per_head), xytext=(7, 7),
        textcoords="offset points", fontsize=SMALL_PT + 1, fontweight="bold", color=INK, gid="best",
        path_effects=HALO, zorder=5,
    )  # fmt: skip


def _frame(axes: Axes, days: list[date], gap: int, most_ticks: int) -> None:
    if not days:
        return
    first, last = days[0].toordinal() - 0.7 * gap, days[-1].toordinal() + 0.7 * gap
    axes.set_xlim(first, last)
    months: dict[tuple[int, int], date] = {}
    for day in days:
        months.setdefault((day.year, day.month), day)
    ticks = list(months.values())
    step = -(-len(ticks) // most_ticks)
    shown = ticks[::step]
    names = [formatting.month_name(day.month, short=True) for day in shown]
    years = [
        f"\n{day.year}" if i == 0 or shown[i - 1].year != day.year else "" for i, day in enumerate(shown)
    ]
    axes.set_xticks([day.toordinal() for day in shown], [a + b for a, b in zip(names, years, strict=True)])
    axes.grid(axis="x", color=GRID, linewidth=0.5)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: literal(formatting.money(value))))
