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
from scipy.special import gammaln, ndtri

from slidefit.decision.money import Number
from slidefit.decision.pricing import lot_head
from slidefit.decision.risk.sobol import sobol_points
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Group, Plan, Risk

FloatArray = NDArray[np.float64]


def part_middles(draws: int) -> FloatArray:
    """Return the middles of ``draws`` equal parts of the range from zero to one."""
    return (np.arange(draws, dtype=float) + 0.5) / draws


def even_points(rng: np.random.Generator, sides: int, draws: int) -> FloatArray:
    """Return points of the unit cube, shape (sides, draws): every row is spread evenly, the first rows best together.

    Notes
    -----
    A power of two fills every row exactly: one point in each of that many equal parts.

    Examples
    --------
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
    middles = ndtri(part_middles(draws))
    return np.asarray((middles / middles.std())[(points * draws).astype(np.intp)])


GROUP_ROWS = 4
"""Rows of even points for one group: its lot at weaning, forage, gain, deaths."""


@dataclass(frozen=True)
class World:
    """What all groups share.

    Attributes
    ----------
    index : mapping of date to array, shape (draws,) [log points]
        How far the price index is off the outlook on each date, drawn together over all dates.
    slide_z : mapping of sex to array, shape (draws,)
    dates : sequence of date
    cov : array, shape (n, n)
        Exact covariance of the index over ``dates``.
    slide_var : float
        One, or zero when the slide is held.
    """

    index: Mapping[date, FloatArray]
    slide_z: Mapping[str, FloatArray]
    dates: Sequence[date]
    cov: FloatArray
    slide_var: float

    def index_cov(self, one: date, other: date) -> float:
        """Return the covariance of the index on two dates."""
        return float(self.cov[self.dates.index(one), self.dates.index(other)])


@dataclass(frozen=True)
class GroupDraws:
    """What one group's options share.

    Attributes
    ----------
    lot_now : array, shape (draws,) [log points]
        This lot's price off the outlook at weaning; zero with a bid in hand.
    lot_later : mapping of date to array, shape (draws,) [log points]
        The same on each day of sale.
    gain_z, forage_z : arrays, shape (draws,)
    death_u : array, shape (draws,)
        Uniform; the death count is read from it for each program.
    lot_var : float
        Variance of a lot's price at one sale.
    """

    lot_now: FloatArray
    lot_later: Mapping[date, FloatArray]
    gain_z: FloatArray
    forage_z: FloatArray
    death_u: FloatArray
    lot_var: float


def draw_all(
    outlook: Outlook, plan: Plan, sales: Sequence[date], sexes: Sequence[str]
) -> tuple[World, tuple[GroupDraws, ...]]:
    """Return all draws of a plan: the world's, and those of each group in the plan's order.

    The even points go to what an answer is averaged over: slides, each group's own numbers, the index. The lots' prices
    at later sales are integrated exactly (see `spread`), so plain random numbers do for them.
    """
    rng = np.random.default_rng(plan.risk.seed)
    dates = plan_dates(plan, sales)
    own_rows = GROUP_ROWS * len(plan.groups)
    points = even_points(rng, own_rows + len(sexes) + len(dates), plan.risk.draws)
    world = draw_world(points[own_rows:], outlook, plan.risk, dates, sexes)
    groups = tuple(
        draw_group(points[GROUP_ROWS * k : GROUP_ROWS * (k + 1)], rng, outlook, plan.risk, group, sales)
        for k, group in enumerate(plan.groups)
    )
    return world, groups


def plan_dates(plan: Plan, sales: Sequence[date]) -> list[date]:
    """Return all dates that the index is drawn for: weanings and sales, in order."""
    return sorted({*sales, *(plan.weaning_of(group) for group in plan.groups)})


def precision_of(risk: Risk) -> type[np.floating[Any]]:
    """Return the precision of the draws: single, good to a tenth of a cent, or double where all is held."""
    return np.float32 if risk.vary else np.float64


def draw_index(normals: FloatArray, cov: FloatArray) -> FloatArray:
    """Return joint normal draws with mean zero, shape (n, draws), from standard ones and a covariance, shape (n, n).

    Each date adds its own normal to those before it (a triangular root); a covariance without full rank will do.
    """
    values, vectors = np.linalg.eigh(cov)
    upper: FloatArray = np.linalg.qr((vectors * np.sqrt(np.maximum(values, 0.0))).T)[1]
    return np.asarray(upper.T @ normals)


def draw_world(
    points: FloatArray, outlook: Outlook, risk: Risk, dates: Sequence[date], sexes: Sequence[str]
) -> World:
    """Return the draws that all groups share; what the plan holds still is drawn and then set to zero.

    Parameters
    ----------
    points : array, shape (sexes + dates, draws)
    """
    normals, kind = normals_at(points), precision_of(risk)
    index_normals, slide_normals = normals[len(sexes) :], normals[: len(sexes)]
    cov = outlook.index_cov(dates) * ("price" in risk.vary)
    return World(
        index=dict(zip(dates, draw_index(index_normals, cov).astype(kind), strict=True)),
        slide_z=dict(zip(sexes, (slide_normals * ("slide" in risk.vary)).astype(kind), strict=True)),
        dates=dates,
        cov=cov,
        slide_var=float("slide" in risk.vary),
    )


def draw_group(
    points: FloatArray,
    rng: np.random.Generator,
    outlook: Outlook,
    risk: Risk,
    group: Group,
    dates: Sequence[date],
) -> GroupDraws:
    """Return the draws that a group's options share; gain and forage are correlated as the plan says.

    Parameters
    ----------
    points : array, shape (4, draws)
        For the lot at weaning, forage, gain and deaths.
    """
    lot_now, forage, own = normals_at(points[:3])
    lot_sd = outlook.noise_sd(lot_head(group)) * ("lot" in risk.vary)
    corr = risk.gain_forage_corr
    gain = corr * forage + np.sqrt(1.0 - corr**2) * own
    kind = precision_of(risk)
    later = rng.standard_normal((len(dates), risk.draws), dtype=np.float32).astype(kind) * kind(lot_sd)
    return GroupDraws(
        lot_now=(lot_now * (lot_sd if group.bid_cwt is None else 0.0)).astype(kind),
        lot_later=dict(zip(dates, later, strict=True)),
        gain_z=(gain * ("gain" in risk.vary)).astype(kind),
        forage_z=(forage * ("forage" in risk.vary)).astype(kind),
        death_u=points[3],
        lot_var=lot_sd**2,
    )


def death_shares(head: int, mean_share: float, sd_share: float, uniform: FloatArray) -> FloatArray:
    """Return deaths as a share of the head started, in the shape of ``uniform``.

    Binomial(head, mean) by inversion; with a spread beyond chance, beta-binomial with that mean and spread of
    the rate.

    Notes
    -----
    A spread wider than a beta distribution of that mean allows is held at the widest.
    """
    if mean_share <= 0.0:
        return np.zeros_like(uniform)
    count = np.arange(head + 1.0)
    choose = gammaln(head + 1.0) - gammaln(count + 1.0) - gammaln(head - count + 1.0)
    widest = 0.99 * mean_share * (1.0 - mean_share)
    if sd_share > 0.0 and mean_share < 1.0:
        total = mean_share * (1.0 - mean_share) / min(sd_share**2, widest) - 1.0
        a, b = mean_share * total, (1.0 - mean_share) * total
        log_p = choose + gammaln(count + a) + gammaln(head - count + b) - gammaln(head + a + b)
        log_p = log_p + gammaln(a + b) - gammaln(a) - gammaln(b)
    else:
        log_p = choose + count * np.log(mean_share) + (head - count) * np.log1p(-min(mean_share, 1 - 1e-12))
    deaths = np.searchsorted(np.cumsum(np.exp(log_p)), uniform)
    return np.asarray(np.minimum(deaths, head) / head)


def forage_ratios(log_sd: float, normal: FloatArray) -> Number:
    """Return forage yield over the plan: lognormal with its median at the plan; one without a spread."""
    return np.exp(log_sd * normal) if log_sd > 0.0 else 1.0
