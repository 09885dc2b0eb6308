"""The normal and Student's distributions in plain Python: `scipy.special` takes a third of a second to load."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from math import erfc, exp, lgamma, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

NORMAL_975 = 1.959964
"""97.5% point of the standard normal: half of a 95% interval, in standard errors."""
_STEPS = 200
"""Newton's steps to Student's quantile: under 60 for one degree of freedom and a probability of 1 - 1e-9."""


def _each(function: Callable[[float], float], values: ArrayLike) -> FloatArray:
    at = np.asarray(values, dtype=float)
    return np.array([function(value) for value in at.ravel().tolist()]).reshape(at.shape)


def normal_cdf(z: ArrayLike) -> FloatArray:
    """Return the probability below z, in its shape.

    >>> normal_cdf([0.0, 1.0]).round(4)
    array([0.5   , 0.8413])
    """
    return _each(lambda value: 0.5 * erfc(-value / sqrt(2.0)), z)


def normal_quantile(p: ArrayLike) -> FloatArray:
    """Return the standard normal's quantile of probabilities over 0 and under 1, in their shape.

    Raises
    ------
    ValueError
        A probability outside.

    >>> normal_quantile([0.1, 0.5]).round(4)
    array([-1.2816,  0.    ])
    """
    return _each(NormalDist().inv_cdf, p)


def part_middles(count: int) -> FloatArray:
    """Return the middles of equal parts of the range from zero to one, shape (count,)."""
    return (np.arange(count, dtype=float) + 0.5) / count


@cache
def part_normals(count: int) -> FloatArray:
    """Return the standard normal's quantiles there, scaled to a variance of one."""
    middles = normal_quantile(part_middles(count))
    return np.asarray(middles / middles.std())


def log_gamma(x: ArrayLike) -> FloatArray:
    """Return ln of the gamma function of |x|, in the shape of x."""
    return _each(lgamma, x)


def chi_square_beyond(degrees: int, x: float) -> float:
    """Return the probability of more than x under chi-squared with an even number of degrees of freedom.

    exp(-x/2) sum over k < degrees/2 of (x/2)^k / k!  (Abramowitz and Stegun 1964, 26.4.5)

    >>> round(chi_square_beyond(2, 5.991), 3)
    0.05
    """
    term = total = exp(-0.5 * x)
    for k in range(1, degrees // 2):
        term *= 0.5 * x / k
        total += term
    return total


def student_quantile(degrees: int, p: float) -> float:
    """Return Student's quantile of a probability of one half or more, by Newton's steps from the normal's.

    They come from below and can't pass it: the distribution is concave above zero.

    >>> round(student_quantile(4, 0.975), 4)
    2.7764
    """
    t = float(normal_quantile(p))
    log_scale = lgamma((degrees + 1) / 2) - lgamma(degrees / 2) - 0.5 * np.log(degrees * np.pi)
    for _ in range(_STEPS):
        density = np.exp(log_scale - (degrees + 1) / 2 * np.log1p(t * t / degrees))
        step = (p - _student_cdf(degrees, t)) / density
        t += step
        if abs(step) <= 1e-13 * t:
            break
    return float(t)


def _student_cdf(degrees: int, t: float) -> float:
    """Return Student's distribution at t over zero, whole degrees: Abramowitz and Stegun (1964), 26.7.3 and 26.7.4."""
    odd = degrees % 2
    angle = np.arctan(t / sqrt(degrees))
    place = np.arange(1.0, (degrees - odd) / 2) * 2.0
    ratios = (place + odd - 1.0) / (place + odd) * np.cos(angle) ** 2
    series = 1.0 + float(np.cumprod(ratios).sum())
    if odd:
        inside = np.sin(angle) * np.cos(angle) * series if degrees > 1 else 0.0
        return float(0.5 + (angle + inside) / np.pi)
    return float(0.5 + 0.5 * np.sin(angle) * series)
