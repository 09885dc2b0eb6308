"""Sufficient statistics of lots; class averages; which barns can be held against each other."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import duckdb


FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FIT_LOW_LB = 300.0
FIT_HIGH_LB = 900.0
_BINS_PER_LB = 100
BINS = int((FIT_HIGH_LB - FIT_LOW_LB) * _BINS_PER_LB) + 1


@dataclass(frozen=True)
class LotCounts:
    """What was counted; x is the number of sexes.

    Attributes
    ----------
    weight_rows, weight_head : arrays, shape (x, BINS)
        Lots and head by weight, to the hundredth of a pound from 300 to 900 lb; an unknown head counts one.
    grade_rows : array of int, shape (grades,)
    trait_rows : array of int, shape (trait texts,)
    head_rows : array of int, shape (1,). Lots whose head is known.
    head : array, shape (x,). Sum of the known heads.
    weight_square : array, shape (x,) [lb^2]. Sum of squares of weight about the mean of the sex in each sale.
    spare : array of int, shape (x,). Lots less sales, by sex: the degrees of freedom of ``weight_square``.
    """

    weight_rows: IntArray
    weight_head: FloatArray
    grade_rows: IntArray
    trait_rows: IntArray
    head_rows: IntArray
    head: FloatArray
    weight_square: FloatArray
    spare: IntArray

    def __add__(self, other: LotCounts) -> LotCounts:
        """Return the tally of both sets of lots; no sale may be in both."""
        return LotCounts(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    @property
    def sex_rows(self) -> IntArray:
        """Lots of each sex, shape (x,)."""
        return np.asarray(self.weight_rows.sum(axis=1))

    @property
    def rows(self) -> int:
        """Number of lots."""
        return int(self.weight_rows.sum())


def tally_of(
    weight_lb: FloatArray,
    head: FloatArray,
    sex: IntArray,
    grade: IntArray,
    trait: IntArray,
    sale: IntArray,
    *,
    sizes: tuple[int, int, int],
) -> LotCounts:
    """Count the lots of whole sales.

    Parameters
    ----------
    weight_lb, head, sex, grade, trait, sale : arrays, shape (n,). As in `lots.Lots`.
    sizes : (sexes, grades, trait texts)
    """
    sexes, grades, texts = sizes
    place = np.rint((weight_lb - FIT_LOW_LB) * _BINS_PER_LB).astype(np.int64) + BINS * sex
    known = np.isfinite(head)
    square, spare = np.zeros(sexes), np.zeros(sexes, dtype=np.int64)
    for code in range(sexes):
        mine = sex == code
        weight, of = weight_lb[mine], sale[mine]
        count = np.bincount(of)
        mean = np.bincount(of, weight) / np.maximum(count, 1)
        square[code] = float(((weight - mean[of]) ** 2).sum())
        spare[code] = int(count.sum() - (count > 0).sum())
    return LotCounts(
        weight_rows=np.bincount(place, minlength=sexes * BINS).reshape(sexes, BINS),
        weight_head=_sums(place, np.where(known, head, 1.0), sexes * BINS).reshape(sexes, BINS),
        grade_rows=np.bincount(grade, minlength=grades),
        trait_rows=np.bincount(trait, minlength=texts),
        head_rows=np.array([known.sum()]),
        head=_sums(sex[known], head[known], sexes),
        weight_square=square,
        spare=spare,
    )


def _sums(place: IntArray, values: FloatArray, size: int) -> FloatArray:
    return np.bincount(place, values, size).astype(float)


def tallied_weights() -> FloatArray:
    """Return the weight of each bin [lb], shape (BINS,)."""
    return (np.arange(BINS) + FIT_LOW_LB * _BINS_PER_LB) / _BINS_PER_LB


def counted_quantiles(values: FloatArray, rows: IntArray, shares: FloatArray) -> FloatArray:
    """Return quantiles of values that each stand ``rows`` times, between neighbors in proportion.

    Parameters
    ----------
    values : array, shape (m,). Ascending.
    rows : array of int, shape (m,)
    shares : array of float. From 0 to 1.

    Examples
    --------
    >>> counted_quantiles(np.array([1.0, 2.0, 5.0]), np.array([2, 0, 2]), np.array([0.0, 0.5, 1.0]))
    array([1., 3., 5.])
    """
    ends = np.cumsum(rows)
    at = (int(ends[-1]) - 1) * shares
    below = np.floor(at).astype(np.int64)
    low = values[np.searchsorted(ends, below, side="right")]
    high = values[np.searchsorted(ends, np.minimum(below + 1, ends[-1] - 1), side="right")]
    return np.asarray(low + (high - low) * (at - below))


_MID_FLAG = "weight_mid"
TOLD_SHARE = 0.05


@dataclass(frozen=True)
class ClassCounts:
    """Counts of a table of records.

    Attributes
    ----------
    records, monthly, mid : int
        All of them; those known by their month only; those that are weight classes taken at their middle.
    width_lb, width_rows : arrays, shape (m,). Widths of the classes, ascending, and the records of each.
    weight_variance : float [lb^2]. Of the weights of class averages.
    """

    records: int
    monthly: int
    mid: int
    width_lb: FloatArray
    width_rows: IntArray
    weight_variance: float


def class_tally(connection: duckdb.DuckDBPyConnection) -> ClassCounts:
    """Count the class averages and monthly reports of the table ``tidy``."""
    ((records, monthly, mid, variance),) = connection.execute(
        "SELECT count(*), count(*) FILTER (date_precision = 'month'), count(*) FILTER (of_class), "
        "coalesce(var_pop(weight_lb) FILTER (of_class), 0) FROM "
        "(SELECT *, list_contains(string_split(coalesce(flags, ''), ';'), ?) AS of_class FROM tidy)",
        [_MID_FLAG],
    ).fetchall()
    widths = connection.execute(
        "SELECT weight_high_lb - weight_low_lb AS width, count(*) FROM tidy "
        "WHERE list_contains(string_split(coalesce(flags, ''), ';'), ?) AND isfinite(width) GROUP BY 1 ORDER BY 1",
        [_MID_FLAG],
    ).fetchall()
    width = np.array([row[0] for row in widths], dtype=float)
    rows = np.array([row[1] for row in widths], dtype=np.int64)
    return ClassCounts(records, monthly, mid, width, rows, float(variance))


def class_loss(tally: ClassCounts) -> tuple[float, float, float]:
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


def class_notes(tally: ClassCounts) -> tuple[str, ...]:
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


COMMON_MONTHS = 6
"""Months in which two barns must both have sold before their prices are compared: from a single one the offset of one
barn under two names came out at 2.4 percent (our choice)."""


def barn_groups(markets: int, market: IntArray, month: IntArray) -> IntArray:
    """Return the group of each market, shape (markets,): joined by six months in which both sold.

    Parameters
    ----------
    market, month : arrays, shape (s,). Of each sale: place of its market, and its month counted from anywhere.

    Examples
    --------
    >>> six = np.arange(6)
    >>> barn_groups(3, np.repeat([0, 1, 2], 6), np.concatenate([six, six, six + 1]))
    array([0, 0, 1])
    """
    _, place = np.unique(month, return_inverse=True)
    sold = np.zeros((markets, int(place.max()) + 1), dtype=np.float32)
    sold[market, place] = 1.0
    together = (sold @ sold.T >= COMMON_MONTHS) | np.eye(markets, dtype=bool)
    group, before = np.arange(markets), np.full(markets, -1)
    while (group != before).any():
        before, group = group, np.where(together, group, markets).min(axis=1)
    return np.asarray(np.unique(group, return_inverse=True)[1], dtype=np.int64)
