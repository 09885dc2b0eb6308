"""The season: each month's price against the year's mean, with its interval."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from slidefit.market.outlook import MONTHS, OutlookBasis
from slidefit.show import formatting, wording
from slidefit.show.charts.style import ACCENT, FAINT, INK, LINE_PT, SMALL_PT, label, new_figure

FLAT = 0.05


def season_chart(season: pd.DataFrame, basis: OutlookBasis) -> Figure:
    """Return the picture of the season.

    Parameters
    ----------
    season : DataFrame
        ``month`` (1 to 12), ``index`` (year mean = 100), ``low``, ``high`` (95 percent interval).
    """
    figure, axes = new_figure()
    month = season["month"].to_numpy(dtype=float)
    index, low, high = (season[name].to_numpy(dtype=float) for name in ("index", "low", "high"))
    axes.axhline(100.0, color=INK, linewidth=1.0, gid="year-mean")
    axes.vlines(month, low, high, color=ACCENT, linewidth=6.0, alpha=0.30, gid="intervals")
    axes.plot(month, index, color=ACCENT, linewidth=LINE_PT, marker="o", markersize=6, gid="index")
    ends = (int(np.argmax(index)), int(np.argmin(index))) if np.ptp(index) >= FLAT else ()
    for at in ends:
        up = index[at] >= 100.0
        axes.annotate(
            f"{formatting.month_name(int(month[at]), short=True)} {index[at]:.1f}",
            (month[at], high[at] if up else low[at]), xytext=(0, 5 if up else -5), textcoords="offset points",
            ha="center", va="bottom" if up else "top", fontsize=SMALL_PT, color=INK,
        )  # fmt: skip
    axes.set_xlim(0.5, MONTHS + 0.5)
    axes.set_xticks(
        range(1, MONTHS + 1), [formatting.month_name(m, short=True) for m in range(1, MONTHS + 1)]
    )
    reach = 1.25 * max(float(np.max(np.abs(np.array([low, high]) - 100.0))), 1.0)
    axes.set_ylim(100.0 - reach, 100.0 + reach)
    axes.yaxis.set_major_locator(MaxNLocator(nbins=8, integer=True, steps=[1, 2, 5, 10]))
    axes.annotate(
        "mean of the year", (MONTHS + 0.45, 100.0), xytext=(0, 3), textcoords="offset points",
        ha="right", fontsize=SMALL_PT, color=FAINT,
    )  # fmt: skip
    label(
        axes,
        title=wording.SEASON_TITLE,
        y="Price index, mean of the year = 100",
        source=wording.season_source(basis),
    )
    return figure
