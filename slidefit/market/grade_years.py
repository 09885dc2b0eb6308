"""What the residuals of a grade say of its discount, by crop year: sums that add up over chunks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class GradeYears:
    """Sums by crop year and grade, arrays of shape (y, g); z marks a grade's lots, centred within sales.

    Attributes
    ----------
    year : array of int, shape (y,)
    lots : array of int
    score, known : arrays
        Sum of w z e and of w z^2.
    score_square, score_known, known_square : arrays
        Sums over sales of (sum of w z e)^2, of the product of the two, and of (sum of w z^2)^2.
    """

    year: IntArray
    lots: IntArray
    score: FloatArray
    known: FloatArray
    score_square: FloatArray
    score_known: FloatArray
    known_square: FloatArray

    def shift(self, row: int, grade: int, sales: int) -> tuple[float, float]:
        """Return the regression of a year's residuals on z and its error clustered by sale.

            b = sum w z e / sum w z^2,   error^2 = S / (S - 1) sum over sales of (sum w z (e - b z))^2 / (sum w z^2)^2

        Parameters
        ----------
        sales : int
            Sales of the year, those without the grade too.
        """
        known = float(self.known[row, grade])
        if known <= 0.0:
            return 0.0, float("inf")
        slope = float(self.score[row, grade]) / known
        square = (
            self.score_square[row, grade]
            - 2.0 * slope * self.score_known[row, grade]
            + slope**2 * self.known_square[row, grade]
        )
        return slope, float(np.sqrt(max(float(square), 0.0) * sales / max(sales - 1, 1))) / known


def grade_years(
    place: IntArray, sale_year: IntArray, weight: FloatArray, error: FloatArray, sale: IntArray, grades: int
) -> GradeYears:
    """Return the sums of some whole sales.

    Parameters
    ----------
    place, weight, error, sale : arrays, shape (n,)
        Grade, row weight, residual and sale of each lot.
    sale_year : array of int, shape (s,)
        Crop year of each sale.
    grades : int
        Number of grades.
    """
    sales = len(sale_year)
    cell = sale * grades + place
    shape = (sales, grades)
    mine = np.bincount(cell, weight, sales * grades).reshape(shape)
    pull = np.bincount(cell, weight * error, sales * grades).reshape(shape)
    lots = np.bincount(cell, minlength=sales * grades).reshape(shape)
    share = mine / np.maximum(mine.sum(axis=1, keepdims=True), 1e-12)
    score = pull - share * pull.sum(axis=1, keepdims=True)
    known = mine * (1.0 - share)
    return _by_year(GradeYears(sale_year, lots, score, known, score**2, score * known, known**2))


def _by_year(rows: GradeYears) -> GradeYears:
    """Return the sums with a row for each year, from any number of rows a year."""
    names, row = np.unique(rows.year, return_inverse=True)
    return GradeYears(names, *(_summed_rows(getattr(rows, f), row, len(names)) for f in _SUMS))


def _summed_rows(values: NDArray[Any], row: IntArray, years: int) -> NDArray[Any]:
    out = np.zeros((years, values.shape[1]), dtype=values.dtype)
    np.add.at(out, row, values)
    return out


_SUMS = ("lots", "score", "known", "score_square", "score_known", "known_square")


def all_grade_years(parts: Iterable[GradeYears]) -> GradeYears:
    """Return the sums of several sets of sales."""
    parts = list(parts)
    return _by_year(GradeYears(*(np.concatenate([getattr(p, f) for p in parts]) for f in ("year", *_SUMS))))
