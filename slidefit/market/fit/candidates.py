"""Which candidate models are eligible, and the choice among them.

The thresholds were set on real auction records (docs/method.md has the figures).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from slidefit.market.fit.chunk_passes import LotRows
from slidefit.market.fit.constants import (
    FOLD_SEED,
    FOLDS,
    GRADE_ROWS,
    LENT_SEX_ROWS,
    LEVEL_GRADE_ROWS,
    LEVEL_MIN_SALES,
    LEVEL_MONTHS,
    MOST_ROWS,
    SEX_QUADRATIC_ROWS,
    SEX_ROWS,
    SEX_SPLINE_ROWS,
    SPLINE_MONTHS,
    SPLINE_ROWS,
    THIN_ROWS,
    THIN_SALES,
    TRAIT_ROWS,
)
from slidefit.market.fit.counts import tallied_weights
from slidefit.market.fit.design import Recipe, WeightCurve, scaled_weight, spline_knots
from slidefit.market.fit.fixed_effects import FixedEffectsFit, fit_fixed_effects
from slidefit.market.fit.leastsquares import Sums, combine, solve, summarise
from slidefit.market.fit.lots import SEXES, Lots, LotSource, draw_sales, month_of_year
from slidefit.market.outlook import STANDARD_FRAME, STANDARD_MUSCLE, grade_key

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DAYS_PER_MONTH = 365.25 / 12
_AGE_WORDS = frozenset({"calf", "calves", "yearling", "yearlings", "new_crop", "guaranteed_open"})
_OTHER_GRADE = "other"


@dataclass(frozen=True)
class Eligibility:
    """The richest model that the records are allowed.

    Attributes
    ----------
    curve : str. ``pulled`` (straight, pulled toward the default slide), ``quadratic`` or ``spline``.
    harmonics : int. Most turns a year that the slide's season may have.
    level : bool. Whether the price level may move the slide.
    reasons : tuple of str. What held it back, in words; empty on the top rung.
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


def eligibility_of(lots: LotSource) -> Eligibility:
    """Return the rung that the number of rows, sales and months allows."""
    rows, sales, months = len(lots), lots.sales, span_months(lots)
    unseen = unseen_months(lots)
    if rows < THIN_ROWS or sales < THIN_SALES:
        return Eligibility(
            "pulled",
            0,
            False,
            (
                f"{rows:,} lots in {sales:,} sale{'s' if sales > 1 else ''} are too few to stand alone "
                f"(it takes {THIN_ROWS} lots and {THIN_SALES} sales)",
            ),
        )
    if rows < SPLINE_ROWS or months < SPLINE_MONTHS - 1.0:
        return Eligibility(
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
    return Eligibility("spline", harmonics, level, tuple(reasons))


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
    pools = [f"{_OTHER_GRADE} {grade.split(' ')[-1]}".strip() for grade in grades]
    size = {
        pool: sum(n for p, n, t in zip(pools, rows, thin, strict=True) if t and p == pool) for pool in pools
    }
    return [
        grade if not is_thin else pool if size[pool] >= GRADE_ROWS else _OTHER_GRADE
        for grade, pool, is_thin in zip(grades, pools, thin, strict=True)
    ]


def recipe_for(
    lots: LotSource,
    *,
    kind: str,
    columns: int = 0,
    harmonics: int = 0,
    level: bool = False,
    lent: Collection[str] = (),
) -> Recipe:
    """Return the columns for these lots, with cells too thin for a column of their own pooled or left plain.

    Parameters
    ----------
    kind : str. ``straight``, ``quadratic`` or ``spline`` (with ``columns`` degrees of freedom).
    lent : collection of str. Sexes whose curve a region lends, so that few lots do.
    """
    by_sex = lots.tally.sex_rows
    sexes = tuple(
        s for s, rows in zip(SEXES, by_sex, strict=True) if rows >= (LENT_SEX_ROWS if s in lent else SEX_ROWS)
    )
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
        if TRAIT_ROWS <= rows <= len(lots) - TRAIT_ROWS and name.lower() not in _AGE_WORDS
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


@dataclass(frozen=True)
class CandidateModel:
    """One model on the ladder and how it did on sales that it had not seen.

    Attributes
    ----------
    label : str
    columns : int. Number of coefficients.
    error : float [log points]
        Root mean squared error of a lot within its sale, in units of its expected spread times that spread.
    excess, excess_se : float
        Mean squared error above the best candidate's, in percent of it, and the standard error over folds.
    chosen : bool
    """

    label: str
    columns: int
    error: float
    excess: float
    excess_se: float
    chosen: bool


def candidate_models(lots: LotSource, rung: Eligibility) -> list[tuple[str, Recipe]]:
    """Return the models that the rung allows, from simple to rich.

    Where the rung opens the price level, every model has it: left to the choice it is dropped in one market of five,
    and then today's slide stands at the wrong level (docs/method.md has the coverage of both).
    """
    curves: list[tuple[str, str, int]] = [("straight", "straight", 0), ("quadratic", "quadratic", 0)]
    if rung.curve == "spline":
        curves += [("spline with 3 df", "spline", 3), ("spline with 4 df", "spline", 4)]
    seasons = ["", ", season with 1 harmonic", ", season with 2 harmonics"][: rung.harmonics + 1]
    models = [
        (
            label + seasons[k] + (", price level" if rung.level else ""),
            recipe_for(lots, kind=kind, columns=columns, harmonics=k, level=rung.level),
        )
        for label, kind, columns in curves
        for k in range(len(seasons))
    ]
    return sorted(models, key=lambda m: len(m[1].names()))


def choose(source: LotSource, rung: Eligibility) -> tuple[Recipe, tuple[CandidateModel, ...]]:
    """Return the simplest model within one standard error of the best, and the whole table.

    Each sale is held out whole and its own mean taken off, so that the score is of the slide alone. The models are
    subsets of the columns of one design, whose sums are taken once, fold by fold. A fold's weighted squared error is
    |R_fold (-b, 1)|^2 with R_fold its triangle and b the solution of the other folds. A first fit of the richest model
    gives the row weights, price levels and gross errors that all share. Over 200,000 lots all this
    is done on whole sales at random, always the same ones.

    References
    ----------
    Hastie, Tibshirani and Friedman (2009), The Elements of Statistical Learning, 2nd ed., sec. 7.10.
    """
    models = candidate_models(source, rung)
    drawn = draw_sales(source, MOST_ROWS, FOLD_SEED).lots
    base = fit_fixed_effects(drawn, models[-1][1])
    present = np.flatnonzero(base.sale_lots > 0)
    folds = min(FOLDS, len(present))
    fold_of = np.zeros(drawn.sales, dtype=np.int64)
    fold_of[present] = np.random.default_rng(FOLD_SEED).permutation(len(present)) % folds
    sums, places = _sums_of_all(drawn, [recipe for _, recipe in models], base, fold_of)
    rows = sums.rows.astype(float)
    losses = np.array([_fold_losses(sums.columns(mine)) for mine in places]) / rows
    mean, gap_se, chosen = simplest_good(losses, rows)
    best = int(np.argmin(mean))
    used = np.delete(drawn.head, base.dropped)
    typical = float(np.sqrt(np.mean(base.spread.variance(used))))
    table = tuple(
        CandidateModel(
            label=label,
            columns=len(recipe.names()),
            error=float(np.sqrt(mean[i])) * typical,
            excess=float(100.0 * (mean[i] / mean[best] - 1.0)),
            excess_se=float(100.0 * gap_se[i] / mean[best]),
            chosen=i == chosen,
        )
        for i, (label, recipe) in enumerate(models)
    )
    return models[chosen][1], table


def simplest_good(losses: FloatArray, rows: FloatArray) -> tuple[FloatArray, FloatArray, int]:
    """Return each model's mean loss, the standard error of its gap to the best, and the place of the one to take.

    Taken is the first, simplest, whose gap to the best is within one standard error of that gap over folds.

    Parameters
    ----------
    losses : array, shape (models, folds). Mean loss of a row of each fold, models from simple to rich.
    rows : array, shape (folds,)

    Examples
    --------
    Over two folds a gap of 1 and 3 has mean 2 and standard error 1: too far. Of -1 and 3: 1 and 2: near enough.

    >>> simplest_good(np.array([[2.0, 4.0], [1.0, 1.0]]), np.ones(2))[2]
    1
    >>> simplest_good(np.array([[0.0, 4.0], [1.0, 1.0]]), np.ones(2))[2]
    0
    """
    mean = losses @ rows / rows.sum()
    gaps = losses - losses[int(np.argmin(mean))]
    gap_se = gaps.std(axis=1, ddof=1) / np.sqrt(losses.shape[1])
    return mean, gap_se, int(np.flatnonzero(gaps @ rows / rows.sum() <= gap_se)[0])


def _sums_of_all(
    lots: Lots, recipes: list[Recipe], base: FixedEffectsFit, fold_of: IntArray
) -> tuple[Sums, list[IntArray]]:
    """Return the sums of every column that some recipe has, fold by fold, and the places of each recipe's columns."""
    keys = [_column_keys(recipe) for recipe in recipes]
    place = {key: at for at, key in enumerate(dict.fromkeys(key for mine in keys for key in mine))}
    richest = {recipe.curves: recipe for recipe in sorted(recipes, key=lambda r: r.season_harmonics)}
    parts = []
    for span, piece in lots.pieces():
        left_out = base.dropped[slice(*np.searchsorted(base.dropped, (span.first_row, span.end_row)))]
        X = np.empty((len(place), len(piece)))
        for recipe in richest.values():
            rows = LotRows.of(piece, recipe)
            chunk = rows.chunk(base.level[span.sales], base.spread, left_out - span.first_row)
            X[[place[key] for key in _column_keys(recipe)]] = chunk.X.T
        parts.append(summarise(replace(chunk, X=X.T), fold_of[span.sales][piece.sale]))
    return combine(parts), [np.array([place[key] for key in mine]) for mine in keys]


def _column_keys(recipe: Recipe) -> list[tuple[str, WeightCurve | None]]:
    """Return what tells a column from those of other recipes: its name, and the curve where it is a bend of one."""
    curve_of = {
        f"{sex}:weight{j}": curve
        for sex, curve in zip(recipe.sexes, recipe.curves, strict=True)
        for j in range(1, curve.columns)
    }
    return [(name, curve_of.get(name)) for name in recipe.names()]


def _fold_losses(sums: Sums) -> list[float]:
    losses = []
    for fold, triangle in enumerate(sums.triangle):
        coef = solve(sums.but(fold)).coef
        losses.append(float(((triangle @ np.append(-coef, 1.0)) ** 2).sum()))
    return losses
