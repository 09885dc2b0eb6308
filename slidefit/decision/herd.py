"""The whole herd, each group at its own best choice, from the groups' joint draws.

As for one option (see `spread`), a normal number that moves the price at sale is integrated exactly in every draw: here
the part that the kept groups' prices share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from slidefit.decision.building import GroupCase
from slidefit.decision.draws import GroupDraws, World
from slidefit.decision.held_price import HeldCurves
from slidefit.decision.results import GroupResult, Herd
from slidefit.decision.spread import (
    ENOUGH_DRAWS,
    AnyFloat,
    PriceCurves,
    percentile,
    smooth_percentiles,
    whole_power,
)

FloatArray = NDArray[np.float64]
SHARES = (0.1, 0.5, 0.9)
NEWTON_STEPS = 4
FLOOR_STEPS = 8
"""A price floor gives the curves corners, which take more steps."""
FARTHEST_Z = 8.0
SMALLEST_SD = 1e-9


@dataclass(frozen=True)
class KeptGroup:
    """A group that is kept, in every draw.

    Attributes
    ----------
    case : GroupCase
    own : GroupDraws
    sale_date : date
    head : int
        Head kept.
    gains : array, shape (draws,) [$ per head]
    price_off : array, shape (draws,) [log points]
        How far the price at sale is off what the draw knew of it.
    curves : PriceCurves or HeldCurves or None
    """

    case: GroupCase
    own: GroupDraws
    sale_date: date
    head: int
    gains: AnyFloat
    price_off: AnyFloat
    curves: PriceCurves | HeldCurves | None

    @property
    def market(self) -> PriceCurves | None:
        """The check as a curve of the price at sale, a floor apart; None where that price is certain."""
        return self.curves.market if isinstance(self.curves, HeldCurves) else self.curves

    @property
    def least(self) -> AnyFloat | float:
        """What a price floor brings in each draw [$ per head started]; zero without one."""
        return self.curves.least if isinstance(self.curves, HeldCurves) else 0.0

    @property
    def check(self) -> AnyFloat | None:
        """What the check brings in each draw, a floor apart [$ per head started]; None where the price is certain."""
        return None if self.market is None else np.exp(self.market.worth + self.price_off)

    def index_weights(self, world: World) -> FloatArray:
        """Return how the group's price at sale rests on the index over the world's dates, shape (dates,)."""
        weights = np.zeros(len(world.dates))
        if self.market is not None:
            weights[world.dates.index(self.sale_date)] += 1.0
            weights[world.dates.index(self.case.weaning)] -= self.case.group.bid_cwt is not None
        return weights


@dataclass(frozen=True)
class CommonPrice:
    """One normal number that the kept groups' prices share, independent of all else in a draw.

    Attributes
    ----------
    z : array, shape (draws,)
    loads : array, shape (groups,) [log points]
        How far it moves each group's price.
    """

    z: AnyFloat
    loads: FloatArray


def common_price(kept: Sequence[KeptGroup], world: World) -> CommonPrice | None:
    """Return what the kept groups' prices share; None where there is nothing, or where it moves some of them apart.

    Their sum, weighted by what each brings, less its regression on the index at every weaning, which a draw knows.
    """
    weights = np.array([each.index_weights(world) for each in kept])
    lots = np.array([0.0 if each.market is None else each.own.lot_var for each in kept])
    checks = [each.check for each in kept]
    brought = np.array(
        [0.0 if c is None else each.head * float(c.mean()) for c, each in zip(checks, kept, strict=True)]
    )
    known = sorted({world.dates.index(each.case.weaning) for each in kept})
    total = brought @ weights
    of_known = np.linalg.pinv(world.cov[np.ix_(known, known)], hermitian=True) @ world.cov[known] @ total
    total[known] -= of_known
    sd = float(total @ world.cov @ total + lots @ brought**2) ** 0.5
    if sd <= SMALLEST_SD * (1.0 + brought.sum()):
        return None
    loads = (weights @ world.cov @ total + lots * brought) / sd
    index = total @ np.array([world.index[day] for day in world.dates])
    lot = sum(share * each.own.lot_later[each.sale_date] for share, each in zip(brought, kept, strict=True))
    return (
        CommonPrice(((index + lot) / sd).astype(kept[0].gains.dtype), loads) if np.all(loads >= 0.0) else None
    )


def herd_share_below(
    kept: Sequence[KeptGroup], common: CommonPrice, draws: int, values: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the probability of a herd's gain at or below each value, and its density there [per $].

    In each draw the gain rises with the common number and bends upward, so Newton's steps find where it passes a value.
    """
    start = common.z[:draws]
    fixed = -values.astype(start.dtype)[:, None] - sum(each.head * base_of(each)[:draws] for each in kept)
    z = np.repeat(start[None, :], len(values), axis=0)
    slope = np.ones_like(z)
    moved = [
        (
            each.head * each.check[:draws],
            each.head * np.broadcast_to(each.least, each.gains.shape)[:draws],
            float(load),
        )
        for each, load in zip(kept, common.loads, strict=True)
        if each.check is not None
    ]
    steps = FLOOR_STEPS if is_bent(kept) else NEWTON_STEPS
    for step in range(steps + 1):
        off, slope = fixed.copy(), np.full_like(z, 1e-12)
        for at_draw, least, load in moved:
            check = at_draw * np.exp(load * (z - start))
            off += np.maximum(check, least)
            slope += np.where(check > least, load * check, 0.0)
        if step < steps:
            z = np.clip(z - off / slope, -FARTHEST_Z, FARTHEST_Z)
    density = np.exp(-0.5 * z**2) / (sqrt(2.0 * pi) * slope)
    certain = np.abs(z) >= FARTHEST_Z
    return ndtr(z).mean(axis=1, dtype=float), np.where(certain, 0.0, density).mean(axis=1, dtype=float)


def is_bent(kept: Sequence[KeptGroup]) -> bool:
    """Return whether a floor holds the price of any group."""
    return any(each.curves is not None and each.curves.bent for each in kept)


def base_of(kept: KeptGroup) -> AnyFloat:
    """Return what a group's check must cover in each draw; minus its gain where the price is certain."""
    return -kept.gains if kept.curves is None or kept.market is None else kept.curves.base


def herd_of(results: Sequence[GroupResult], kept: Sequence[KeptGroup], world: World) -> Herd:
    """Return the whole herd: groups that are sold now gain nothing, the others what they gain for the head kept."""
    budget = sum(result.best.gain_herd for result in results)
    odds, points = 0.0, [0.0, 0.0, 0.0]
    if kept:
        total = sum(each.head * np.asarray(each.gains, dtype=float) for each in kept)
        ordered = np.sort(np.asarray(total))
        points = [percentile(ordered, share) for share in SHARES]
        odds = float(np.mean(ordered > 0.0))
        common = common_price(kept, world)
        if common is not None:
            bent = is_bent(kept)
            full = whole_power(len(ordered))
            draws = full if bent else min(full, ENOUGH_DRAWS)
            share_below = partial(herd_share_below, kept, common, draws)
            points, below = smooth_percentiles(share_below, ordered, SHARES, (0.0,), bent=bent)
            odds = 1.0 - below[0]
    return Herd(
        head=sum(result.head for result in results),
        sell_now=sum(result.sell_now.net_herd for result in results),
        gain=budget,
        odds=odds,
        p10=points[0],
        p50=points[1],
        p90=points[2],
    )
