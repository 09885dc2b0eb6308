"""A robust refit beside the main one: where the two disagree by more than their errors, and which lots do it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.market.choose import FOLD_SEED, MOST_ROWS
from slidefit.market.leastsquares import Chunk, Solution, combine, residuals, solve, summarise
from slidefit.market.lots import SEXES, Drawn, Lots, LotSource, draw_sales
from slidefit.market.passes import chunks
from slidefit.market.slides import STEP_LB, USUAL_WEIGHTS_LB, SlideModel
from slidefit.market.within import WithinFit

FloatArray = NDArray[np.float64]

HUBER_K = 1.345
MAD_TO_SD = 0.6744897501960817
MOST_STEPS = 30
SETTLED_LOG = 2e-4
MATERIAL_LOG = 2e-3
NAMED_LOTS = 5


@dataclass(frozen=True)
class RobustFit:
    """The within-sale regression with outlying lots held back, and the plain one, both on some whole sales.

    Attributes
    ----------
    drawn : Drawn
        The sales: all of them, up to 200,000 lots.
    of_lots : int
        Lots that they were drawn from.
    main : Solution
        The plain regression of their lots.
    coef : array, shape (k,)
    trust : array, shape (rows,)
        Huber weight of each lot: 1 for most, less for the outlying; 0 for lots left out of the main fit.
    error : array, shape (rows,) [log points]
        Residual of the plain regression, NaN for lots left out.
    """

    drawn: Drawn
    of_lots: int
    main: Solution
    coef: FloatArray
    trust: FloatArray
    error: FloatArray


@dataclass(frozen=True)
class Disagreement:
    """One step of the slide that the fits read differently [log points]; the drawn rows that do it, worst first."""

    sex: str
    weight_lb: float
    main: float
    robust: float
    rows: tuple[int, ...]


def fit_robust(source: LotSource, fit: WithinFit) -> RobustFit:
    """Fit the same columns by Huber's method, sale effects included, by reweighting until nothing moves.

    Each lot's weight is multiplied by min(1, k s / |e|), with e its residual in units of its expected spread, s the
    median of |e| / .6745, and k = 1.345. Over 200,000 lots it is done on whole sales at random, always the same ones.

    References
    ----------
    Huber (1964), Robust estimation of a location parameter, Annals of Mathematical Statistics 35(1); Huber and
    Ronchetti (2009), Robust Statistics, 2nd ed., sec. 7.8.
    """
    drawn = draw_sales(source, MOST_ROWS, FOLD_SEED)
    kept = ~np.isin(drawn.row, fit.dropped)
    used, level = drawn.lots.take(kept), fit.level[drawn.sale]

    def rows() -> Iterator[Chunk]:
        return chunks(used, fit.recipe, level, fit.spread)

    main = solve(combine(summarise(c) for c in rows()))
    trust = [np.ones(len(c.y)) for c in rows()]
    solution, limit = main, np.inf
    for _ in range(MOST_STEPS):
        sizes = [_sizes(c, t, solution) for c, t in zip(rows(), trust, strict=True)]
        trust = [_trust(size, limit) for size in sizes]
        after = solve(combine(summarise(_held_back(c, t)) for c, t in zip(rows(), trust, strict=True)))
        moved = float(np.max(np.abs(after.coef - solution.coef), initial=0.0))
        settled = np.isfinite(limit) and moved < SETTLED_LOG
        solution, limit = after, HUBER_K * float(np.median(np.concatenate(sizes))) / MAD_TO_SD
        if settled:
            break
    whole, error = np.zeros(len(kept)), np.full(len(kept), np.nan)
    whole[kept] = _trust(np.concatenate(sizes), limit)
    error[kept] = np.concatenate([residuals(c, main.coef) for c in rows()])
    return RobustFit(drawn, len(source), main, solution.coef, whole, error)


def _held_back(chunk: Chunk, trust: FloatArray) -> Chunk:
    return Chunk(chunk.y, chunk.X, chunk.row_weight * trust, chunk.sale)


def _sizes(chunk: Chunk, trust: FloatArray, solution: Solution) -> FloatArray:
    """Return |e| of each row in units of its spread, the sale effects being those of the rows as trusted."""
    return np.asarray(np.abs(residuals(_held_back(chunk, trust), solution.coef)) * np.sqrt(chunk.row_weight))


def _trust(size: FloatArray, limit: float) -> FloatArray:
    return np.asarray(np.minimum(1.0, limit / np.maximum(size, 1e-12)))


def disagreements(fit: WithinFit, robust: RobustFit, model: SlideModel) -> tuple[Disagreement, ...]:
    """Return the usual steps of the slide where the fits differ by over the main one's 95 percent reach and .2 points.

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
            main, other = float(gradient @ robust.main.coef), float(gradient @ robust.coef)
            reach = model.rule.reach() * float(np.sqrt(gradient @ model.cov @ gradient))
            if abs(main - other) > max(reach, MATERIAL_LOG):
                rows = _culprits(fit, robust, gradient, main - other)
                found.append(Disagreement(sex, weight, main, other, rows))
    return tuple(found)


def _culprits(fit: WithinFit, robust: RobustFit, gradient: FloatArray, gap: float) -> tuple[int, ...]:
    kept = np.isfinite(robust.error)
    used, level = robust.drawn.lots.take(kept), fit.level[robust.drawn.sale]
    toward = robust.main.bread @ gradient
    pulls = np.concatenate([c.X @ toward * c.row_weight for c in chunks(used, fit.recipe, level, fit.spread)])
    mean = np.bincount(used.sale, pulls, used.sales) / np.maximum(used.sale_rows, 1)
    push = (pulls - mean[used.sale]) * robust.error[kept] * (1.0 - robust.trust[kept]) * np.sign(gap)
    rows = np.flatnonzero(kept)
    return tuple(int(rows[i]) for i in np.argsort(-push)[:NAMED_LOTS] if push[i] > 0)


def robust_notes(robust: RobustFit, found: tuple[Disagreement, ...]) -> tuple[str, ...]:
    """Return where the fits disagree and the lots that do it, in words, and on how many sales that was looked at."""
    lots = robust.drawn.lots
    notes = []
    if len(lots) < robust.of_lots:
        notes.append(
            f"outlying lots were looked for in {lots.sales:,} whole sales drawn at random, {len(lots):,} of "
            f"{robust.of_lots:,} lots" + ("" if found else ", and do not bend the slide there")
        )
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
