"""A gain whose price is held: by a contract, or from below by a price floor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from slidefit.decision.risk.odds import TINY, AnyFloat, PriceCurves, mean_of, normal_at, normal_share

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class ContractFloorCurves:
    """A gain max(check, least) - base in every draw, its held part open in the price at weaning.

    Attributes
    ----------
    market : PriceCurves or None
        The check without a floor; None under a contract.
    least : array, shape (n,) [$ per head started]
        What the check brings at the floor, or under the contract.
    base : array, shape (n,) [$ per head started]
        What the check must cover.
    start : PriceCurves or None
        ``base`` as exp(worth + sd Y) + base with Y the lot's normal number at weaning; None with a bid in hand.
    """

    market: PriceCurves | None
    least: AnyFloat
    base: AnyFloat
    start: PriceCurves | None

    @property
    def bent(self) -> bool:
        """Whether the distribution of the gain has corners."""
        return self.market is not None

    def first(self, draws: int) -> ContractFloorCurves:
        """Return the curves of the first draws alone."""
        market, start = (None if each is None else each.first(draws) for each in (self.market, self.start))
        return ContractFloorCurves(market, self.least[:draws], self.base[:draws], start)

    def held_share(self) -> AnyFloat:
        """Return the probability in each draw that the price is held."""
        if self.market is None:
            return np.ones_like(self.least)
        return normal_share(self.market.cells_of(np.maximum(self.least, TINY)))

    def share_below(self, gains: AnyFloat) -> tuple[FloatArray, FloatArray]:
        """Return the probability of a gain at or below each value, and its density there [per $], in their shape."""
        gain = gains.astype(self.base.dtype)[:, None]
        cover, held = self.base + gain, self.held_share()
        slope = np.zeros_like(cover)
        if self.start is None:
            share = held * (cover >= self.least)
        else:
            now = np.maximum(self.least - gain - self.start.base, TINY)
            higher, density = normal_at(self.start.cells_of(now))
            share = held * (1.0 - higher)
            slope = held * density / (self.start.sd * now)
        if self.market is not None:
            above, cover = cover > self.least, np.maximum(cover, TINY)
            below, density = normal_at(self.market.cells_of(cover))
            share = share + np.where(above, below - held, 0.0)
            slope = slope + np.where(above, density / (self.market.sd * cover), 0.0)
        return share.mean(axis=1, dtype=float), slope.mean(axis=1, dtype=float)

    def mean_below(self, worst: float, share: float) -> float:
        """Return the mean of the gains below their percentile ``worst`` of a share [$ per head]."""
        cover, held = self.base + worst, self.held_share()
        if self.start is None:
            lacks = held * np.maximum(cover - self.least, 0.0)
        else:
            now, paid = self.least - worst - self.start.base, self.start.expected()
            lacks = held * (paid - now + self.start.shortfall(now, paid))
        if self.market is not None:
            brought = self.market.expected()
            at_floor = self.market.shortfall(self.least, brought)
            below = self.market.shortfall(cover, brought) - at_floor - held * (cover - self.least)
            lacks = lacks + np.where(cover > self.least, below, 0.0)
        return worst - mean_of(lacks) / share
