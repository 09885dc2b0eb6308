"""What would flip the answer: one input at a time, and two at once with the line where it tips over."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, TwoSlopeNorm
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from slidefit.decision.flips import FlipGrid, FlipResult, Swing
from slidefit.show import formatting, wording
from slidefit.show.charts.style import (
    FAINT,
    GRID,
    HALO,
    INK,
    SMALL_PT,
    label,
    literal,
    new_figure,
)

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
    names = [f"{wording.capital(swing.label)}{' *' if swing.flips else ''}" for swing in ranked]
    axes.set_yticks(range(len(ranked)), [literal(name) for name in names])
    axes.set_ylim(-0.6, rows - 0.4)
    axes.margins(x=0.15 if printed else 0.30)
    if printed:
        axes.tick_params(labelsize=SMALL_PT)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=5))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: literal(formatting.money(value))))
    label(
        axes,
        title=wording.swings_title(result),
        x=wording.GAIN_AXIS,
        source=wording.swings_source(result.gain_per_head),
    )
    return figure


def _swing(axes: Axes, row: int, swing: Swing, planned_gain: float) -> None:
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
        title=wording.grid_title(grid),
        x=f"{wording.capital(grid.x.label)}, {grid.x.unit}",
        y=f"{wording.capital(grid.y.label)}, {grid.y.unit}",
        source=wording.GRID_SOURCE,
    )
    return figure


def _spread_places(count: int) -> list[int]:
    """Return a few places spread evenly over a side of the grid, away from its edges."""
    steps = min(count, NUMBERS_A_SIDE)
    return sorted({round((k + 0.5) * count / steps - 0.5) for k in range(steps)})
