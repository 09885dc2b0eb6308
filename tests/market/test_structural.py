"""The level, the season and the walk from weekly prices with known truth, and against another program."""

from datetime import date

import numpy as np
import pytest

from slidefit.market.months import month_weights
from slidefit.market.structural import (
    DEFAULT_WALK_SD,
    WALK_PRIOR_MONTHS,
    as_statsmodels,
    fit_structural,
    weekly_means,
)

WEEKS = 417
MONTHS = 96
NOISE = 0.03
RNG = np.random.default_rng


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


def test_errors_by_week_are_standard_and_follow_no_pattern():
    found = [fit_structural(*weekly(seed)[:2], 2).innovations for seed in range(8)]
    assert {len(errors) for errors in found} == {WEEKS - 1}
    assert np.std(found) == pytest.approx(1.0, abs=0.05)
    assert np.mean([errors[1:] @ errors[:-1] for errors in found]) / WEEKS == pytest.approx(0.0, abs=0.04)


def test_weeks_without_a_sale_are_stepped_over():
    day, price, _ = weekly(5)
    kept = RNG(1).random(WEEKS) < 0.7
    kept[-1] = True
    found = fit_structural(day[kept], price[kept], 2)
    assert len(found.innovations) == kept.sum() - 1
    assert found.walk_sd_month == pytest.approx(fit_structural(day, price, 2).walk_sd_month, rel=0.15)


@pytest.mark.parametrize(("harmonics", "every"), [(2, 1), (1, 2), (0, 1)])
def test_it_is_the_kalman_filter_of_another_program(harmonics, every):
    """Against statsmodels' UnobservedComponents (0.14): local level and fixed waves, its own maximum likelihood."""
    day, price, _ = weekly(7, every=every)
    y = weekly_means(day, price)
    model = as_statsmodels(day, price, harmonics)
    found = fit_structural(day, price, harmonics)
    weeks = 365.25 / 12 / 7
    walk, noise = found.walk_sd_month / np.sqrt(weeks), found.noise_sd
    values = {"sigma2.level": (100 * walk) ** 2, "sigma2.irregular": (100 * noise) ** 2}
    state = model.filter([values[name] for name in model.param_names], cov_type="none")
    today = np.array([1.0, *[1.0, 0.0] * harmonics])
    level = np.nanmean(y) + float(today @ state.filtered_state[:, -1]) / 100.0
    spread = np.sqrt(today @ state.filtered_state_cov[:, :, -1] @ today) / 100.0
    shares = month_weights([np.datetime64(int(day[-1]), "D").astype(date)])[0]
    assert found.level_log + shares @ found.season == pytest.approx(level, abs=2e-4)
    assert found.level_sd == pytest.approx(spread, rel=2e-3)
    theirs = np.array(model.fit(start_params=[values[name] for name in model.param_names], disp=0).params)
    settled_walk = (
        MONTHS * theirs[model.param_names.index("sigma2.level")]
        + WALK_PRIOR_MONTHS * (100 * DEFAULT_WALK_SD) ** 2 / weeks
    )
    assert (100 * walk) ** 2 == pytest.approx(settled_walk / (MONTHS + WALK_PRIOR_MONTHS), rel=0.02)


def test_weeks_end_on_the_day_of_the_last_sale():
    day = np.array([100, 102, 107, 121])
    told = weekly_means(day, np.array([1.0, 3.0, 5.0, 7.0]))
    assert told == pytest.approx([2.0, 5.0, np.nan, 7.0], nan_ok=True)


def test_a_fit_hands_its_season_to_statsmodels(fitted):
    """Its own estimates of level and season by statsmodels, its swing over the year within 2 points of ours."""
    model = fitted.season_model()
    state = model.fit(disp=0)
    waves = 2 * fitted.season_fit.harmonics
    assert model.k_states == 1 + waves and state.nobs > 200
    ours = 100.0 * np.ptp(fitted.season_fit.log)
    wave = state.freq_seasonal[0].filtered[-52:] if waves else np.zeros(52)
    assert np.ptp(wave) == pytest.approx(ours, abs=2.0)
