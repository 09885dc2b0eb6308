"""A region's slide moved: by points at every weight, or to another price level."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from slidefit.regions.region import Region, SexTable
from slidefit.regions.tables import added_slide, level_rise


def shifted(table: SexTable, points: Sequence[float], se: float = 0.0) -> SexTable:
    """Return a sex's table with points added to the slide of each step, rounded as the file holds it.

    Parameters
    ----------
    points : sequence of float, one for each step
        Log points x 100 per cwt, positive steeper.
    se : float
        Standard error of the points, added to each step's in quadrature.
    """
    slide = {
        key: (
            round(-100.0 * float(np.expm1(np.log1p(-value / 100.0) - more / 100.0)), 2) + 0.0,
            round(float(np.hypot(error, se)), 2),
        )
        for (key, (value, error)), more in zip(table.slide.items(), points, strict=True)
    }
    return table.model_copy(update={"slide": slide})


def at_price(region: Region, standard_cwt: float) -> Region:
    """Return the region with slides and discounts as they would stand at another price of the standard calf.

    The file's own ``slide_more`` and ``discount_more``, inside the levels seen; the price itself is left as it is.
    """
    rise = float(level_rise(region, standard_cwt))
    sexes: dict[str, SexTable] = {}
    for sex, table in region.sexes().items():
        middle = np.array([0.5 * (a + b) for a, b, _, _ in table.steps()])
        moved = shifted(table, [float(p) for p in rise * added_slide(table.slide_more, middle)])
        discount = table.discount_pct + rise * table.discount_more
        sexes[sex] = moved.model_copy(update={"discount_pct": discount})
    return region.model_copy(update=dict(sexes))
