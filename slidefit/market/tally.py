"""Counts of a set of lots that knots, gates, supports and the verdict are read from; they add up over chunks."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FIT_LOW_LB = 300.0
FIT_HIGH_LB = 900.0
BINS_PER_LB = 100
BINS = int((FIT_HIGH_LB - FIT_LOW_LB) * BINS_PER_LB) + 1


@dataclass(frozen=True)
class Tally:
    """What was counted; x is the number of sexes.

    Attributes
    ----------
    weight_rows, weight_head : arrays, shape (x, BINS)
        Lots and head by weight, to the hundredth of a pound from 300 to 900 lb; an unknown head counts one.
    grade_rows : array of int, shape (grades,)
    trait_rows : array of int, shape (trait texts,)
    head_rows : array of int, shape (1,)
        Lots whose head is known.
    head : array, shape (x,)
        Sum of the known heads.
    weight_square : array, shape (x,) [lb^2]
        Sum of squares of weight about the mean of the sex in each sale.
    spare : array of int, shape (x,)
        Lots less sales, by sex: the degrees of freedom of ``weight_square``.
    """

    weight_rows: IntArray
    weight_head: FloatArray
    grade_rows: IntArray
    trait_rows: IntArray
    head_rows: IntArray
    head: FloatArray
    weight_square: FloatArray
    spare: IntArray

    def __add__(self, other: Tally) -> Tally:
        """Return the tally of both sets of lots; no sale may be in both."""
        return Tally(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

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
) -> Tally:
    """Count the lots of whole sales.

    Parameters
    ----------
    weight_lb, head, sex, grade, trait, sale : arrays, shape (n,)
        As in `lots.Lots`.
    sizes : (sexes, grades, trait texts)
    """
    sexes, grades, texts = sizes
    place = np.rint((weight_lb - FIT_LOW_LB) * BINS_PER_LB).astype(np.int64) + BINS * sex
    known = np.isfinite(head)
    square, spare = np.zeros(sexes), np.zeros(sexes, dtype=np.int64)
    for code in range(sexes):
        mine = sex == code
        weight, of = weight_lb[mine], sale[mine]
        count = np.bincount(of)
        mean = np.bincount(of, weight) / np.maximum(count, 1)
        square[code] = float(((weight - mean[of]) ** 2).sum())
        spare[code] = int(count.sum() - (count > 0).sum())
    return Tally(
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
    return (np.arange(BINS) + FIT_LOW_LB * BINS_PER_LB) / BINS_PER_LB


def counted_quantiles(values: FloatArray, rows: IntArray, shares: FloatArray) -> FloatArray:
    """Return quantiles of values that each stand ``rows`` times, between neighbors in proportion.

    Parameters
    ----------
    values : array, shape (m,)
        Ascending.
    rows : array of int, shape (m,)
    shares : array of float
        From 0 to 1.

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
