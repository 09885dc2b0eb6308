"""A robust refit beside the main one: where the two disagree by more than their errors, and which lots do it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.market.leastsquares import Chunk, Solution, combine, residuals, solve, summarise
from slidefit.market.lots import SEXES, Lots
from slidefit.market.slides import STEP_LB, USUAL_WEIGHTS_LB, SlideModel
from slidefit.market.within import WithinFit, chunks

FloatArray = NDArray[np.float64]

HUBER_K = 1.345
MAD_TO_SD = 0.6744897501960817
MOST_STEPS = 30
SETTLED_LOG = 2e-4
NAMED_LOTS = 5


@dataclass(frozen=True)
class RobustFit:
    """The within-sale regression with outlying lots held back.

    Attributes
    ----------
    coef : array, shape (k,)
    trust : array, shape (rows,)
        Huber weight of each lot: 1 for most, less for the outlying; 0 for lots left out of the main fit.
    """

    coef: FloatArray
    trust: FloatArray


@dataclass(frozen=True)
class Disagreement:
    """One step of the slide that the two fits read differently [log points], and the rows that do it, worst first."""

    sex: str
    weight_lb: float
    main: float
    robust: float
    rows: tuple[int, ...]


def fit_robust(lots: Lots, fit: WithinFit) -> RobustFit:
    """Fit the same columns by Huber's method, sale effects included, by reweighting until nothing moves.

    Each lot's weight is multiplied by min(1, k s / |e|), with e its residual in units of its expected spread, s the
    median of |e| / .6745, and k = 1.345.

    References
    ----------
    Huber (1964), Robust estimation of a location parameter, Annals of Mathematical Statistics 35(1); Huber and
    Ronchetti (2009), Robust Statistics, 2nd ed., sec. 7.8.
    """
    used = lots.take(fit.kept)
    solution, limit = fit.solution, np.inf
    for _ in range(MOST_STEPS):
        sizes: list[FloatArray] = []
        held = (
            _held_back(c, solution, limit, sizes) for c in chunks(used, fit.recipe, fit.level, fit.spread)
        )
        after = solve(combine(summarise(c) for c in held))
        settled = (
            np.isfinite(limit)
            and float(np.max(np.abs(after.coef - solution.coef), initial=0.0)) < SETTLED_LOG
        )
        solution, limit = after, HUBER_K * float(np.median(np.concatenate(sizes))) / MAD_TO_SD
        if settled:
            break
    whole = np.zeros(len(lots))
    whole[fit.kept] = np.minimum(1.0, limit / np.maximum(np.concatenate(sizes), 1e-12))
    return RobustFit(solution.coef, whole)


def _held_back(chunk: Chunk, solution: Solution, limit: float, sizes: list[FloatArray]) -> Chunk:
    """Return the chunk with its outlying rows' weights lowered, and append each row's |e| in units of its spread."""
    size = np.abs(residuals(chunk, solution)) * np.sqrt(chunk.row_weight)
    sizes.append(size)
    trust = np.minimum(1.0, limit / np.maximum(size, 1e-12))
    return Chunk(chunk.y, chunk.X, chunk.row_weight * trust, chunk.sale)


def disagreements(
    lots: Lots, fit: WithinFit, robust: RobustFit, model: SlideModel
) -> tuple[Disagreement, ...]:
    """Return the usual steps of the slide where the fits differ by more than the main one's 95 percent reach.

    The lots named are those whose held-back residual moved the main fit most there: c' (X'WX)^-1 x w e (1 - trust).
    """
    found = []
    for sex in model.recipe.sexes:
        support = model.support[sex]
        for weight in USUAL_WEIGHTS_LB:
            ends = [weight - STEP_LB / 2.0, weight + STEP_LB / 2.0]
            if not support.low_lb <= ends[0] or not ends[1] <= support.high_lb:
                continue
            at = model.rows(sex, ends)
            gradient = at[1] - at[0]
            main, other = float(gradient @ model.coef), float(gradient @ robust.coef)
            if abs(main - other) > model.rule.reach() * float(np.sqrt(gradient @ model.cov @ gradient)):
                rows = _culprits(lots, fit, robust, gradient, main - other)
                found.append(Disagreement(sex, weight, main, other, rows))
    return tuple(found)


def _culprits(
    lots: Lots, fit: WithinFit, robust: RobustFit, gradient: FloatArray, gap: float
) -> tuple[int, ...]:
    used = lots.take(fit.kept)
    toward = fit.solution.bread @ gradient
    pulls = np.concatenate(
        [c.X @ toward * c.row_weight for c in chunks(used, fit.recipe, fit.level, fit.spread)]
    )
    mean = np.bincount(used.sale, pulls, lots.sales) / np.maximum(
        np.bincount(used.sale, minlength=lots.sales), 1
    )
    rows = np.flatnonzero(fit.kept)
    push = (pulls - mean[used.sale]) * fit.residual[rows] * (1.0 - robust.trust[rows]) * np.sign(gap)
    return tuple(int(rows[i]) for i in np.argsort(-push)[:NAMED_LOTS] if push[i] > 0)


def robust_notes(lots: Lots, found: tuple[Disagreement, ...]) -> tuple[str, ...]:
    """Return where the fits disagree and the lots that do it, in words."""
    notes = []
    for gap in found:
        main, other = (-100.0 * float(np.expm1(log)) for log in (gap.main, gap.robust))
        told = "; ".join(_lot(lots, row) for row in gap.rows)
        notes.append(
            f"{gap.sex}s around {gap.weight_lb:.0f} lb: {main:.1f} percent per cwt, but {other:.1f} with outlying lots "
            f"held back; check {told}"
        )
    return tuple(notes)


def _lot(lots: Lots, row: int) -> str:
    sale = lots.sale[row]
    day = np.datetime64(int(lots.sale_day[sale]), "D")
    market = lots.markets[lots.sale_market[sale]]
    place = f", {market}" if market else ""
    price = float(np.exp(lots.log_price[row]))
    return f"{day}{place}, {SEXES[lots.sex[row]]} {lots.weight_lb[row]:,.0f} lb at ${price:,.2f}"
