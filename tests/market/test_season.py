"""The level, the season and the walk from weekly prices with known truth.

The season and the level across sales."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from slidefit.market.fit.fixed_effects import PriceIndex
from slidefit.market.outlook import month_weights
from slidefit.market.season import (
    DEFAULT_WALK_SD,
    UNKNOWN_SEASON_SD,
    WALK_PRIOR_MONTHS,
    fit_season,
    fit_structural,
    months_seen_twice,
    season_table,
    weekly_means,
)

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


MONTHS_SEASON = np.arange(12)


def an_index(years=8, season=None, walk=0.02, seed=0, first=12 * 48, sale_sd=0.01):
    rng = np.random.default_rng(seed)
    n = 12 * years
    month = np.arange(first, first + n)
    season = np.zeros(12) if season is None else season
    level = np.log(200.0) + np.cumsum(rng.normal(0.0, walk, n))
    days = (month.astype("datetime64[M]").astype("datetime64[D]") + 14).astype(int)
    log = level + season[month % 12] + rng.normal(0.0, sale_sd, n)
    return PriceIndex(
        days, log, np.zeros(1), month, log, np.full(n, sale_sd**2), np.ones(n, dtype=int), sale_sd
    )


def two_waves():
    wave = 0.05 * np.cos(2 * np.pi * (MONTHS_SEASON - 3) / 12) + 0.02 * np.cos(
        4 * np.pi * (MONTHS_SEASON - 1) / 12
    )
    return wave - wave.mean()


@pytest.mark.parametrize("first", [12 * 48, 12 * 48 + 5, 12 * 47 + 11])
def test_the_season_is_found_whatever_month_the_records_begin_in(first):
    season = two_waves()
    found = fit_season(an_index(years=12, season=season, walk=0.01, seed=first, first=first))
    assert found.harmonics == 2 and found.notes == ()
    np.testing.assert_allclose(found.log, season, atol=0.012)
    assert found.log.sum() == pytest.approx(0.0, abs=1e-9)
    assert np.corrcoef(found.log, season)[0, 1] > 0.98


def test_the_seasons_error_covers_the_truth():
    """Over 40 markets of eight years, 95 percent intervals of the mid-months hold the truth about that often."""
    season, hits = two_waves(), []
    for seed in range(40):
        found = fit_season(an_index(years=8, season=season, walk=0.03, seed=seed))
        hits.append(np.abs(found.log - season) <= 1.96 * np.sqrt(np.diag(found.cov)))
    assert 0.90 <= np.mean(hits) <= 0.995


@pytest.mark.parametrize(
    ("years", "keep", "harmonics", "said"),
    [
        (1, range(12), 0, "no calendar month was seen in two years"),
        (4, range(12), 2, ""),
        (4, range(7), 1, "the season is a single wave"),
        (4, range(5), 0, "carried forward with no season"),
    ],
)
def test_no_season_from_months_seen_in_one_year_only(years, keep, harmonics, said):
    whole = an_index(years=years, season=two_waves())
    seen = np.isin(whole.month % 12, list(keep))
    index = replace(whole, month_log=np.where(seen, whole.month_log, np.nan))
    assert months_seen_twice(index) == (len(keep) if years > 1 else 0)
    found = fit_season(index)
    assert found.harmonics == harmonics
    assert said in " ".join(found.notes)
    if not harmonics:
        np.testing.assert_array_equal(found.log, 0.0)
        np.testing.assert_allclose(found.cov, UNKNOWN_SEASON_SD**2 * np.eye(12))


def test_few_months_take_the_usual_walk():
    index = an_index(years=1)
    few = replace(index, month=index.month[:8], month_log=index.month_log[:8], month_var=index.month_var[:8])
    found = fit_season(few)
    assert found.walk_sd_month == DEFAULT_WALK_SD
    assert "8 months are too few to tell how far prices wander" in " ".join(found.notes)


@pytest.mark.parametrize("walk", [0.015, 0.05])
def test_the_walk_is_found_and_drawn_a_little_toward_the_usual(walk):
    found = np.mean([fit_season(an_index(years=12, walk=walk, seed=s)).walk_sd_month for s in range(8)])
    own, usual = 144 * walk**2, WALK_PRIOR_MONTHS * DEFAULT_WALK_SD**2
    assert found == pytest.approx(np.sqrt((own + usual) / (144 + WALK_PRIOR_MONTHS)), rel=0.15)


def test_todays_level_is_the_last_three_sales_without_the_season():
    season = two_waves()
    index = an_index(years=8, season=season, walk=0.0, sale_sd=1e-4)
    found = fit_season(index)
    assert found.level_day == index.sale_day[-1]
    assert found.level_log == pytest.approx(np.log(200.0), abs=0.01)
    assert 0.0 < found.level_sd < 0.05


def test_a_dearer_market_has_the_same_season():
    index = an_index(years=8, season=two_waves(), seed=4)
    lifted = replace(index, month_log=index.month_log + 1.0, sale_log=index.sale_log + 1.0)
    one, two = fit_season(index), fit_season(lifted)
    np.testing.assert_allclose(two.log, one.log, atol=2e-4)
    assert two.level_log - one.level_log == pytest.approx(1.0, abs=1e-3)
    assert two.walk_sd_month == pytest.approx(one.walk_sd_month, rel=0.02)


def test_the_twelve_indices_average_exactly_100():
    """Ratios to the year's mean average one: Mississippi State University Extension, seasonal price index."""
    table = season_table(fit_season(an_index(years=8, season=two_waves(), seed=5)))
    assert table["month"].tolist() == list(range(1, 13))
    assert table["index"].mean() == pytest.approx(100.0, abs=1e-10)
    assert ((table["low"] < table["index"]) & (table["index"] < table["high"])).all()
    ratio = np.log(table["index"] / 100.0)
    np.testing.assert_allclose(ratio - ratio.mean(), two_waves(), atol=0.02)
