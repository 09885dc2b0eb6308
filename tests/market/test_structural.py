"""The level, the season and the walk from weekly prices with known truth."""

from datetime import date

import numpy as np
import pytest

from slidefit.market.outlook import month_weights
from slidefit.market.structural import DEFAULT_WALK_SD, WALK_PRIOR_MONTHS, fit_structural, weekly_means

WEEKS = 417
MONTHS = 96
NOISE = 0.03


def weekly(seed, walk=0.04, noise=NOISE, every=1):
    """Return days, prices and the level of a weekly market with a spring high of five percent."""
    rng = np.random.default_rng(seed)
    day = 17_000 + 7 * np.arange(WEEKS)
    level = 5.0 + np.cumsum(rng.normal(0.0, walk * np.sqrt(7 * 12 / 365.25), WEEKS))
    season = 0.05 * np.cos(2.0 * np.pi * (day - 17_000 - 120) / 365.25)
    price = level + season + rng.normal(0.0, noise, WEEKS)
    return day[::every], price[::every], level + season


def settled(walk):
    return np.sqrt((MONTHS * walk**2 + WALK_PRIOR_MONTHS * DEFAULT_WALK_SD**2) / (MONTHS + WALK_PRIOR_MONTHS))


@pytest.mark.parametrize(("walk", "every"), [(0.02, 1), (0.05, 1), (0.05, 2)])
def test_the_walk_is_that_of_the_level_not_of_its_monthly_means(walk, every):
    found = [fit_structural(*weekly(seed, walk, every=every)[:2], 2) for seed in range(10)]
    assert np.sqrt(np.mean([f.walk_sd_month**2 for f in found])) == pytest.approx(settled(walk), rel=0.08)
    assert np.mean([f.noise_sd for f in found]) == pytest.approx(NOISE, rel=0.08)


def test_todays_price_is_held_as_often_as_its_error_says():
    inside = []
    for seed in range(60):
        day, price, truth = weekly(seed)
        found = fit_structural(day, price, 2)
        shares = month_weights([np.datetime64(int(day[-1]), "D").astype(date)])[0]
        today = found.level_log + shares @ found.season
        inside.append(abs(today - truth[-1]) < 1.2816 * found.level_sd)
    assert 0.68 <= np.mean(inside) <= 0.92


def test_the_season_is_found_with_its_error():
    day, price, _ = weekly(3, walk=0.02)
    found = fit_structural(day, price, 2)
    first = np.datetime64("2016-01-15", "D").astype(int) + np.arange(12) * 30.4375
    truth = 0.05 * np.cos(2.0 * np.pi * (first - 17_000 - 120) / 365.25)
    assert found.season == pytest.approx(
        truth - truth.mean(), abs=3.5 * np.sqrt(found.season_cov.diagonal().max())
    )
    assert found.season.sum() == pytest.approx(0.0, abs=1e-12)
    assert np.linalg.eigvalsh(found.season_cov).min() > -1e-12


def test_without_a_season_there_is_none():
    found = fit_structural(*weekly(1)[:2], 0)
    assert (found.season == 0.0).all() and (found.season_cov == 0.0).all()


def test_errors_by_month_are_standard():
    found = np.concatenate([fit_structural(*weekly(seed)[:2], 2).innovations for seed in range(8)])
    assert np.nanstd(found) == pytest.approx(1.0, abs=0.08) and np.isnan(found).sum() < 24


def test_weeks_end_on_the_day_of_the_last_sale():
    day = np.array([100, 102, 107, 121])
    told = weekly_means(day, np.array([1.0, 3.0, 5.0, 7.0]))
    assert told == pytest.approx([2.0, 5.0, np.nan, 7.0], nan_ok=True)
