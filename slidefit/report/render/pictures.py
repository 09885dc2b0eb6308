"""Figures as files: one by its ending, or the set that goes with a fit and a comparison."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from slidefit.errors import OutputError
from slidefit.files import write_whole
from slidefit.report.charts.style import rendered

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from slidefit.decision.results import Comparison
    from slidefit.market.fit.coding import RecordTable
    from slidefit.market.market_fit import MarketFit
    from slidefit.market.outlook import Outlook


def write_picture(figure: Figure, path: str | Path) -> Path:
    """Write a picture as PNG or SVG, by the ending of its name.

    Raises
    ------
    OutputError
        Another ending, or a place that can't be written.
    """
    kind = Path(path).suffix.lower()
    if kind == ".png":
        return write_whole(path, rendered(figure, "png"))
    if kind == ".svg":
        return write_whole(path, rendered(figure, "svg"))
    raise OutputError(
        f"a picture can't be written as {kind or 'a file without an ending'!r}",
        where=str(path),
        remedy="Use .png or .svg.",
    )


def pictures(
    fit: MarketFit, outlook: Outlook, records: pd.DataFrame | RecordTable, comparison: Comparison
) -> dict[str, bytes]:
    """Return file names and contents: price by weight, slide, season, and each group's gain from keeping."""
    from slidefit.report.charts.answer_charts import gain_by_month
    from slidefit.report.charts.market_charts import price_by_weight, season_chart, slide_by_weight

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
