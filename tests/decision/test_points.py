import numpy as np
import pytest
from scipy.special import ndtr

from slidefit.decision.points import even_points, normals_at, part_middles


def points(sides=5, draws=4096, seed=5):
    return even_points(np.random.default_rng(seed), sides, draws)


def test_every_row_has_one_point_in_each_part():
    rows = points()
    assert rows.shape == (5, 4096)
    assert np.array_equal(np.sort((rows * 4096).astype(int), axis=1), np.tile(np.arange(4096), (5, 1)))


def test_pairs_of_rows_fill_the_square_too():
    """32 x 32 boxes hold 4 of 4,096 points each; random points would leave 18 boxes empty."""
    rows = (points() * 32).astype(int)
    for one in range(4):
        counts = np.bincount(rows[one] * 32 + rows[one + 1], minlength=1024)
        assert counts.min() >= 1
        assert counts.std() < 1.0


def test_the_generator_moves_the_points_and_its_seed_fixes_them():
    assert np.array_equal(points(seed=1), points(seed=1))
    assert not np.array_equal(points(seed=1), points(seed=2))


@pytest.mark.parametrize("draws", [100, 1000, 2048])
def test_normals_are_the_middles_of_even_parts(draws):
    normals = normals_at(points(draws=draws))
    assert normals.shape == (5, draws)
    assert normals.mean(axis=1) == pytest.approx(0.0, abs=0.05)
    assert normals.std(axis=1) == pytest.approx(1.0, abs=0.05)
    assert np.max(np.abs(np.corrcoef(normals) - np.eye(5))) < 0.25
    if draws == 2048:
        assert normals.std(axis=1) == pytest.approx(1.0, abs=1e-12)
        assert np.max(np.abs(ndtr(np.sort(normals[0])) - part_middles(draws))) < 1e-3


def test_a_smooth_mean_settles_far_sooner_than_with_random_numbers():
    """E exp(.3 sum z / sqrt 5) is exp(.045)."""

    def off(normals):
        return abs(np.exp(0.3 * normals.sum(axis=0) / np.sqrt(5)).mean() - np.exp(0.045))

    even = max(off(normals_at(points(seed=seed))) for seed in range(5))
    plain = np.median([off(np.random.default_rng(seed).standard_normal((5, 4096))) for seed in range(9)])
    assert even < 0.1 * plain
