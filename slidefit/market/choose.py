"""The choice among slides: cross-validation with whole sales held out, and the one-standard-error rule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from slidefit.market.design import Recipe
from slidefit.market.gates import Rung, recipe_for
from slidefit.market.leastsquares import Summary, combine, solve, summarise
from slidefit.market.lots import Lots, LotSource, draw_sales
from slidefit.market.passes import chunks
from slidefit.market.within import WithinFit, fit_within

FOLDS = 10
FOLD_SEED = 20_001
MOST_ROWS = 200_000


@dataclass(frozen=True)
class Candidate:
    """One model on the ladder and how it did on sales that it had not seen.

    Attributes
    ----------
    label : str
    columns : int
        Number of coefficients.
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


def ladder(lots: LotSource, rung: Rung) -> list[tuple[str, Recipe]]:
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


def choose(source: LotSource, rung: Rung) -> tuple[Recipe, tuple[Candidate, ...]]:
    """Return the simplest model within one standard error of the best, and the whole table.

    Each sale is held out whole and its own mean taken off, so that the score is of the slide alone. A fold's weighted
    squared error is |R_fold (-b, 1)|^2 with R_fold its triangle and b the solution of the other folds. A first fit of
    the richest model gives the row weights, price levels and gross errors that all share. Over 200,000 lots all this
    is done on whole sales at random, always the same ones.

    References
    ----------
    Hastie, Tibshirani and Friedman (2009), The Elements of Statistical Learning, 2nd ed., sec. 7.10.
    """
    models = ladder(source, rung)
    drawn = draw_sales(source, MOST_ROWS, FOLD_SEED).lots
    base = fit_within(drawn, models[-1][1])
    used = drawn.take(~np.isin(np.arange(len(drawn)), base.dropped))
    present = np.unique(used.sale)
    folds = min(FOLDS, len(present))
    fold_of = np.full(drawn.sales, -1)
    fold_of[present] = np.random.default_rng(FOLD_SEED).permutation(len(present)) % folds
    parts = [used.take(fold_of[used.sale] == f) for f in range(folds)]
    rows = np.array([len(p) for p in parts], dtype=float)
    losses = np.array([_fold_losses(parts, recipe, base) for _, recipe in models]) / rows
    mean = losses @ rows / rows.sum()
    best = int(np.argmin(mean))
    gaps = losses - losses[best]
    gap_se = gaps.std(axis=1, ddof=1) / np.sqrt(folds)
    chosen = next(i for i in range(len(models)) if mean[i] - mean[best] <= gap_se[i])
    typical = float(np.sqrt(np.mean(base.spread.variance(used.head))))
    table = tuple(
        Candidate(
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


def _fold_losses(parts: list[Lots], recipe: Recipe, base: WithinFit) -> list[float]:
    summaries: list[Summary] = [
        combine(summarise(c) for c in chunks(part, recipe, base.level, base.spread)) for part in parts
    ]
    losses = []
    for held, summary in enumerate(summaries):
        coef = solve(combine(s for i, s in enumerate(summaries) if i != held)).coef
        losses.append(float(((summary.triangle @ np.append(-coef, 1.0)) ** 2).sum()))
    return losses
