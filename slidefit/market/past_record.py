"""What past forecasts teach the next: the width of its ranges, the share of futures, and said against came."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from slidefit.distributions import normal_cdf

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

PRIOR_OUTCOMES = 6.0
"""Outcomes that a share of one half and a scale of one are worth (our choice): a year of history moves them little."""
_SAID_PCT = (20.0, 40.0, 60.0, 80.0)
"""Edges of the odds that are told apart: near 30, near 50, near 70."""
NEEDED_MONTHS = 24


@dataclass(frozen=True)
class SaidCame:
    """How often keeping gained where its odds were between two bounds.

    Attributes
    ----------
    months : int. Months ahead.
    said_low, said_high : float [percent]
    decisions : int. Past forecasts that it is counted over, one for each month with a sale.
    came_pct : float [percent]
    """

    months: int
    said_low: float
    said_high: float
    decisions: int
    came_pct: float


@dataclass(frozen=True)
class PastRecord:
    """What past forecasts were worth.

    Attributes
    ----------
    source : str. ``records``, or the name of the records it was measured on.
    first_month, last_month : str. ``YYYY-MM`` of the first and the last forecast.
    origins : int
    said_came : tuple of SaidCame
    range_scale : tuple of float. What the standard errors of the level are multiplied by, at 1, 2, ... months ahead.
    futures_share : float
    """

    source: str
    first_month: str
    last_month: str
    origins: int
    said_came: tuple[SaidCame, ...]
    range_scale: tuple[float, ...]
    futures_share: float = 0.5


_OURS_CAME = {
    1: (45, 39.8, 63.3, 81.2),
    2: (43, 43.8, 67.6, 81.7),
    3: (43, 53.1, 71.4, 84.8),
    4: (41, 55.8, 74.8, 85.1),
    5: (39, 52.8, 75.3, 89.5),
    6: (38, 50.8, 74.7, 93.0),
    7: (37, 53.5, 75.9, 93.6),
    8: (36, 54.9, 79.9, 94.4),
    9: (35, 56.7, 85.1, 95.2),
}
"""By months ahead: decisions, and how often in 100 keeping gained where 30, 50 or 70 was said."""
OURS = PastRecord(
    "the weekly reports of a New Mexico barn", "2019-09", "2023-11", 47,
    tuple(
        SaidCame(months, low, high, decisions, share)
        for months, (decisions, *came) in _OURS_CAME.items()
        for (low, high), share in zip(pairwise(_SAID_PCT), came, strict=True)
    ),
    (),
)  # fmt: skip
"""Replayed from USDA AMS Market News records, without futures (`python -m tests.benchmarks.bench_futures`)."""


def learned_share(
    walk: FloatArray, futures: FloatArray, actual: FloatArray, known: NDArray[np.bool_]
) -> float:
    """Return the share of the futures that would have served best, leaning on one half.

        x = futures - walk,  y = actual - walk
        share = (mean_h sum x y / h + 6 s^2 / 2) / (mean_h sum x^2 / h + 6 s^2),   s^2 = mean x^2

    held within 0 and 1. Forecasts h months ahead from h months in a row count as one outcome.

    Parameters
    ----------
    walk, futures, actual : arrays, shape (n, h) [log points]
        Monthly means, by origin and months ahead; NaN where there is none.
    known : array of bool, shape (n, h). Outcomes that may be looked at.

    Examples
    --------
    >>> zero, one = np.zeros((600, 1)), np.ones((600, 1))
    >>> round(learned_share(zero, one, one, one > 0), 3), learned_share(zero, one, one, one < 0)
    (0.995, 0.5)
    """
    apart, came = futures - walk, actual - walk
    seen = known & np.isfinite(apart) & np.isfinite(came)
    if not seen.any():
        return 0.5
    ahead = np.arange(1.0, walk.shape[1] + 1.0)
    used = seen.any(axis=0)
    square = float((np.where(seen, apart**2, 0.0).sum(axis=0) / ahead)[used].mean())
    product = float((np.where(seen, apart * came, 0.0).sum(axis=0) / ahead)[used].mean())
    prior = PRIOR_OUTCOMES * float(apart[seen] @ apart[seen]) / int(seen.sum())
    return float(np.clip((product + 0.5 * prior) / (square + prior), 0.0, 1.0)) if prior > 0.0 else 0.5


def learned_scale(misses: FloatArray, known: NDArray[np.bool_]) -> FloatArray:
    """Return what each horizon's standard error must be multiplied by, shape (h,).

        all^2 = (sum over h of mean z^2 x n / h, + 6) / (sum of n / h, + 6)
        scale^2 = (mean of z^2 x n / h + 6 all^2) / (n / h + 6)

    Ranges that are too wide or too narrow are so at most horizons alike, and the far ones have few outcomes of their
    own: so each leans on all of them together, and they on one.

    Parameters
    ----------
    misses : array, shape (n, h)
        Mean square of the month's errors, less the sales' own noise, over their standard errors; NaN where no
        sale was. A horizon whose errors are less than the noise counts as one without errors.
    known : array of bool, shape (n, h)

    Examples
    --------
    >>> learned_scale(np.full((6, 2), 4.0), np.ones((6, 2), dtype=bool)) ** 2
    array([3.4, 3.2])
    """
    seen = known & np.isfinite(misses)
    outcomes = seen.sum(axis=0) / np.arange(1.0, misses.shape[1] + 1.0)
    mean = np.maximum(np.where(seen, misses, 0.0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1), 0.0)
    together = (outcomes @ mean + PRIOR_OUTCOMES) / (outcomes.sum() + PRIOR_OUTCOMES)
    return np.asarray(np.sqrt((outcomes * mean + PRIOR_OUTCOMES * together) / (outcomes + PRIOR_OUTCOMES)))


def said_came(z: FloatArray) -> tuple[SaidCame, ...]:
    """Return how often keeping gained, by months ahead and by the odds that were said.

    A forecast says odds q for every keeper whose costs need a price at its upper quantile q. So, u = Phi(z) being where
    the price came to lie in its forecast, keepers whose odds lay evenly between two bounds gained in a share of

        (high - (1 - u)) / (high - low), held within 0 and 1

    Parameters
    ----------
    z : array, shape (n, h, k)
        Errors over their standard errors, by origin, months ahead and sale; NaN where there is none.

    Examples
    --------
    >>> [row.came_pct for row in said_came(np.zeros((1, 1, 1)))]
    [0.0, 50.0, 100.0]
    """
    above = 1.0 - normal_cdf(z)
    rows = []
    for place in range(z.shape[1]):
        mine = above[:, place]
        months = int(np.isfinite(mine).any(axis=1).sum())
        if not months:
            continue
        for low, high in pairwise(_SAID_PCT):
            share = np.clip((high - 100.0 * mine) / (high - low), 0.0, 1.0)
            monthly = share[np.isfinite(mine)].mean()
            rows.append(SaidCame(place + 1, low, high, months, round(100.0 * float(monthly), 1)))
    return tuple(rows)
