"""Price by weight: the fitted curve of each sex with its band, over the lots behind it."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter
from numpy.typing import NDArray

from slidefit.market.comparable import comparable_prices
from slidefit.market.outlook import STANDARD_WEIGHT_LB, Outlook
from slidefit.market.record_table import RecordTable
from slidefit.show import wording
from slidefit.show.charts.style import FAINT, LINE_PT, SEX_LOOKS, SMALL_PT, label, legend, new_figure

FloatArray = NDArray[np.float64]

Z_95 = 1.959964
CURVE_POINTS = 120
DOT_AREA_PT2 = 7.0


def price_by_weight(outlook: Outlook, records: pd.DataFrame | RecordTable | None = None) -> Figure:
    """Return the picture of price by weight on the outlook's day.

    Parameters
    ----------
    records : DataFrame, RecordTable or None
        Tidy sale records; the last year's lots are shown, moved to the outlook's day, or whole sales drawn from them.
    """
    figure, axes = new_figure()
    found = None if records is None else comparable_prices(outlook, records)
    points = None if found is None else found.lots
    reach = []
    for sex in (name for name in SEX_LOOKS if name in outlook.curves):
        if points is not None:
            _scatter(axes, sex, points[points["sex"] == sex])
        reach.append(_curve(axes, outlook, sex))
    _frame(axes, reach, np.empty(0) if points is None else points["price_cwt"].to_numpy(dtype=float))
    legend(axes)
    label(
        axes,
        title=wording.price_by_weight_title(outlook.as_of),
        x="Weight of the calf, lb",
        y="Price, dollars per hundredweight",
        source=wording.price_by_weight_source(
            outlook.basis, 0 if points is None else len(points), drawn=found is not None and found.drawn
        ),
    )
    return figure


def _scatter(axes: Axes, sex: str, points: pd.DataFrame) -> None:
    look = SEX_LOOKS[sex]
    axes.scatter(
        points["weight_lb"], points["price_cwt"], s=DOT_AREA_PT2, marker=look.marker, color=look.colour,
        alpha=0.28, linewidths=0, rasterized=True, gid=f"lots-{sex}", zorder=1,
    )  # fmt: skip


def _curve(axes: Axes, outlook: Outlook, sex: str) -> tuple[float, float]:
    """Draw a curve and its band; return the band's lowest and highest price."""
    look, curve = SEX_LOOKS[sex], outlook.curves[sex]
    weights = np.linspace(curve.low_lb, curve.high_lb, CURVE_POINTS)
    price = outlook.price_cwt(sex, weights, outlook.as_of)
    spread = np.hypot(outlook.level_sd, outlook.slide_sd(sex, STANDARD_WEIGHT_LB, weights))
    low, high = price * np.exp(-Z_95 * spread), price * np.exp(Z_95 * spread)
    axes.fill_between(
        weights, low, high, color=look.colour, alpha=0.22, linewidth=0, gid=f"band-{sex}", zorder=2
    )
    axes.plot(
        weights, price, color=look.colour, linestyle=look.dash, linewidth=LINE_PT,
        label=f"{sex}s", gid=f"curve-{sex}", zorder=3,
    )  # fmt: skip
    return float(low.min()), float(high.max())


def _frame(axes: Axes, reach: list[tuple[float, float]], prices: FloatArray) -> None:
    """Keep the curves and the bulk of the lots in view, and say how many lots lie outside."""
    low, high = min(low for low, _ in reach), max(high for _, high in reach)
    if len(prices):
        low = min(low, float(np.quantile(prices, 0.005)))
        high = max(high, float(np.quantile(prices, 0.995)))
    margin = 0.04 * (high - low)
    bottom, top = low - margin, high + margin
    hidden = int(np.sum((prices < bottom) | (prices > top)))
    axes.set_ylim(bottom, top)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"${value:,.0f}"))
    if hidden:
        axes.annotate(
            wording.lots_outside(hidden), (0.02, 0.02), xycoords="axes fraction",
            fontsize=SMALL_PT, color=FAINT,
        )  # fmt: skip
