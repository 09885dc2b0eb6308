"""The slide by weight: how much of the price another hundredweight takes off, with its interval."""

from __future__ import annotations

import pandas as pd
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from slidefit.market.outlook import OutlookBasis
from slidefit.show import wording
from slidefit.show.charts.style import INK, LINE_PT, SEX_LOOKS, label, legend, new_figure


def slide_by_weight(slides: pd.DataFrame, basis: OutlookBasis) -> Figure:
    """Return the picture of the slide by weight over the whole year.

    Parameters
    ----------
    slides : DataFrame
        ``sex``, ``from_lb``, ``to_lb``, ``month`` (missing for the year), ``percent_per_cwt``,
        ``percent_low``, ``percent_high``; rows of single months are left out.
    """
    figure, axes = new_figure()
    whole_year = slides[slides["month"].isna()]
    axes.axhline(0.0, color=INK, linewidth=1.0, gid="no-slide")
    for sex in (name for name in SEX_LOOKS if name in set(whole_year["sex"])):
        look = SEX_LOOKS[sex]
        rows = whole_year[whole_year["sex"] == sex].sort_values("from_lb")
        middle = (rows["from_lb"] + rows["to_lb"]).to_numpy(dtype=float) / 2.0
        low, high = rows["percent_low"].to_numpy(dtype=float), rows["percent_high"].to_numpy(dtype=float)
        axes.fill_between(middle, low, high, color=look.colour, alpha=0.20, linewidth=0, gid=f"band-{sex}")
        axes.plot(
            middle, rows["percent_per_cwt"].to_numpy(dtype=float), color=look.colour, linestyle=look.dash,
            linewidth=LINE_PT, marker=look.marker, markersize=5, label=f"{sex}s", gid=f"slide-{sex}",
        )  # fmt: skip
    axes.set_ylim(min(axes.get_ylim()[0], 0.0), max(axes.get_ylim()[1], 1.0))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f}%"))
    legend(axes)
    label(
        axes,
        title=wording.SLIDE_TITLE,
        x="Weight at the middle of the step, lb",
        y="Fall in price for 100 lb more, percent",
        source=wording.slide_source(basis),
    )
    return figure
