"""What would flip the answer: one input at a time, and two at once with the line where it tips over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, TwoSlopeNorm
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter
from numpy.typing import NDArray

from slidefit.show import formatting, wording
from slidefit.show.charts.style import (
    ACCENT,
    FAINT,
    GRID,
    HALO,
    INK,
    SMALL_PT,
    TEXT_PT,
    label,
    literal,
    new_figure,
)

FloatArray = NDArray[np.float64]

ROW_IN = 0.42
FRAME_IN = 1.6
LOSS_SHADE, EVEN_SHADE, GAIN_SHADE = "#e7b366", "#ffffff", "#7fb2d6"
MAX_CELLS_WITH_NUMBERS = 90


@dataclass(frozen=True)
class SwingBar:
    """One input moved over its own range, all else as planned.

    Attributes
    ----------
    name, low, high : str
        The input, and the two ends of its range as they are to be read, units included.
    gain_low, gain_high : float [$ per head]
        Gain from keeping at each end.
    """

    name: str
    low: str
    high: str
    gain_low: float
    gain_high: float

    @property
    def flips(self) -> bool:
        """Whether keeping pays at one end and not at the other."""
        return self.gain_low * self.gain_high < 0


def swings_chart(what: str, bars: Sequence[SwingBar], planned_gain: float) -> Figure:
    """Return the picture of one-at-a-time swings, the widest on top.

    Parameters
    ----------
    what : str
        The group, program and month, for the title.
    bars : sequence of SwingBar
    planned_gain : float [$ per head]
        Gain from keeping as planned, where all bars meet.
    """
    ranked = sorted(bars, key=lambda bar: abs(bar.gain_high - bar.gain_low))
    figure, axes = new_figure(height_in=FRAME_IN + ROW_IN * max(len(ranked), 1))
    axes.grid(visible=False, axis="y")
    axes.grid(axis="x", color=GRID, linewidth=0.8)
    for row, bar in enumerate(ranked):
        _swing(axes, row, bar, planned_gain)
    axes.axvline(0.0, color=INK, linewidth=1.4, gid="selling-now")
    axes.axvline(planned_gain, color=FAINT, linewidth=1.2, linestyle="--", gid="planned")
    names = [f"{bar.name}{' *' if bar.flips else ''}" for bar in ranked]
    axes.set_yticks(range(len(ranked)), [literal(name) for name in names])
    axes.set_ylim(-0.6, len(ranked) - 0.4)
    axes.margins(x=0.26)
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: literal(formatting.money(value))))
    label(
        axes,
        title=wording.swings_title(what),
        x="Gain over selling now, dollars per head",
        source=wording.swings_source(planned_gain),
    )
    return figure


def _swing(axes: Axes, row: int, bar: SwingBar, planned_gain: float) -> None:
    for side, (gain, words, colour) in enumerate(
        ((bar.gain_low, bar.low, GAIN_SHADE), (bar.gain_high, bar.high, ACCENT))
    ):
        axes.barh(
            row, gain - planned_gain, left=planned_gain, height=0.55, color=colour, linewidth=0,
            gid=f"swing-{side}-{bar.name}",
        )  # fmt: skip
        outward = gain > planned_gain or (gain == planned_gain and side == 1)
        axes.annotate(
            literal(words), (gain, row), xytext=(4 if outward else -4, 0), textcoords="offset points",
            ha="left" if outward else "right", va="center", fontsize=SMALL_PT, color=INK,
            path_effects=HALO, zorder=5,
        )  # fmt: skip


def flip_grid(
    what: str,
    x: tuple[str, FloatArray],
    y: tuple[str, FloatArray],
    gain: FloatArray,
    *,
    planned: tuple[float, float] | None = None,
) -> Figure:
    """Return the picture of the gain from keeping over two inputs, with the line where it tips over.

    Parameters
    ----------
    what : str
        The group, program and month, for the title.
    x, y : (name with unit, values, shape (n,) and (m,))
        Increasing.
    gain : array, shape (m, n) [$ per head]
    planned : (x, y) or None
        Where the plan stands.
    """
    figure, axes = new_figure()
    axes.grid(visible=False)
    (x_name, x_values), (y_name, y_values) = x, y
    reach = max(float(np.nanmax(np.abs(gain))), 1.0)
    shades = LinearSegmentedColormap.from_list("gain", [LOSS_SHADE, EVEN_SHADE, GAIN_SHADE])
    axes.pcolormesh(
        x_values, y_values, gain, cmap=shades, norm=TwoSlopeNorm(0.0, -reach, reach), shading="nearest",
        gid="gain",
    )  # fmt: skip
    if gain.min() < 0.0 < gain.max():
        line = axes.contour(x_values, y_values, gain, levels=[0.0], colors=INK, linewidths=2.0)
        line.set_gid("flip-line")
    if gain.size <= MAX_CELLS_WITH_NUMBERS:
        for row, column in np.ndindex(gain.shape):
            told = formatting.money(float(gain[row, column]), sign=True)
            axes.text(
                float(x_values[column]), float(y_values[row]), literal(told),
                ha="center", va="center", fontsize=SMALL_PT - 0.5, color=INK, path_effects=HALO, zorder=5,
            )  # fmt: skip
    if planned is not None:
        axes.plot(
            *planned, marker="s", markersize=17, markerfacecolor="none", markeredgecolor=INK, gid="planned"
        )
    axes.set_xticks(x_values)
    axes.set_yticks(y_values)
    axes.tick_params(labelsize=TEXT_PT - 1)
    label(
        axes,
        title=wording.grid_title(what),
        x=x_name,
        y=y_name,
        source=wording.grid_source(planned is not None),
    )
    return figure
