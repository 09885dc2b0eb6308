"""The set of pictures that go with a fit and a comparison, each as PNG and SVG."""

from __future__ import annotations

import re
from typing import Literal

import pandas as pd

from slidefit.decision.results import Comparison
from slidefit.market.marketfit import MarketFit
from slidefit.market.outlook import Outlook
from slidefit.show.charts.gain_by_month import gain_by_month
from slidefit.show.charts.price_by_weight import price_by_weight
from slidefit.show.charts.season import season_chart
from slidefit.show.charts.slide_by_weight import slide_by_weight
from slidefit.show.charts.style import rendered

CURVE_STEP_LB = 25.0


def pictures(
    fit: MarketFit, outlook: Outlook, records: pd.DataFrame, comparison: Comparison
) -> dict[str, bytes]:
    """Return file names and contents: price by weight, slide, season, and each group's gain from keeping."""
    figures = {
        "price_by_weight": price_by_weight(outlook, records),
        "slide_by_weight": slide_by_weight(fit.slide(), fit.basis),
        "season": season_chart(fit.season(), fit.basis),
    }
    for number, group in enumerate(comparison.groups, start=1):
        if group.keep:
            name = f"gain_{re.sub(r'[^a-z0-9]+', '_', group.group.lower()).strip('_') or number}"
            figures[f"{name}_{number}" if name in figures else name] = gain_by_month(group)
    kinds: tuple[Literal["png", "svg"], ...] = ("png", "svg")
    return {f"{name}.{kind}": rendered(figure, kind) for name, figure in figures.items() for kind in kinds}
