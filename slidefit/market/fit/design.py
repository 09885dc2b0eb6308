"""Weight curves, harmonics, Recipe, the design matrix.

ln price = a_sale + f_sex(weight) + season(date) x (weight, weight^2) + level x (weight, weight^2, sex, grade)
           + grade x (1, weight) + traits + c ln(head / 15) + error
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from slidefit.market.fit.counts import counted_quantiles
from slidefit.market.fit.lots import SEXES, Lots, day_of_year
from slidefit.market.outlook import STANDARD_HEAD, STANDARD_WEIGHT_LB

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LB_PER_CWT = 100.0
DAYS_PER_YEAR = 365.25


def scaled_weight(weight_lb: ArrayLike) -> FloatArray:
    """Return (weight - 550 lb) / 100 lb: hundredweight from the standard calf.

    Powers of raw pounds defeat even an SVD solver; centered and scaled every solver is good to 5e-13.
    """
    return np.asarray((np.asarray(weight_lb, dtype=float) - STANDARD_WEIGHT_LB) / LB_PER_CWT)


@dataclass(frozen=True)
class WeightCurve:
    """A family of curves in weight, all zero at the standard calf.

    Attributes
    ----------
    kind : str. ``straight``, ``quadratic`` or ``spline``.
    knots : tuple of float [cwt from 550 lb]. For a spline, the outer two included; empty otherwise.
    """

    kind: str
    knots: tuple[float, ...] = ()

    @property
    def columns(self) -> int:
        """Number of columns that the curve needs."""
        return {"straight": 1, "quadratic": 2}.get(self.kind, len(self.knots) - 1)

    def rows(self, x: FloatArray) -> FloatArray:
        """Return the columns at ``x`` [cwt from 550 lb], shape (n, columns).

        For a natural cubic spline with knots k_1 < ... < k_K: x itself, then for j = 1 .. K-2

            N_j(x) = (d_j(x) - d_{K-1}(x)) / span,   d_j(x) = ((x - k_j)+^3 - (x - k_K)+^3) / (k_K - k_j)

        which is straight beyond the outer knots. Each column has its value at the standard calf taken off.

        References
        ----------
        Hastie, Tibshirani and Friedman (2009), The Elements of Statistical Learning, 2nd ed., eqs. 5.4-5.5.

        Examples
        --------
        >>> curve = WeightCurve("spline", (-2.0, -1.0, 0.5, 2.0))
        >>> beyond = curve.rows(np.array([3.0, 4.0, 5.0]))
        >>> bool(np.allclose(np.diff(beyond, 2, axis=0), 0.0))  # straight beyond the last knot
        True
        """
        return self._raw(x) - self._raw(np.zeros(1))

    def _raw(self, x: FloatArray) -> FloatArray:
        if self.kind == "straight":
            return x[:, None]
        if self.kind == "quadratic":
            return np.vstack([x, x * x]).T
        knots = np.asarray(self.knots)
        last = knots[-1]
        spans = last - knots[:-1]
        ramps = (_cubed_above(x - knots[:-1, None]) - _cubed_above(x - last)) / spans[:, None]
        bends = (ramps[:-1] - ramps[-1]) / (last - knots[0])
        return np.vstack([x, bends]).T


def _cubed_above(values: FloatArray) -> FloatArray:
    above = np.maximum(values, 0.0)
    return np.asarray(above * above * above)


def spline_knots(x: FloatArray, rows: IntArray, columns: int) -> tuple[float, ...]:
    """Return ``columns + 1`` knots at even quantiles of ``x``, the outer two at its 5th and 95th percentile.

    Parameters
    ----------
    x : array, shape (m,) [cwt from 550 lb]. Ascending.
    rows : array of int, shape (m,). How many lots each value stands for.

    References
    ----------
    Harrell (2015), Regression Modeling Strategies, 2nd ed., table 2.3 (four and five knots).
    """
    return tuple(counted_quantiles(x, rows, np.linspace(0.05, 0.95, columns + 1)).tolist())


def harmonics(day_of_year: ArrayLike, count: int) -> FloatArray:
    """Return cos and sin of 1 .. ``count`` turns a year, shape (n, 2 count).

    Examples
    --------
    >>> harmonics(np.array([0.0, 365.25 / 4]), 1).round(12) + 0.0
    array([[1., 0.],
           [0., 1.]])
    """
    angle = 2.0 * np.pi * np.asarray(day_of_year, dtype=float) / DAYS_PER_YEAR
    turns = [f(k * angle) for k in range(1, count + 1) for f in (np.cos, np.sin)]
    return np.vstack([np.empty((0, len(angle))), *turns]).T


@dataclass(frozen=True)
class Recipe:
    """Which columns a fit has.

    Attributes
    ----------
    sexes : tuple of str. Those with rows enough, the standard one first.
    curves : tuple of WeightCurve. One for each of ``sexes``.
    season_harmonics : int. Turns a year of the slide's season: 0, 1 or 2.
    level : bool. Whether the slide moves with the price level.
    grades : tuple of str. Grades with a curve of their own; the first is the standard one and has no column.
    grade_of : tuple of int
        For each grade of the lots, its place in ``grades`` (thin grades share the last, ``other``).
    level_grades : tuple of bool. Whether each of ``grades`` moves with the price level too.
    traits : tuple of str. Traits with a column.
    head : bool. Whether ln(head / 15) has a column.
    """

    sexes: tuple[str, ...]
    curves: tuple[WeightCurve, ...]
    season_harmonics: int
    level: bool
    grades: tuple[str, ...]
    grade_of: tuple[int, ...]
    level_grades: tuple[bool, ...]
    traits: tuple[str, ...]
    head: bool

    def names(self) -> tuple[str, ...]:
        """Return a name for each column, in order; the design is tested against it."""
        names: list[str] = []
        for place, (sex, curve) in enumerate(zip(self.sexes, self.curves, strict=True)):
            names += [sex] if place else []
            names += [f"{sex}:weight{j}" for j in range(curve.columns)]
        turns = [f"{f}{k}" for k in range(1, self.season_harmonics + 1) for f in ("cos", "sin")]
        names += [f"{turn}:{power}" for power in ("weight", "weight^2") for turn in turns]
        if self.level:
            names += ["level:weight", "level:weight^2"]
            names += [f"level:{sex}{part}" for sex in self.sexes[1:] for part in ("", ":weight")]
        for grade, moves in list(zip(self.grades, self.level_grades, strict=True))[1:]:
            names += [f"grade {grade}", f"grade {grade}:weight"]
            names += [f"level:grade {grade}"] if self.level and moves else []
        names += [f"trait {name}" for name in self.traits]
        names += ["ln head"] if self.head else []
        return tuple(names)


@dataclass(frozen=True)
class Regressors:
    """What the columns are made from, every array of shape (n,); fields as in `Lots`, indices as in the recipe."""

    weight_lb: FloatArray
    sex: IntArray
    grade: IntArray
    day_of_year: FloatArray
    level: FloatArray
    head: FloatArray
    traits: NDArray[np.bool_]


def calves_of(recipe: Recipe, lots: Lots, level: FloatArray) -> Regressors:
    """Return the regressors of lots.

    Parameters
    ----------
    level : array, shape (sales,) [log points]
        Price level of each sale about its mean; used only where the recipe has a level.
    """
    sex_place = np.array([recipe.sexes.index(s) if s in recipe.sexes else -1 for s in SEXES])
    known = np.nan_to_num(lots.head, nan=STANDARD_HEAD)
    columns = [lots.trait_names.index(t) for t in recipe.traits]
    return Regressors(
        weight_lb=lots.weight_lb,
        sex=sex_place[lots.sex],
        grade=np.array(recipe.grade_of)[lots.grade],
        day_of_year=day_of_year(lots.sale_day)[lots.sale],
        level=level[lots.sale],
        head=np.maximum(known, 1.0),
        traits=lots.trait_table[:, columns][lots.trait],
    )


def one_calf(
    recipe: Recipe,
    sex: str,
    weight_lb: ArrayLike,
    *,
    grade: ArrayLike = 0,
    day: ArrayLike = 0.0,
    level: float = 0.0,
) -> Regressors:
    """Return regressors of a plain lot of 15 head at each weight, for reading the fitted curve.

    Parameters
    ----------
    day : array-like. Day of the year, one for all or one for each weight.
    """
    weight = np.atleast_1d(np.asarray(weight_lb, dtype=float))
    n = len(weight)
    return Regressors(
        weight_lb=weight,
        sex=np.full(n, recipe.sexes.index(sex)),
        grade=np.full(n, grade),
        day_of_year=np.full(n, day),
        level=np.full(n, level),
        head=np.full(n, STANDARD_HEAD),
        traits=np.zeros((n, len(recipe.traits)), dtype=bool),
    )


def design(recipe: Recipe, calves: Regressors, *, season: bool = True) -> FloatArray:
    """Return the columns of `Recipe.names`, shape (n, k); each lies in memory as one piece.

    Every column is zero for the standard calf, so that a sale's absorbed effect is the log price of that calf.

    Parameters
    ----------
    season : bool. False leaves the season of the slide at its mean over the year, which is zero.
    """
    x = scaled_weight(calves.weight_lb)
    parts: list[FloatArray] = [np.empty((0, len(x)))]  # pieces of shape (columns, n)
    drawn = {curve: curve.rows(x).T for curve in set(recipe.curves)}
    for place, curve in enumerate(recipe.curves):
        mine = (calves.sex == place).astype(float)[None]
        parts += [mine] if place else []
        parts.append(drawn[curve] * mine)
    turns = harmonics(calves.day_of_year, recipe.season_harmonics).T * float(season)
    parts += [turns * x, turns * (x * x)]
    level, x, x2 = calves.level[None], x[None], (x * x)[None]
    if recipe.level:
        parts += [level * x, level * x2]
        for place in range(1, len(recipe.sexes)):
            mine = level * (calves.sex == place)
            parts += [mine, mine * x]
    for place in range(1, len(recipe.grades)):
        mine = (calves.grade == place).astype(float)[None]
        parts += [mine, mine * x]
        if recipe.level and recipe.level_grades[place]:
            parts.append(level * mine)
    parts.append(calves.traits.T.astype(float))
    if recipe.head:
        parts.append(np.log(calves.head / STANDARD_HEAD)[None])
    return np.concatenate(parts).T
