"""What a set of records can bear: the gates that open each rung of the model, and the recipe that follows.

The thresholds were set on real auction records (docs/method.md has the figures).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.market.basis import WeightCurve, scaled_weight, spline_knots
from slidefit.market.design import Recipe
from slidefit.market.lots import SEXES, LotSource, month_of_year
from slidefit.market.outlook import STANDARD_FRAME, STANDARD_MUSCLE, grade_key
from slidefit.market.tally import tallied_weights

IntArray = NDArray[np.int64]

THIN_ROWS = 300
THIN_SALES = 10
SPLINE_ROWS = 1_000
SPLINE_MONTHS = 12.0
LEVEL_MONTHS = 24.0
LEVEL_MIN_SALES = 20
SEX_ROWS = 30
SEX_QUADRATIC_ROWS = 100
SEX_SPLINE_ROWS = 300
GRADE_ROWS = 100
LEVEL_GRADE_ROWS = 300
TRAIT_ROWS = 30
DAYS_PER_MONTH = 365.25 / 12
AGE_WORDS = frozenset({"calf", "calves", "yearling", "yearlings", "new_crop", "guaranteed_open"})
OTHER_GRADE = "other"


@dataclass(frozen=True)
class Rung:
    """The richest model that the records are allowed.

    Attributes
    ----------
    curve : str
        ``pulled`` (straight, pulled toward the default slide), ``quadratic`` or ``spline``.
    harmonics : int
        Most turns a year that the slide's season may have.
    level : bool
        Whether the price level may move the slide.
    reasons : tuple of str
        What held it back, in words; empty on the top rung.
    """

    curve: str
    harmonics: int
    level: bool
    reasons: tuple[str, ...]


def span_months(lots: LotSource) -> float:
    """Return the months from the first sale to the last."""
    return float(np.ptp(lots.sale_day)) / DAYS_PER_MONTH


def unseen_months(lots: LotSource) -> tuple[int, ...]:
    """Return the calendar months without a sale."""
    seen = set(month_of_year(lots.sale_day).tolist())
    return tuple(m for m in range(1, 13) if m not in seen)


def rung_of(lots: LotSource) -> Rung:
    """Return the rung that the number of rows, sales and months allows."""
    rows, sales, months = len(lots), lots.sales, span_months(lots)
    unseen = unseen_months(lots)
    if rows < THIN_ROWS or sales < THIN_SALES:
        return Rung(
            "pulled",
            0,
            False,
            (
                f"{rows:,} lots in {sales:,} sale{'s' if sales > 1 else ''} are too few to stand alone "
                f"(it takes {THIN_ROWS} lots and {THIN_SALES} sales)",
            ),
        )
    if rows < SPLINE_ROWS or months < SPLINE_MONTHS - 1.0:
        return Rung(
            "quadratic",
            0,
            False,
            (
                f"{rows:,} lots over {months:.0f} months carry a quadratic slide with no season "
                f"(a season takes {SPLINE_ROWS:,} lots and 12 months)",
            ),
        )
    harmonics = 2 if months >= LEVEL_MONTHS - 1.0 else 1
    level = months >= LEVEL_MONTHS - 1.0 and sales >= LEVEL_MIN_SALES
    reasons = []
    if not level:
        reasons.append("under two years of sales: the slide is not tied to the price level")
    quarters = {(m - 1) // 3 for m in range(1, 13) if m not in unseen}
    if len(quarters) < 4:
        harmonics = 0
        reasons.append("a quarter of the year was never seen: the slide has no season")
    return Rung("spline", harmonics, level, tuple(reasons))


def _curves(lots: LotSource, kind: str, columns: int, sexes: tuple[str, ...]) -> tuple[WeightCurve, ...]:
    by_sex = lots.tally.sex_rows
    weights = lots.tally.weight_rows.sum(axis=0)
    knots = spline_knots(scaled_weight(tallied_weights()), weights, columns) if kind == "spline" else ()
    curves = []
    for sex in sexes:
        rows = int(by_sex[SEXES.index(sex)])
        if kind == "straight" or rows < SEX_QUADRATIC_ROWS:
            curves.append(WeightCurve("straight"))
        elif kind == "quadratic" or rows < SEX_SPLINE_ROWS:
            curves.append(WeightCurve("quadratic"))
        else:
            curves.append(WeightCurve("spline", knots))
    return tuple(curves)


def standard_grade(lots: LotSource) -> str:
    """Return medium and large 1, or the commonest grade where the records hold too little of it."""
    counts = lots.tally.grade_rows
    usual = grade_key(STANDARD_FRAME, STANDARD_MUSCLE)
    if usual in lots.grades and counts[lots.grades.index(usual)] >= min(GRADE_ROWS, len(lots) / 10):
        return usual
    return lots.grades[int(np.argmax(counts))]


def _grade_cells(grades: tuple[str, ...], rows: IntArray, standard: str) -> list[str]:
    """Return the cell of each grade: itself; if thin, its muscle number's thin grades; if still thin, ``other``."""
    thin = [g != standard and n < GRADE_ROWS for g, n in zip(grades, rows, strict=True)]
    pools = [f"{OTHER_GRADE} {grade.split(' ')[-1]}".strip() for grade in grades]
    size = {
        pool: sum(n for p, n, t in zip(pools, rows, thin, strict=True) if t and p == pool) for pool in pools
    }
    return [
        grade if not is_thin else pool if size[pool] >= GRADE_ROWS else OTHER_GRADE
        for grade, pool, is_thin in zip(grades, pools, thin, strict=True)
    ]


def recipe_for(
    lots: LotSource, *, kind: str, columns: int = 0, harmonics: int = 0, level: bool = False
) -> Recipe:
    """Return the columns for these lots, with cells too thin for a column of their own pooled or left plain.

    Parameters
    ----------
    kind : str
        ``straight``, ``quadratic`` or ``spline`` (with ``columns`` degrees of freedom).
    """
    by_sex = lots.tally.sex_rows
    sexes = tuple(s for s, rows in zip(SEXES, by_sex, strict=True) if rows >= SEX_ROWS)
    sexes = sexes or (SEXES[int(np.argmax(by_sex))],)
    standard = standard_grade(lots)
    by_grade = lots.tally.grade_rows
    cells = _grade_cells(lots.grades, by_grade, standard)
    grades = (standard, *sorted(set(cells) - {standard}))
    place = tuple(grades.index(cell) for cell in cells)
    rows_of = np.bincount(np.array(place), by_grade, len(grades))
    by_trait = lots.tally.trait_rows @ lots.trait_table
    traits = [
        name
        for name, rows in zip(lots.trait_names, by_trait, strict=True)
        if TRAIT_ROWS <= rows <= len(lots) - TRAIT_ROWS and name.lower() not in AGE_WORDS
    ]
    return Recipe(
        sexes=sexes,
        curves=_curves(lots, kind, columns, sexes),
        season_harmonics=harmonics,
        level=level,
        grades=grades,
        grade_of=place,
        level_grades=tuple(bool(rows >= LEVEL_GRADE_ROWS) for rows in rows_of),
        traits=tuple(traits),
        head=bool(lots.tally.head_rows[0] > 0.5 * len(lots)),
    )
