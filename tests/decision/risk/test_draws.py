from types import SimpleNamespace

import numpy as np
import pytest
from outlooks import make_outlook
from plans import changed_group, small_plan
from scipy.special import ndtr
from scipy.stats import betabinom, binom, qmc

from slidefit.decision.options import price_state_of
from slidefit.decision.risk.draws import (
    DIRECTIONS,
    death_shares,
    draw_all,
    draw_joint,
    even_points,
    normals_at,
    sobol_points,
)
from slidefit.decision.risk.simulation import GroupSimulation
from slidefit.distributions import part_middles


def normals(sides, draws=8192):
    return normals_at(even_points(np.random.default_rng(5), sides, draws))


def drawn(outlook=None, **changes):
    plan = small_plan(**changes)
    dates = [plan.dates.weaning.replace(month=month) for month in (11, 12)]
    state = price_state_of(outlook or make_outlook(), plan)
    world, groups = draw_all(state, plan, dates)
    return world, groups, dates


def test_index_draws_have_the_covariance_asked_for():
    outlook = make_outlook()
    plan = small_plan()
    dates = [plan.dates.weaning.replace(month=11), plan.dates.weaning.replace(year=2027, month=3)]
    cov = outlook.index_cov(dates)
    assert np.cov(draw_joint(normals(2), cov)) == pytest.approx(cov, rel=0.02)


def test_index_draws_bear_a_covariance_without_full_rank():
    same = np.full((3, 3), 0.04)
    index = draw_joint(normals(3), same)
    assert np.abs(index - index[0]).max() < 1e-7
    assert index[0].std() == pytest.approx(0.2, rel=1e-6)
    assert np.all(draw_joint(normals(2), np.zeros((2, 2))) == 0)


def test_the_first_date_rests_on_the_first_normal_alone():
    rows = normals(2)
    index = draw_joint(rows, np.array([[0.04, 0.03], [0.03, 0.09]]))
    assert abs(np.corrcoef(index[0], rows[0])[0, 1]) == pytest.approx(1.0)


@pytest.mark.parametrize("share", [0.02, 0.3])
def test_deaths_are_binomial(share):
    uniform = part_middles(20_000)
    deaths = np.round(death_shares(50, share, 0.0, uniform) * 50)
    assert np.array_equal(deaths, binom.ppf(uniform, 50, share))
    assert deaths.mean() == pytest.approx(50 * share, rel=0.01)


def test_deaths_spread_beyond_chance_are_beta_binomial():
    uniform = part_middles(20_000)
    share, sd = 0.04, 0.03
    total = share * (1 - share) / sd**2 - 1
    deaths = np.round(death_shares(80, share, sd, uniform) * 80)
    table = betabinom.cdf(np.arange(81), 80, share * total, (1 - share) * total)
    assert np.array_equal(deaths, np.searchsorted(table, uniform))
    plain = death_shares(80, share, 0.0, uniform) * 80
    assert deaths.std() > 1.4 * plain.std()
    assert deaths.mean() == pytest.approx(plain.mean(), rel=0.02)


def test_edges_of_deaths():
    uniform = np.array([0.001, 0.5, 0.999])
    assert np.all(death_shares(10, 0.0, 0.0, uniform) == 0)
    assert np.all(death_shares(10, 1.0, 0.0, uniform) == 1)
    assert np.all(death_shares(1, 0.5, 5.0, uniform) <= 1)


def test_forage_has_its_median_at_the_plan():
    normal = normals(1)[0]
    simulation = GroupSimulation(None, None, SimpleNamespace(forage_z=normal), True, normal)
    ratio = simulation.forage(0.3)
    assert np.median(ratio) == pytest.approx(1.0, abs=0.002)
    assert np.mean(ratio < np.exp(0.3)) == pytest.approx(float(ndtr(1.0)), abs=0.002)
    assert simulation.forage(0.0) == 1.0


def test_gain_and_forage_are_correlated_as_told():
    _, (own,), _ = drawn(groups=changed_group(bid_cwt=350.0), risk={"draws": 8192, "gain_forage_corr": 0.7})
    assert np.corrcoef(own.gain_z, own.forage_z)[0, 1] == pytest.approx(0.7, abs=0.01)
    assert np.all(own.noise_now == 0)


def test_what_the_plan_holds_does_not_move():
    world, (own,), _ = drawn(risk={"draws": 500, "vary": ["gain"]})
    assert np.all(world.rows == 0)
    assert np.all(own.noise_now == 0)
    assert np.all(own.forage_z == 0)
    assert own.gain_z.std() > 0.9
    world, (own,), _ = drawn(risk={"draws": 500, "vary": ["slide"]})
    assert world.rows.std(axis=1).max() > 0.9
    assert np.all(own.gain_z == 0)


def test_groups_share_the_market_and_have_noise_of_their_own():
    groups = [*changed_group(), {**changed_group()[0], "name": "more"}]
    world, (one, other), dates = drawn(groups=groups, risk={"draws": 8192})
    assert set(world.after.days) >= {small_plan().dates.weaning, *dates}
    for row in ("noise_now", "gain_z", "death_u"):
        assert abs(np.corrcoef(getattr(one, row), getattr(other, row))[0, 1]) < 0.02
    assert abs(np.corrcoef(one.noise_later[dates[0]], one.noise_later[dates[1]])[0, 1]) < 0.05
    assert one.noise_later[dates[0]].std() == pytest.approx(1.0, rel=0.05)
    assert np.cov(world.rows) == pytest.approx(world.after.cov, abs=0.02)


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
