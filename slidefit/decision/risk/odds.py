"""Odds and percentiles, the price integrated exactly; contract and floor.

In one draw everything but the price at sale is a number, and the gain is what the check brings less what it must
cover. The price is lognormal around what the draw knows of it, so a draw adds a whole curve to the distribution of the
gain, not one point (conditional Monte Carlo). The mean of such curves is far smoother than a count of draws.

Where the price is held its own chance is gone; what is open in a draw is the lot's price at weaning, if no bid is in
hand. So the held part of a draw's curve runs over that, and the part above a floor over the price at sale (see
`spread`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from math import exp, pi, sqrt
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from slidefit.distributions import normal_cdf

FloatArray = NDArray[np.float64]
AnyFloat = NDArray[np.floating[Any]]
TEN_PERCENT_Z = 1.2815515655446004
WORST_SHARE = 0.05
BAD_YEAR_SHARE = 0.1
"""A bad year is the mean of the worst tenth."""
SHARES = (WORST_SHARE, 0.1, 0.5, 0.9)
SMALLEST_SD = 1e-9
ENOUGH_DRAWS = 4096
"""Percentiles and odds rest on so many of the draws: they settle within tens of cents and hundredths of a point."""
FLOOR_SIDES = (-4.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0)
"""Standard errors around a percentile at which the distribution is read where a floor bends it."""
TABLE_REACH = 6.0
TABLE_CELLS = 32_768
CELLS_FOR_SD = TABLE_CELLS / (2.0 * TABLE_REACH)
TINY = 1e-30
NORMAL = NormalDist()


@dataclass(frozen=True)
class GainSpread:
    """What the draws say of a gain [$ per head; odds are shares]."""

    odds: float
    odds_big_loss: float
    p10: float
    p50: float
    p90: float
    worst5_mean: float
    bad_year: float
    draw_error: float


@dataclass(frozen=True)
class PriceCurves:
    """A gain as a curve of the price in every draw: exp(worth + sd Z) - base, Z a standard normal.

    ``worth`` [log $ per head started] is what the check brings after deaths and commission, at the price known in the
    draw; ``base`` what it must cover for keeping to come out even; ``sd`` the spread of the price around what the
    draw knows. Single precision is good to a tenth of a cent here, and twice as fast.
    """

    worth: AnyFloat
    base: AnyFloat
    sd: float

    @property
    def bent(self) -> bool:
        """Whether the distribution of the gain has corners: never."""
        return False

    def first(self, draws: int) -> PriceCurves:
        """Return the curves of the first draws alone."""
        return PriceCurves(self.worth[:draws], self.base[:draws], self.sd)

    def cells_of(self, check: AnyFloat) -> AnyFloat:
        """Return where in the normal table each draw's check comes to an amount, which must be above zero."""
        place = np.log(check)
        place -= self.worth
        place *= CELLS_FOR_SD / self.sd
        place += 0.5 * TABLE_CELLS
        return place

    def share_below(self, gains: AnyFloat) -> tuple[FloatArray, FloatArray]:
        """Return the probability of a gain at or below each value, and its density there [per $], in their shape."""
        check = self.base + gains.astype(self.base.dtype)[:, None]
        np.maximum(check, TINY, out=check)
        share, density = normal_at(self.cells_of(check))
        density /= check
        total = len(self.base)
        return np.add.reduce(share, axis=1) / total, np.add.reduce(density, axis=1) / (total * self.sd)

    @cached_property
    def expected(self) -> AnyFloat:
        """Return the expected check in each draw [$ per head started]."""
        return np.asarray(np.exp(self.worth + 0.5 * self.sd**2))

    def shortfall(self, check: AnyFloat, expected: AnyFloat) -> AnyFloat:
        """Return what each draw's check is expected to lack of an amount: E max(amount - check, 0)."""
        place = self.cells_of(np.maximum(check, TINY))
        lacks = check * normal_share(place)
        place -= CELLS_FOR_SD * self.sd
        return lacks - expected * normal_share(place)

    def mean_below(self, worst: float, share: float) -> float:
        """Return the mean of the gains below their percentile ``worst`` of a share [$ per head].

        q - E max(q - gain, 0) / share: an error of q comes in by its square only.
        """
        return worst - mean_of(self.shortfall(self.base + worst, self.expected)) / share


def mean_of(values: AnyFloat) -> float:
    """Return the mean of an array."""
    return float(np.add.reduce(values)) / len(values)


@cache
def normal_table() -> tuple[AnyFloat, AnyFloat]:
    """Return the normal distribution and its density at the middles of even cells from -6 to 6, in single precision."""
    z = TABLE_REACH * (2.0 * (np.arange(TABLE_CELLS) + 0.5) / TABLE_CELLS - 1.0)
    return normal_cdf(z).astype(np.float32), (np.exp(-0.5 * z**2) / sqrt(2.0 * pi)).astype(np.float32)


def normal_share(place: AnyFloat) -> AnyFloat:
    """Return the normal distribution at places in its table.

    The nearest cell is at most 0.0001 of probability off in one draw, and the draws' errors cancel.

    >>> z = np.linspace(-7, 7, 999)
    >>> bool(np.abs(normal_share(CELLS_FOR_SD * z + 0.5 * TABLE_CELLS) - normal_cdf(z)).max() < 1e-4)
    True
    """
    return normal_table()[0].take(place.astype(np.intp), mode="clip")


def normal_at(place: AnyFloat) -> tuple[AnyFloat, AnyFloat]:
    """Return the normal distribution and its density at places in their table."""
    cells = place.astype(np.intp)
    share, density = normal_table()
    return share.take(cells, mode="clip"), density.take(cells, mode="clip")


def percentile(ordered: AnyFloat, share: float) -> float:
    """Return a percentile of numbers in order, read linearly between neighbors."""
    at = share * (len(ordered) - 1)
    low = int(at)
    high = min(low + 1, len(ordered) - 1)
    return float(ordered[low] + (at - low) * (ordered[high] - ordered[low]))


def nearer_percentile(start: float, share: float, below: float, density: float) -> float:
    """Return the percentile of a share [$] from a value near it, the probability below and the density there.

    One Newton step where a normal distribution is a straight line: cents are left of a start some dollars off.
    """
    if density <= 0.0 or not 0.0 < below < 1.0:
        return start
    here = NORMAL.inv_cdf(below)
    return start + (NORMAL.inv_cdf(share) - here) * exp(-0.5 * here**2) / sqrt(2.0 * pi) / density


def smooth_percentiles(
    share_below: Callable[[FloatArray], tuple[FloatArray, FloatArray]],
    ordered: AnyFloat,
    shares: Sequence[float],
    values: Sequence[float],
    *,
    bent: bool,
) -> tuple[list[float], list[float]]:
    """Return the percentiles of shares [$], and the probabilities of a gain at or below given values.

    ``share_below`` gives the probability of a gain at or below each value and the density there; ``ordered`` are the
    draws' own gains, to start from. A price floor gives the distribution corners (``bent``): one step from the draws'
    own percentiles won't do then, and it is read between values around each.
    """
    starts = [percentile(ordered, share) for share in shares]
    below, density = share_below(np.array([*starts, *values]))
    at_values = [float(each) for each in below[len(starts) :]]
    if not bent:
        near = zip(starts, shares, below.tolist(), density.tolist(), strict=False)
        return [nearer_percentile(*each) for each in near], at_values
    found = []
    for share in shares:
        error = (share * (1.0 - share) / len(ordered)) ** 0.5
        around = np.array(
            [percentile(ordered, min(max(0.0, share + side * error), 1.0)) for side in FLOOR_SIDES]
        )
        found.append(float(np.interp(share, share_below(around)[0], around)))
    return found, at_values


@dataclass(frozen=True)
class ContractFloorCurves:
    """A gain max(check, least) - base in every draw, its held part open in the price at weaning.

    ``market`` is the check without a floor, None under a contract; ``least`` what the check brings at the floor or
    under the contract; ``start`` is ``base`` as exp(worth + sd Y) + base with Y the lot's normal number at weaning,
    None with a bid.
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
            now, paid = self.least - worst - self.start.base, self.start.expected
            lacks = held * (paid - now + self.start.shortfall(now, paid))
        if self.market is not None:
            brought = self.market.expected
            at_floor = self.market.shortfall(self.least, brought)
            below = self.market.shortfall(cover, brought) - at_floor - held * (cover - self.least)
            lacks = lacks + np.where(cover > self.least, below, 0.0)
        return worst - mean_of(lacks) / share


Curves = PriceCurves | ContractFloorCurves


def counted_spread(gains: AnyFloat, loss_head: float) -> GainSpread:
    """Return the spread of a gain by counting draws."""
    ordered = np.sort(gains)
    below = [float(np.searchsorted(ordered, at, side="right")) / len(ordered) for at in (0.0, -loss_head)]
    low, middle, high = (percentile(ordered, share) for share in (0.1, 0.5, 0.9))
    worst, bad = (
        float(np.mean(ordered[: max(1, round(share * len(ordered)))], dtype=float))
        for share in (WORST_SHARE, BAD_YEAR_SHARE)
    )
    return GainSpread(1.0 - below[0], below[1], low, middle, high, worst, bad, draw_error(gains))


def draw_error(gains: AnyFloat) -> float:
    """Return the standard error of the mean had the draws been plain random ones [$ per head]."""
    off = gains - np.add.reduce(gains) / len(gains)
    return sqrt(off @ off) / len(gains)


def spread_of_gain(gains: AnyFloat, curves: Curves | None, loss_head: float) -> GainSpread:
    """Return odds, percentiles and means of the worst part of a gain [$ per head]; without curves by counting draws."""
    if curves is None:
        return counted_spread(gains, loss_head)
    full = 1 << (len(gains).bit_length() - 1)  # so many even points fill their space evenly
    draws = full if curves.bent else min(full, ENOUGH_DRAWS)
    some = curves.first(draws)
    ordered = np.sort(gains[:draws])
    (worst, low, middle, high), (at_most_even, big_loss) = smooth_percentiles(
        some.share_below, ordered, SHARES, (0.0, -loss_head), bent=some.bent
    )
    whole = curves.first(full)
    return GainSpread(
        odds=1.0 - at_most_even,
        odds_big_loss=big_loss,
        p10=low,
        p50=middle,
        p90=high,
        worst5_mean=whole.mean_below(worst, WORST_SHARE),
        bad_year=whole.mean_below(low, BAD_YEAR_SHARE),
        draw_error=draw_error(gains),
    )
