"""The points are those of scipy.stats.qmc.Sobol, bit for bit, from the same generator."""

import numpy as np
import pytest
from scipy.stats import qmc

from slidefit.decision.risk.sobol import DIRECTIONS, sobol_points


@pytest.mark.parametrize("sides", [1, 2, 7, len(DIRECTIONS) + 1, len(DIRECTIONS) + 2])
@pytest.mark.parametrize("power", [0, 1, 10])
def test_the_points_are_those_of_scipy(sides, power):
    ours = sobol_points(np.random.default_rng(5), sides, power)
    theirs = qmc.Sobol(sides, scramble=True, seed=np.random.default_rng(5)).random_base2(power)
    np.testing.assert_array_equal(ours, theirs)
    assert ours.shape == (2**power, sides)


def test_the_generator_moves_on():
    rng = np.random.default_rng(5)
    assert not np.array_equal(sobol_points(rng, 3, 4), sobol_points(rng, 3, 4))
