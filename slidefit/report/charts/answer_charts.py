"""Gain by month, what would change it, replay."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import date
from itertools import pairwise

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, TwoSlopeNorm
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from slidefit.decision.replay import Replay
from slidefit.decision.results import GroupResult, KeepOption
from slidefit.decision.risk.answer_changes import AnswerRange, FlipGrid, FlipResult
from slidefit.report import answers, formatting, sentences
from slidefit.report.charts.style import (
    FAINT,
    GRID,
    HALO,
    HEIGHT_IN,
    INK,
    LOOKS,
    SMALL_PT,
    LineStyle,
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
        title=f"Gain from keeping {group.group}, by month of sale",
        y=sentences.GAIN_AXIS,
        source=sentences.GAIN_SOURCE,
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
    every[0].set_ylabel(sentences.GAIN_AXIS_SHORT, fontsize=SMALL_PT, color=INK)
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
    axes.axhline(0.0, color=INK, linewidth=1.4, gid="selling-now", label=sentences.ZERO_LINE)
    for rank, program in enumerate(programs):
        options = sorted((o for o in group.keep if o.program == program), key=lambda o: o.sale_date)
        if options:
            _program(axes, options, _offset(rank, len(programs), gap), LOOKS[rank % len(LOOKS)], mark_pt)
    _frame(axes, days, gap, months)
    _mark_best(axes, group, programs, gap)


def _offset(rank: int, programs: int, gap: int) -> float:
    return (rank - (programs - 1) / 2.0) * SPREAD_SHARE * gap / programs


def _program(axes: Axes, options: list[KeepOption], offset: float, look: LineStyle, mark_pt: float) -> None:
    program = options[0].program
    at = np.array([option.sale_date.toordinal() + offset for option in options])
    low, high = [option.p10 for option in options], [option.p90 for option in options]
    axes.vlines(at, low, high, color=look.color, linewidth=0.75 * mark_pt, alpha=0.35, gid=f"range-{program}")
    axes.plot(
        at, [option.gain_per_head for option in options], color=look.color, linestyle=look.dash,
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


ROW_IN, PRINTED_ROW_IN = 0.34, 0.21
FRAME_IN, PRINTED_FRAME_IN = 1.7, 1.2
PRINTED_WIDTH_IN = 7.3
LOSS_SHADE, EVEN_SHADE, GAIN_SHADE = "#e7b366", "#ffffff", "#7fb2d6"
LOW_END, HIGH_END = "#7fb2d6", "#0b4f7a"
NUMBERS_A_SIDE = 6


def swings_chart(result: FlipResult, *, printed: bool = False) -> Figure:
    """Return the picture of one-at-a-time swings of an option, the widest on top.

    The bars meet at the gain from keeping as planned; a star marks an input that flips the answer in its range.

    Parameters
    ----------
    printed : bool
        As wide as a printed page, and low, its letters as they are read on paper.
    """
    ranked = result.swings[::-1]
    rows = max(len(ranked), 1)
    figure, axes = (
        new_figure(height_in=PRINTED_FRAME_IN + PRINTED_ROW_IN * rows, width_in=PRINTED_WIDTH_IN)
        if printed
        else new_figure(height_in=FRAME_IN + ROW_IN * rows)
    )
    axes.grid(visible=False, axis="y")
    axes.grid(axis="x", color=GRID, linewidth=0.8)
    for row, swing in enumerate(ranked):
        _swing(axes, row, swing, result.gain_per_head)
    axes.axvline(0.0, color=INK, linewidth=1.4, gid="selling-now")
    axes.axvline(result.gain_per_head, color=FAINT, linewidth=1.2, linestyle="--", gid="planned")
    names = [f"{sentences.capital(swing.label)}{' *' if swing.flips else ''}" for swing in ranked]
    axes.set_yticks(range(len(ranked)), [literal(name) for name in names])
    axes.set_ylim(-0.6, rows - 0.4)
    axes.margins(x=0.15 if printed else 0.30)
    if printed:
        axes.tick_params(labelsize=SMALL_PT)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=5))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: literal(formatting.money(value))))
    label(
        axes,
        title=sentences.swings_title(result),
        x=sentences.GAIN_AXIS,
        source=sentences.swings_source(result.gain_per_head),
    )
    return figure


def _swing(axes: Axes, row: int, swing: AnswerRange, planned_gain: float) -> None:
    gains = (swing.gain_low, swing.gain_high)
    for side, (gain, end) in enumerate(zip(gains, (swing.low, swing.high), strict=True)):
        axes.barh(
            row, gain - planned_gain, left=planned_gain, height=0.55, color=(LOW_END, HIGH_END)[side],
            linewidth=0, gid=f"swing-{swing.name}-{('low', 'high')[side]}",
        )  # fmt: skip
        outward = gain > gains[1 - side] or (gain == gains[1 - side] and side == 1)
        axes.annotate(
            literal(formatting.measure(end, swing.unit)), (gain, row), xytext=(4 if outward else -4, 0),
            textcoords="offset points", ha="left" if outward else "right", va="center", fontsize=SMALL_PT,
            color=INK, path_effects=HALO, zorder=5,
        )  # fmt: skip


def flip_grid_chart(grid: FlipGrid) -> Figure:
    """Return the picture of the gain from keeping over two inputs, with the line where it tips over."""
    figure, axes = new_figure()
    axes.grid(visible=False)
    x, y, gain = np.array(grid.x_values), np.array(grid.y_values), np.array(grid.gains)
    reach = max(float(np.max(np.abs(gain))), 1.0)
    shades = LinearSegmentedColormap.from_list("gain", [LOSS_SHADE, EVEN_SHADE, GAIN_SHADE])
    axes.pcolormesh(
        x, y, gain, cmap=shades, norm=TwoSlopeNorm(0.0, -reach, reach), shading="nearest", rasterized=True,
        gid="gain",
    )  # fmt: skip
    if gain.min() < 0.0 < gain.max():
        axes.contour(x, y, gain, levels=[0.0], colors=INK, linewidths=2.0).set_gid("flip-line")
    for row in _spread_places(len(y)):
        for column in _spread_places(len(x)):
            axes.text(
                float(x[column]), float(y[row]), literal(formatting.money(float(gain[row, column]), sign=True)),
                ha="center", va="center", fontsize=SMALL_PT - 0.5, color=INK, path_effects=HALO, zorder=5,
            )  # fmt: skip
    axes.plot(
        grid.x.planned, grid.y.planned, marker="s", markersize=13, markerfacecolor="none", markeredgecolor=INK,
        markeredgewidth=1.6, gid="planned",
    )  # fmt: skip
    axes.xaxis.set_major_locator(MaxNLocator(nbins=7))
    label(
        axes,
        title=sentences.grid_title(grid),
        x=f"{sentences.capital(grid.x.label)}, {grid.x.unit}",
        y=f"{sentences.capital(grid.y.label)}, {grid.y.unit}",
        source=sentences.GRID_SOURCE,
    )
    return figure


def _spread_places(count: int) -> list[int]:
    """Return a few places spread evenly over a side of the grid, away from its edges."""
    steps = min(count, NUMBERS_A_SIDE)
    return sorted({round((k + 0.5) * count / steps - 0.5) for k in range(steps)})


RULES = (("always_keep", "always keeping"), ("advice", "following the advice"), ("hindsight", "hindsight"))
BAR_WIDTH = 0.26
SOURCE_COLUMNS = 80


def replay_chart(money: Replay, months_kept: int) -> Figure:
    """Return the picture of dollars a head by year for each rule, against selling at once.

    Raises
    ------
    FitError
        That number of months was not replayed.
    """
    table = money.by_year(months_kept)
    figure, axes = new_figure()
    places = np.arange(len(table))
    for rank, (name, words) in enumerate(RULES):
        look = LOOKS[rank]
        axes.bar(
            places + (rank - 1) * BAR_WIDTH, [row[name] for row in table], BAR_WIDTH, label=words, color=look.color,
            hatch=("", "//", "..")[rank], edgecolor="white", linewidth=0.5,
        )  # fmt: skip
    axes.axhline(0.0, color="black", linewidth=1.2)
    axes.set_xticks(places, [f"{row['year']}\n{row['decisions']}" for row in table])
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: literal(formatting.money(value))))
    legend(axes, "upper left")
    label(
        axes,
        title=sentences.replay_year_title(months_kept),
        x="Year decided in, and number of decisions",
        y="Gain over selling at once, dollars per head",
        source=textwrap.fill(sentences.keeping_line(money.keeping), SOURCE_COLUMNS),
    )
    return figure
