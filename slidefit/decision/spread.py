"""Odds and percentiles of a gain from its draws, steadied by a normal stand-in whose distribution is known.

A gain is nearly a sum of normal drivers (log prices, slide, daily gain, forage). That sum, fitted to the draws, is
normal with a known spread; where its own draws lie a little low or high, so do those of the gain, and the share read
off the gain is moved by as much. The same draws serve both, so most of the chance in them cancels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

FloatArray = NDArray[np.float64]
WORST_SHARE = 0.05
TINY = 1e-12
TEN_PERCENT_Z = 1.2815515655446004


@dataclass(frozen=True)
class Drivers:
    """The normal numbers behind one option's draws.

    Attributes
    ----------
    own : array, shape (n,)
        The log price at sale.
    shared : array, shape (k, n)
        Those that all options of a group share. All have mean zero.
    cov : array, shape (k + 1, k + 1)
        Their exact covariance, ``own`` first.
    """

    own: FloatArray
    shared: FloatArray
    cov: FloatArray


@dataclass(frozen=True)
class Spread:
    """What the draws say of a gain [$ per head; odds are shares]."""

    odds: float
    odds_big_loss: float
    p10: float
    p50: float
    p90: float
    mean: float
    worst5_mean: float
    draw_error: float


@dataclass(frozen=True)
class StandIn:
    """A normal number that moves with the gain: its draws, and its exact standard deviation."""

    draws: FloatArray
    sd: float

    def share_below(self, share: float) -> float:
        """Return the share of the draws below the exact quantile of a share; the share itself without a spread."""
        if self.sd <= TINY or not 0.0 < share < 1.0:
            return share
        return float(np.count_nonzero(self.draws <= self.sd * ndtri(share))) / len(self.draws)


def stand_in(gains: FloatArray, drivers: Drivers) -> StandIn:
    """Return the linear stand-in of a gain: the regression on its drivers with their exact covariance."""
    moved = np.concatenate([[drivers.own @ gains], drivers.shared @ gains]) / len(gains)
    slopes = np.linalg.solve(drivers.cov + TINY * np.eye(len(moved)), moved)
    total = slopes[0] * drivers.own + slopes[1:] @ drivers.shared
    return StandIn(total, max(0.0, float(slopes @ drivers.cov @ slopes)) ** 0.5)


def percentile(ordered: FloatArray, share: float) -> float:
    """Return a percentile of numbers in order, read linearly between neighbours."""
    at = share * (len(ordered) - 1)
    low = int(at)
    high = min(low + 1, len(ordered) - 1)
    return float(ordered[low] + (at - low) * (ordered[high] - ordered[low]))


def share_at_most(ordered: FloatArray, value: float, beside: StandIn) -> float:
    """Return the share of gains at or below a value, moved by how far the stand-in's own share is off there."""
    plain = float(np.searchsorted(ordered, value, side="right")) / len(ordered)
    return min(1.0, max(0.0, 2.0 * plain - beside.share_below(plain)))


def spread_of_gain(gains: FloatArray, drivers: Drivers, loss_head: float) -> Spread:
    """Return odds, percentiles and means of a gain.

    Parameters
    ----------
    gains : array, shape (n,) [$ per head]
    drivers : Drivers
    loss_head : float [$ per head]
        What counts as a big loss.

    Notes
    -----
    The percentile of a share is read from the gains in order at the share of the stand-in's draws that lie below its
    exact quantile (a control variate with slope one).
    """
    ordered = np.sort(gains)
    beside = stand_in(gains, drivers)
    worst = max(1, round(beside.share_below(WORST_SHARE) * len(ordered)))
    mean = float(gains.mean())
    variance = max(0.0, float(gains @ gains) / len(gains) - mean**2)
    return Spread(
        odds=1.0 - share_at_most(ordered, 0.0, beside),
        odds_big_loss=share_at_most(ordered, -loss_head, beside),
        p10=percentile(ordered, beside.share_below(0.1)),
        p50=percentile(ordered, beside.share_below(0.5)),
        p90=percentile(ordered, beside.share_below(0.9)),
        mean=mean,
        worst5_mean=float(ordered[:worst].mean()),
        draw_error=float(np.sqrt(variance / len(gains))),
    )
