"""Shrink: weight lost between the pen and the scale, and the pay weight that is left."""

from __future__ import annotations

import numpy as np

from slidefit.decision.selling_terms import DEFAULT_SHRINK_PCT, Selling

HOURS = (0.0, 1.0, 2.0, 8.0, 16.0, 24.0, 32.0)
SHRINK_PCT = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0)


def pay_weight(weight_lb: float, shrink_pct: float, pencil_shrink_pct: float = 0.0) -> float:
    """Return the pay weight: weight x (1 - shrink) x (1 - pencil shrink) [lb].

    Examples
    --------
    Noble Foundation, 1998: 600 lb less 4 percent at $80.

    >>> round(pay_weight(600, 4) * 0.80, 2)
    460.8
    """
    return weight_lb * (1.0 - shrink_pct / 100.0) * (1.0 - pencil_shrink_pct / 100.0)


def hauling_shrink_pct(hours: float) -> float:
    """Return the shrink of calves hauled for a number of hours on a moving truck [percent].

    Boyles, Ohio State University Extension, 30 May 2012: 1 h 2 percent, 2 to 8 h 4 to 6, 8 to 16 h 6 to 8,
    16 to 24 h 8 to 10, 24 to 32 h 10 to 12; read linearly inside a range.

    >>> hauling_shrink_pct(1), hauling_shrink_pct(5), hauling_shrink_pct(32)
    (2.0, 5.0, 12.0)
    """
    return float(np.interp(hours, HOURS, SHRINK_PCT))


def selling_shrink_pct(selling: Selling) -> float:
    """Return the shrink to the scale by a plan's selling terms [percent]."""
    if selling.shrink_pct is not None:
        return selling.shrink_pct
    if selling.hours_hauled is not None:
        return hauling_shrink_pct(selling.hours_hauled)
    return DEFAULT_SHRINK_PCT
