"""Old defaults against new: each change in dollars per head with its interval, moved or not."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from slidefit.regions.change import Change
from slidefit.regions.region import Region
from slidefit.show import formatting, wording
from slidefit.show import region_wording as words
from slidefit.show.charts.style import ACCENT, FAINT, GRID, INK, SMALL_PT, label, literal, new_figure

ROW_IN = 0.27
FRAME_IN = 1.5
WIDE_IN = 7.2


def region_change_chart(old: Region, new: Region, changes: Sequence[Change]) -> Figure:
    """Return the picture of what changed, the price itself apart; filled marks moved beyond noise."""
    shown = [change for change in changes if change.moved is not None][::-1]
    figure, axes = new_figure(height_in=FRAME_IN + ROW_IN * max(len(shown), 1), width_in=WIDE_IN)
    axes.grid(visible=False, axis="y")
    axes.grid(axis="x", color=GRID, linewidth=0.8)
    axes.axvline(0.0, color=INK, linewidth=1.2, gid="no-change")
    for row, change in enumerate(shown):
        axes.hlines(row, change.head_low, change.head_high, color=ACCENT, linewidth=2.0, alpha=0.55)
        axes.plot(
            change.head, row, marker="o", markersize=6, markeredgecolor=ACCENT, linestyle="none",
            markerfacecolor=ACCENT if change.moved else "white", gid=f"{'moved' if change.moved else 'same'}-{row}",
        )  # fmt: skip
        told = f"{words.change_value(change, change.old_now)} to {words.change_value(change, change.new)}"
        axes.annotate(
            literal(told), (1.0, row), xycoords=("axes fraction", "data"), xytext=(6, 0),
            textcoords="offset points", va="center", fontsize=SMALL_PT, color=INK if change.moved else FAINT,
        )  # fmt: skip
    axes.set_yticks(range(len(shown)), [wording.capital(words.change_name(change)) for change in shown])
    axes.tick_params(axis="y", labelsize=SMALL_PT)
    axes.set_ylim(-0.7, max(len(shown), 1) - 0.3)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=6))
    axes.xaxis.set_major_formatter(
        FuncFormatter(lambda value, _: literal(formatting.money(value, sign=True)))
    )
    label(axes, title=words.change_title(old, new), x=words.CHANGE_AXIS, source=words.CHANGE_CHART_SOURCE)
    return figure
