"""Joint draws of all that is not known.

Scrambled Sobol points, by scipy: each side is cut evenly, and so are pairs and triples of the early sides: a
mean over them settles far sooner than over random numbers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.price_state import Posterior, PriceState
from slidefit.decision.risk.sobol import sobol_points
from slidefit.distributions import log_gamma, part_normals
from slidefit.plan.plan import Plan, Risk

AnyFloat = NDArray[np.floating[Any]]
FloatArray = NDArray[np.float64]


def even_points(rng: np.random.Generator, sides: int, draws: int) -> FloatArray:
    """Return points of the unit cube, shape (sides, draws): every row is spread evenly, the first rows best together.

    A power of two fills every row exactly: one point in each of that many equal parts.

    >>> rows = even_points(np.random.default_rng(1), 3, 256)
    >>> np.unique((rows[2] * 256).astype(int)).size
    256
    """
    whole = sobol_points(rng, sides, (draws - 1).bit_length())
    return np.ascontiguousarray(whole[:draws].T)


def normals_at(points: FloatArray) -> FloatArray:
    """Return standard normals for points between zero and one, in their shape.

    Each is the middle of the one of ``draws`` equal parts that its point lies in, scaled to a variance of one.
    """
    draws = points.shape[-1]
    return np.asarray(part_normals(draws)[(points * draws).astype(np.intp)])


GROUP_ROWS = 4
"""Rows of even points for one group: the noise of the day of selling now, forage, gain, deaths."""


@dataclass(frozen=True)
class World:
    """The state of price in every draw, after all bids: the exact state over all days, and draws around its mean.

    ``rows`` have a row for each of the state's, shape (m, draws) [log points; standard errors for a slide].
    """

    after: Posterior
    rows: AnyFloat


@dataclass(frozen=True)
class GroupDraws:
    """What one group's options share, in every draw.

    ``noise_now`` [log points] is that of the day of selling now, zero with a bid in hand; ``noise_later`` [standard
    errors] the same on each day of sale; from ``death_u``, uniform, the death count is read for each program.
    """

    noise_now: AnyFloat
    noise_later: Mapping[date, AnyFloat]
    gain_z: AnyFloat
    forage_z: AnyFloat
    death_u: FloatArray


def draw_all(state: PriceState, plan: Plan, sales: Sequence[date]) -> tuple[World, tuple[GroupDraws, ...]]:
    """Return all draws of a plan: the state of price, and those of each group in the plan's order.

    The even points go to what an answer is averaged over: each group's own numbers, then the state of price. The noise
    of the days of sale is integrated exactly (see `odds`), so plain random numbers do for it.
    """
    rng = np.random.default_rng(plan.risk.seed)
    after = state.after_bids(sales)
    own_rows = GROUP_ROWS * len(plan.groups)
    points = even_points(rng, own_rows + len(after.cov), plan.risk.draws)
    rows = draw_joint(normals_at(points[own_rows:]), after.cov).astype(precision_of(plan.risk))
    groups = tuple(
        draw_group(points[GROUP_ROWS * k : GROUP_ROWS * (k + 1)], rng, state, plan.risk, k, sales)
        for k in range(len(plan.groups))
    )
    return World(after, rows), groups


def precision_of(risk: Risk) -> type[np.floating[Any]]:
    """Return the precision of the draws: single, good to a tenth of a cent, or double where all is held."""
    return np.float32 if risk.vary else np.float64


def draw_joint(normals: FloatArray, cov: FloatArray) -> FloatArray:
    """Return joint normal draws with mean zero, shape (n, draws), from standard ones and a covariance, shape (n, n).

    Each row adds its own normal to those before it (a triangular root); a covariance without full rank will do.
    """
    values, vectors = np.linalg.eigh(cov)
    upper: FloatArray = np.linalg.qr((vectors * np.sqrt(np.maximum(values, 0.0))).T)[1]
    return np.asarray(upper.T @ normals)


def draw_group(
    points: FloatArray,
    rng: np.random.Generator,
    state: PriceState,
    risk: Risk,
    place: int,
    dates: Sequence[date],
) -> GroupDraws:
    """Return the draws that a group's options share; gain and forage are correlated as the plan says.

    ``points``, shape (4, draws), are for the noise of the day of selling now, forage, gain and deaths.
    """
    noise_now, forage, own = normals_at(points[:3])
    calves, kind = state.calves[place], precision_of(risk)
    day_sd = (calves.day_var * state.held.lot) ** 0.5
    corr = risk.gain_forage_corr
    gain = corr * forage + np.sqrt(1.0 - corr**2) * own
    later = rng.standard_normal((len(dates), risk.draws), dtype=np.float32).astype(kind)
    return GroupDraws(
        noise_now=(noise_now * (day_sd if calves.log_bid is None else 0.0)).astype(kind),
        noise_later=dict(zip(dates, later, strict=True)),
        gain_z=(gain * ("gain" in risk.vary)).astype(kind),
        forage_z=(forage * ("forage" in risk.vary)).astype(kind),
        death_u=points[3],
    )


def death_shares(head: int, mean_share: float, sd_share: float, uniform: FloatArray) -> FloatArray:
    """Return deaths as a share of the head started, in the shape of ``uniform``.

    Binomial(head, mean) by inversion; with a spread beyond chance, beta-binomial with that mean and spread of the rate,
    held at the widest that a beta distribution of that mean allows.
    """
    if mean_share <= 0.0:
        return np.zeros_like(uniform)
    count = np.arange(head + 1.0)
    choose = log_gamma(head + 1.0) - log_gamma(count + 1.0) - log_gamma(head - count + 1.0)
    widest = 0.99 * mean_share * (1.0 - mean_share)
    if sd_share > 0.0 and mean_share < 1.0:
        total = mean_share * (1.0 - mean_share) / min(sd_share**2, widest) - 1.0
        a, b = mean_share * total, (1.0 - mean_share) * total
        log_p = choose + log_gamma(count + a) + log_gamma(head - count + b) - log_gamma(head + a + b)
        log_p = log_p + log_gamma(a + b) - log_gamma(a) - log_gamma(b)
    else:
        log_p = choose + count * np.log(mean_share) + (head - count) * np.log1p(-min(mean_share, 1 - 1e-12))
    deaths = np.searchsorted(np.cumsum(np.exp(log_p)), uniform)
    return np.asarray(np.minimum(deaths, head) / head)
