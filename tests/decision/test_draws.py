import numpy as np
import pytest
from outlooks import make_outlook
from plans import changed_group, small_plan
from scipy.special import ndtr
from scipy.stats import betabinom, binom

from slidefit.decision.draws import (
    death_shares,
    draw_group,
    draw_index,
    draw_world,
    forage_ratios,
    part_middles,
    shuffled_rows,
    stratified_normals,
)
from slidefit.decision.plan import Risk


def generator():
    return np.random.default_rng(5)


def test_every_row_has_one_number_in_each_part():
    normals = stratified_normals(generator(), 3, 2000)
    assert np.allclose(np.sort(normals, axis=1), np.sort(normals[0]))
    assert not np.array_equal(normals[0], normals[1])
    assert np.max(np.abs(np.corrcoef(normals) - np.eye(3))) < 0.1
    assert normals.mean(axis=1) == pytest.approx(0.0, abs=1e-12)
    assert normals.std(axis=1) == pytest.approx(1.0, abs=1e-12)
    shares = ndtr(np.sort(normals[0]))
    assert np.max(np.abs(shares - part_middles(2000))) < 1e-3


def test_index_draws_have_the_covariance_asked_for():
    outlook = make_outlook()
    plan = small_plan()
    dates = [plan.dates.weaning.replace(month=11), plan.dates.weaning.replace(year=2027, month=3)]
    cov = outlook.index_cov(dates)
    assert np.cov(draw_index(generator(), cov, 40_000)) == pytest.approx(cov, rel=0.02)


@pytest.mark.parametrize("share", [0.02, 0.3])
def test_deaths_are_binomial(share):
    uniform = shuffled_rows(generator(), part_middles(20_000), 1)[0]
    deaths = np.round(death_shares(50, share, 0.0, uniform) * 50)
    assert np.array_equal(deaths, binom.ppf(uniform, 50, share))
    assert deaths.mean() == pytest.approx(50 * share, rel=0.01)


def test_deaths_spread_beyond_chance_are_beta_binomial():
    uniform = shuffled_rows(generator(), part_middles(20_000), 1)[0]
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
    normal = stratified_normals(generator(), 1, 10_001)[0]
    ratio = forage_ratios(0.3, normal)
    assert np.median(ratio) == pytest.approx(1.0, abs=0.002)
    assert np.mean(ratio < np.exp(0.3)) == pytest.approx(float(ndtr(1.0)), abs=0.002)
    assert forage_ratios(0.0, normal) == 1.0


def test_gain_and_forage_are_correlated_as_told_and_held_things_do_not_move():
    outlook = make_outlook()
    group = small_plan(groups=changed_group(bid_cwt=350.0)).groups[0]
    dates = [small_plan().dates.weaning]
    own = draw_group(generator(), outlook, Risk(gain_forage_corr=0.7), group, dates)
    assert np.corrcoef(own.gain_z, own.forage_z)[0, 1] == pytest.approx(0.7, abs=0.02)
    assert np.all(own.lot_now == 0)
    still = draw_group(generator(), outlook, Risk(vary=("gain",)), group, dates)
    assert np.all(still.lot_later[dates[0]] == 0)
    assert np.all(still.forage_z == 0)
    assert still.gain_z.std() > 0.9
    world = draw_world(generator(), outlook, Risk(vary=("slide",)), dates, ["steer"])
    assert np.all(world.index[dates[0]] == 0)
    assert world.slide_z["steer"].std() > 0.9
