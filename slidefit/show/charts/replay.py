"""The picture of what each rule made, year by year."""

from __future__ import annotations

import textwrap

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from slidefit.decision.replay import Replay
from slidefit.show import formatting, wording
from slidefit.show.charts.style import LOOKS, label, legend, literal, new_figure

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
            places + (rank - 1) * BAR_WIDTH, table[name], BAR_WIDTH, label=words, color=look.colour,
            hatch=("", "//", "..")[rank], edgecolor="white", linewidth=0.5,
        )  # fmt: skip
    axes.axhline(0.0, color="black", linewidth=1.2)
    axes.set_xticks(
        places, [f"{int(year)}\n{int(n)}" for year, n in zip(table["year"], table["decisions"], strict=True)]
    )
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: literal(formatting.money(value))))
    legend(axes, "upper left")
    label(
        axes,
        title=wording.replay_year_title(months_kept),
        x="Year decided in, and number of decisions",
        y="Gain over selling at once, dollars per head",
        source=textwrap.fill(wording.keeping_line(money.keeping), SOURCE_COLUMNS),
    )
    return figure
