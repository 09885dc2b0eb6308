"""Each market's slide, its own and drawn toward the pool, with intervals."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from slidefit.regions.drawn import DrawnSlide
from slidefit.show import region_wording as words
from slidefit.show import wording
from slidefit.show.charts.style import GRID, SEX_LOOKS, SMALL_PT, label, new_figure, short_label

ROW_IN = 0.42
FRAME_IN = 1.5
APART = 0.16
NORMAL_975 = 1.959964
WIDE_IN = 7.2


def pooling_chart(slides: Sequence[DrawnSlide], pool: dict[str, float]) -> Figure:
    """Return the picture of own and drawn slides at 550 lb.

    Parameters
    ----------
    pool : mapping of sex to the pool's own slide at 550 lb [percent per cwt]
    """
    rows = list(slides)[::-1]
    figure, axes = new_figure(height_in=FRAME_IN + ROW_IN * max(len(rows), 1), width_in=WIDE_IN)
    axes.grid(visible=False, axis="y")
    axes.grid(axis="x", color=GRID, linewidth=0.8)
    for row, slide in enumerate(rows):
        look = SEX_LOOKS[slide.sex]
        for value, se, side, filled in (
            (slide.own, slide.own_se, APART, False),
            (slide.drawn, slide.drawn_se, -APART, True),
        ):
            reach = NORMAL_975 * se
            axes.hlines(
                row + side, value - reach, value + reach, color=look.colour, linewidth=1.8, alpha=0.55
            )
            axes.plot(
                value, row + side, marker=look.marker, markersize=6, linestyle="none", markeredgecolor=look.colour,
                markerfacecolor=look.colour if filled else "white", gid=f"{'drawn' if filled else 'own'}-{row}",
            )  # fmt: skip
        if slide.sex in pool:
            axes.vlines(
                pool[slide.sex], row - 0.45, row + 0.45, color=look.colour, linewidth=1.2, linestyle="--"
            )
    names = [
        f"{short_label(slide.market or words.NAMELESS)}\n{slide.sex}s, {slide.lots:,} lots" for slide in rows
    ]
    axes.set_yticks(range(len(rows)), [wording.capital(name) for name in names])
    axes.tick_params(axis="y", labelsize=SMALL_PT)
    axes.set_ylim(-0.7, max(len(rows), 1) - 0.3)
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f}%"))
    label(axes, title=words.DRAWN_TITLE, x=words.DRAWN_AXIS, source=words.DRAWN_SOURCE)
    return figure
