"""A fit drawn from Python: each picture as matplotlib axes, to be added to or saved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from slidefit.report.charts.market_charts import season_chart, slide_by_weight
from slidefit.report.charts.style import ACCENT, INK, LINE_PT, label, new_figure

if TYPE_CHECKING:
    from slidefit.market.market_fit import MarketFit


class FitPlots:
    """What ``fit.plot`` offers."""

    def __init__(self, fit: MarketFit) -> None:
        self._fit = fit

    def slide(self) -> Axes:
        """Draw the slide by weight with its interval."""
        return slide_by_weight(self._fit.slide(), self._fit.basis).axes[0]

    def season(self) -> Axes:
        """Draw the season of the standard calf with its interval."""
        return season_chart(self._fit.season(), self._fit.basis).axes[0]

    def prices(self) -> Axes:
        """Draw what the standard calf brought at each sale [$/cwt]."""
        _, axes = new_figure()
        prices = self._fit.prices()
        axes.plot(prices["sale_date"], prices["price_cwt"], color=ACCENT, linewidth=LINE_PT)
        label(axes, title="What the standard calf brought", y="$/cwt")
        return axes

    def residuals(self) -> Axes:
        """Draw the standardized one-step errors of the season: nineteen in twenty lie within two of zero."""
        _, axes = new_figure()
        error = self._fit.season_fit.innovations
        axes.axhline(0.0, color=INK, linewidth=1.0)
        axes.plot(np.arange(len(error)), error, color=ACCENT, linestyle="none", marker="o", markersize=4)
        label(axes, title="Errors of the one-step forecasts", x="step", y="standard errors")
        return axes
