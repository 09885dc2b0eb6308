"""Points that fill a cube of many sides evenly: the raw numbers behind the joint draws.

Scrambled Sobol points, by scipy: each side is cut evenly, and so are pairs and triples of the early sides: a
mean over them settles far sooner than over random numbers.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

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
    whole = qmc.Sobol(sides, scramble=True, seed=rng).random_base2((draws - 1).bit_length())
    return np.ascontiguousarray(whole[:draws].T)


def normals_at(points: FloatArray) -> FloatArray:
    """Return standard normals for points between zero and one, in their shape.

    Each is the middle of the one of ``draws`` equal parts that its point lies in, scaled to a variance of one.
    """
    draws = points.shape[-1]
    middles = ndtri(part_middles(draws))
    return np.asarray((middles / middles.std())[(points * draws).astype(np.intp)])
