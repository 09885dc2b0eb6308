"""Class averages: how much of the spread of weights a report by weight classes has lost, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from slidefit.market.tally import counted_quantiles

if TYPE_CHECKING:
    import duckdb

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MID_FLAG = "weight_mid"
TOLD_SHARE = 0.05


@dataclass(frozen=True)
class ClassTally:
    """Counts of a table of records.

    Attributes
    ----------
    records, monthly, mid : int
        All of them; those known by their month only; those that are weight classes taken at their middle.
    width_lb, width_rows : arrays, shape (m,)
        Widths of the classes, ascending, and the records of each.
    weight_variance : float [lb^2]
        Of the weights of class averages.
    """

    records: int
    monthly: int
    mid: int
    width_lb: FloatArray
    width_rows: IntArray
    weight_variance: float


def class_tally(connection: duckdb.DuckDBPyConnection) -> ClassTally:
    """Count the class averages and monthly reports of the table ``tidy``."""
    ((records, monthly, mid, variance),) = connection.execute(
        "SELECT count(*), count(*) FILTER (date_precision = 'month'), count(*) FILTER (of_class), "
        "coalesce(var_pop(weight_lb) FILTER (of_class), 0) FROM "
        "(SELECT *, list_contains(string_split(coalesce(flags, ''), ';'), ?) AS of_class FROM tidy)",
        [MID_FLAG],
    ).fetchall()
    widths = connection.execute(
        "SELECT weight_high_lb - weight_low_lb AS width, count(*) FROM tidy "
        "WHERE list_contains(string_split(coalesce(flags, ''), ';'), ?) AND isfinite(width) GROUP BY 1 ORDER BY 1",
        [MID_FLAG],
    ).fetchall()
    width = np.array([row[0] for row in widths], dtype=float)
    rows = np.array([row[1] for row in widths], dtype=np.int64)
    return ClassTally(records, monthly, mid, width, rows, float(variance))


def class_loss(tally: ClassTally) -> tuple[float, float, float]:
    """Return the share of records that are weight classes, their usual width [lb], and the share of variance lost.

    A class of width c hides a spread of weights of variance c^2 / 12 (even within the class); the share is of that in
    the variance of weights among and within classes. Records without the ends of their classes have lost nothing.
    """
    share = tally.mid / max(tally.records, 1)
    if not len(tally.width_lb):
        return share, 0.0, 0.0
    usual = float(counted_quantiles(tally.width_lb, tally.width_rows, np.array([0.5]))[0])
    hidden = usual**2 / 12.0
    whole = hidden + tally.weight_variance
    return share, usual, hidden / whole if whole > 0 else 0.0


def class_notes(tally: ClassTally) -> tuple[str, ...]:
    """Return what class averages and monthly reports cost the fit, in words.

    Notes
    -----
    Measured on real lots that were averaged by class: 50-lb classes of one grade and month read the slide within 0.4
    points of the lots; 100-lb classes within 0.6; classes with all grades in one flatten it by about a point.
    """
    share, width, lost = class_loss(tally)
    notes = []
    if share > TOLD_SHARE and width > 0.0:
        error = "0.4" if width <= 50.0 else "0.6 or more"
        notes.append(
            f"{share:.0%} of the records are averages of {width:.0f}-lb classes taken at the middle of the class: "
            f"{lost:.0%} of the spread of weights is lost, and the slide may be off by {error} points (by about one "
            "more where a class mixes grades)"
        )
    monthly = tally.monthly / max(tally.records, 1)
    if monthly > TOLD_SHARE:
        notes.append(
            f"{monthly:.0%} of the records are known by their month only: calves of different weeks are compared as "
            "one sale, so a price move within the month passes for slide where weights changed with it"
        )
    return tuple(notes)
