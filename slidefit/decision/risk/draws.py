"""Joint draws of all that is not known.

Scrambled Sobol points: each side is cut evenly, and so are pairs and triples of the early sides: a mean over them
settles far sooner than over random numbers.

References
----------
Joe and Kuo (2008), Constructing Sobol sequences with better two-dimensional projections, SIAM J. Sci. Comput. 30(5),
for the direction numbers; Matousek (1998), On the L2-discrepancy for anchored boxes, J. Complexity 14(4), for the
scrambling.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.price_state import Posterior, PriceState
from slidefit.distributions import log_gamma, part_normals
from slidefit.plan.plan import Plan, Risk

AnyFloat = NDArray[np.floating[Any]]
FloatArray = NDArray[np.float64]
UintArray = NDArray[np.uint32]

BITS = 30
"""Binary places of a point: as scipy.stats.qmc takes them, whose points these are to the last bit (tested)."""
# fmt: off
DIRECTIONS = (
    (3, (1,)), (7, (1, 3)), (11, (1, 3, 1)), (13, (1, 1, 1)), (19, (1, 1, 3, 3)), (25, (1, 3, 5, 13)), (37,
    (1, 1, 5, 5, 17)), (41, (1, 1, 5, 5, 5)), (47, (1, 1, 7, 11, 19)), (55, (1, 1, 5, 1, 1)), (59, (1, 1, 1,
    3, 11)), (61, (1, 3, 5, 5, 31)), (67, (1, 3, 3, 9, 7, 49)), (91, (1, 1, 1, 15, 21, 21)), (97, (1, 3, 1,
    13, 27, 49)), (103, (1, 1, 1, 15, 7, 5)), (109, (1, 3, 1, 15, 13, 25)), (115, (1, 1, 5, 5, 19, 61)),
    (131, (1, 3, 7, 11, 23, 15, 103)), (137, (1, 3, 7, 13, 13, 15, 69)), (143, (1, 1, 3, 13, 7, 35, 63)),
    (145, (1, 3, 5, 9, 1, 25, 53)), (157, (1, 3, 1, 13, 9, 35, 107)), (167, (1, 3, 1, 5, 27, 61, 31)), (171,
    (1, 1, 5, 11, 19, 41, 61)), (185, (1, 3, 5, 3, 3, 13, 69)), (191, (1, 1, 7, 13, 1, 19, 1)), (193, (1, 3,
    7, 5, 13, 19, 59)), (203, (1, 1, 3, 9, 25, 29, 41)), (211, (1, 3, 5, 13, 23, 1, 55)), (213, (1, 3, 7, 3,
    13, 59, 17)), (229, (1, 3, 1, 3, 5, 53, 69)), (239, (1, 1, 5, 5, 23, 33, 13)), (241, (1, 1, 7, 7, 1, 61,
    123)), (247, (1, 1, 7, 9, 13, 61, 49)), (253, (1, 3, 3, 5, 3, 55, 33)), (285, (1, 3, 1, 15, 31, 13, 49,
    245)), (299, (1, 3, 5, 15, 31, 59, 63, 97)), (301, (1, 3, 1, 11, 11, 11, 77, 249)), (333, (1, 3, 1, 11,
    27, 43, 71, 9)), (351, (1, 1, 7, 15, 21, 11, 81, 45)), (355, (1, 3, 7, 3, 25, 31, 65, 79)), (357, (1, 3,
    1, 1, 19, 11, 3, 205)), (361, (1, 1, 5, 9, 19, 21, 29, 157)), (369, (1, 3, 7, 11, 1, 33, 89, 185)),
    (391, (1, 3, 3, 3, 15, 9, 79, 71)), (397, (1, 3, 7, 11, 15, 39, 119, 27)),
)
# fmt: on
"""For each side but the first: a primitive polynomial over two elements, as bits, and its first direction numbers."""


def sobol_points(rng: np.random.Generator, sides: int, power: int) -> FloatArray:
    """Return 2 ** ``power`` scrambled points, shape (2 ** power, sides).

    More sides than the table holds are handed to scipy.stats.qmc, which is slow to load.

    >>> points = sobol_points(np.random.default_rng(1), 5, 6)
    >>> [np.unique((side * 64).astype(int)).size for side in points.T]  # one point in each of 64 equal parts
    [64, 64, 64, 64, 64]
    """
    if sides > len(DIRECTIONS) + 1:
        from scipy.stats import qmc

        return np.asarray(qmc.Sobol(sides, scramble=True, seed=rng).random_base2(power))
    rng = rng.spawn(1)[0]
    shift = rng.integers(2, size=(sides, BITS), dtype=np.uint32) @ (1 << np.arange(BITS, dtype=np.uint32))
    lower = np.tril(rng.integers(2, size=(sides, BITS, BITS), dtype=np.uint32), -1) | np.eye(
        BITS, dtype=np.uint32
    )
    numbers = _scrambled(_directions(sides), lower)
    points = np.empty((1 << power, sides), dtype=np.uint32)
    points[0] = shift
    for place in range(
        power
    ):  # the second half of each block is the first, mirrored, with one more number put in
        block = 1 << place
        points[block : 2 * block] = points[:block][::-1] ^ numbers[:, place]
    return np.asarray(points * 0.5**BITS, dtype=np.float64)


@cache
def _directions(sides: int) -> UintArray:
    """Return the direction numbers of each side, shape (sides, BITS), highest place first."""
    found = np.ones((sides, BITS), dtype=np.uint32)
    for side, (polynomial, first) in enumerate(DIRECTIONS[: sides - 1], start=1):
        degree = len(first)
        found[side, :degree] = first
        for place in range(degree, BITS):
            new = int(found[side, place - degree])
            for back in range(1, degree + 1):
                if polynomial >> (degree - back) & 1:
                    new ^= int(found[side, place - back]) << back
            found[side, place] = new
    return found << np.arange(BITS - 1, -1, -1, dtype=np.uint32)


def _scrambled(numbers: UintArray, lower: UintArray) -> UintArray:
    """Return the numbers with the bits of each multiplied, modulo two, by its side's lower triangular matrix."""
    places = np.arange(BITS - 1, -1, -1, dtype=np.uint32)
    bits = numbers[:, :, None] >> places & 1
    mixed = np.einsum("spk,sjk->sjp", lower, bits) & 1
    return np.asarray(mixed.astype(np.uint32) @ (1 << places), dtype=np.uint32)


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
