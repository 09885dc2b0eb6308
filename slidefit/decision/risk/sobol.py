"""Evenly spread points of the unit cube: Sobol's sequence with random linear scrambling and a random shift.

References
----------
Joe and Kuo (2008), Constructing Sobol sequences with better two-dimensional projections, SIAM J. Sci. Comput. 30(5),
for the direction numbers; Matousek (1998), On the L2-discrepancy for anchored boxes, J. Complexity 14(4), for the
scrambling.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

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
