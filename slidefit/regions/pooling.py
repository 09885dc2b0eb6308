"""Partial pooling: each market's slide is drawn toward the pool by how little its own records know."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

FloatArray = NDArray[np.float64]

USUAL_BETWEEN = 1.5
USUAL_MARKETS = 2.0


@dataclass(frozen=True)
class Pooled:
    """One quantity of several markets, pooled; arrays have shape (j,), all in the unit of the estimates.

    Attributes
    ----------
    mean, mean_se : float
        Of the markets' distribution, and its standard error.
    between : float
        Standard deviation of the true values from market to market.
    own_share : array
        Share of each market's own estimate in its pooled one, 0 to 1.
    estimate, se : array
    """

    mean: float
    mean_se: float
    between: float
    own_share: FloatArray
    estimate: FloatArray
    se: FloatArray


def between_sd(own: ArrayLike, se: ArrayLike) -> float:
    """Return how far markets truly differ, by Paule and Mandel's equation, settled with a usual value.

    The tau^2 at which sum_j (y_j - mean)^2 / (se_j^2 + tau^2) = J - 1, zero where even tau = 0 leaves less; then

        tau^2 = ((J - 1) tau_PM^2 + 2 x 1.5^2) / (J - 1 + 2)

    since a few markets can look alike by luck. 1.5 points per cwt is our judgement, no source: barns of three states
    differ by more, barns of one state by less.

    Parameters
    ----------
    own, se : array-like, shape (j,) [points per cwt]
        Estimates of markets and their standard errors, all above zero.

    References
    ----------
    Paule and Mandel (1982), Consensus values and weighting factors, J. Research NBS 87(5);
    DerSimonian and Kacker (2007), Contemporary Clinical Trials 28(2), sec. 2.
    """
    y, error = np.asarray(own, dtype=float), np.asarray(se, dtype=float)
    spare = len(y) - 1

    def excess(variance: float) -> float:
        weight = 1.0 / (error**2 + variance)
        return float((weight * (y - np.average(y, weights=weight)) ** 2).sum() - spare)

    moment = 0.0
    if spare > 0 and excess(0.0) > 0.0:
        top = float(np.ptp(y) ** 2 + 1e-12)
        while excess(top) > 0.0:
            top *= 2.0
        moment = float(brentq(excess, 0.0, top, xtol=1e-12))
    return float(np.sqrt((spare * moment + USUAL_MARKETS * USUAL_BETWEEN**2) / (spare + USUAL_MARKETS)))


def pool(own: ArrayLike, se: ArrayLike, between: float | None = None) -> Pooled:
    """Return each market's estimate drawn toward the mean of all.

        b_j = tau^2 / (tau^2 + se_j^2),   pooled_j = b_j y_j + (1 - b_j) mean
        se of pooled_j ^2 = b_j se_j^2 + (1 - b_j)^2 se(mean)^2

    Parameters
    ----------
    own, se : array-like, shape (j,) [points per cwt]
    between : float, optional
        tau, where it is known from elsewhere; by default `between_sd` of these.

    Notes
    -----
    tau is taken as known in the standard errors: with under five markets they are a little too small.

    References
    ----------
    Efron and Morris (1975), Data analysis using Stein's estimator, JASA 70; Morris (1983), Parametric empirical
    Bayes inference, JASA 78.

    Examples
    --------
    A market that knows nothing takes the mean of the others; one that knows all keeps its own.

    >>> pool([8.0, 12.0, 30.0], [0.5, 0.5, 1e6]).estimate.round(1)[2]
    np.float64(10.0)
    >>> pool([8.0, 12.0], [1e-9, 1e-9]).estimate.round(3)
    array([ 8., 12.])
    """
    y, error = np.asarray(own, dtype=float), np.asarray(se, dtype=float)
    tau = between_sd(y, error) if between is None else between
    weight = 1.0 / (error**2 + tau**2)
    mean = float(np.average(y, weights=weight))
    mean_se = float(np.sqrt(1.0 / weight.sum()))
    return draw_toward(y, error, mean, mean_se, tau)


def draw_toward(own: ArrayLike, se: ArrayLike, mean: float, mean_se: float, between: float) -> Pooled:
    """Return estimates drawn toward a mean that is already known, as `pool` does.

    Raises
    ------
    ValueError
        A standard error is not above zero while markets don't differ either.
    """
    y, error = np.asarray(own, dtype=float), np.asarray(se, dtype=float)
    total = between**2 + error**2
    if (total <= 0.0).any():
        raise ValueError("a standard error and the spread between markets are both zero")
    share = between**2 / total
    estimate = share * y + (1.0 - share) * mean
    return Pooled(
        mean, mean_se, between, share, estimate, np.sqrt(share * error**2 + (1.0 - share) ** 2 * mean_se**2)
    )
