"""The season and the level across sales."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from slidefit.market.fit.fixed_effects import PriceIndex
from slidefit.market.months import month_weights
from slidefit.market.season import (
    DRIFT_PRIOR_MONTHS,
    UNKNOWN_SEASON_SD,
    USUAL_DRIFT_SD,
    drift_sd,
    fit_season,
    months_seen_twice,
    season_rows,
)
from slidefit.market.structural import DEFAULT_WALK_SD, WALK_PRIOR_MONTHS, fit_structural

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


RNG = np.random.default_rng


def index_of(day, log, sale_sd=0.01):
    """Return an index of sales on these days."""
    month = day.astype("datetime64[D]").astype("datetime64[M]").astype(int)
    every = np.arange(month[0], month[-1] + 1)
    count = np.bincount(month - month[0])
    mean = np.bincount(month - month[0], log) / count
    return PriceIndex(day, log, np.zeros(1), every, mean, sale_sd**2 / count, count, sale_sd)


def season_at(day, season):
    return month_weights(day.astype("datetime64[D]").tolist()) @ season


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


def test_todays_level_is_half_the_filters_and_half_the_last_three_sales():
    """A market that rose by a tenth in the last two weeks."""
    day = 17_000 + 7 * np.arange(417)
    log = np.log(200.0) + RNG(6).normal(0.0, 0.01, 417) + 0.1 * (np.arange(417) >= 415)
    index = index_of(day, log)
    found, filtered = fit_season(index), fit_structural(day, log, 2)
    last = (log - season_at(day, filtered.season))[-3:].mean()
    assert found.level_log == pytest.approx(0.5 * (filtered.level_log + last))
    assert abs(last - filtered.level_log) > 0.01
    assert filtered.level_sd < found.level_sd


def test_todays_price_is_held_as_often_as_its_error_says_by_both():
    inside = []
    for seed in range(60):
        rng = RNG(seed)
        day = 17_000 + 7 * np.arange(417)
        level = 5.0 + np.cumsum(rng.normal(0.0, 0.04 * np.sqrt(7 * 12 / 365.25), 417))
        found = fit_season(index_of(day, level + rng.normal(0.0, 0.03, 417)))
        today = found.level_log + season_at(day[-1:], found.log)[0]
        inside.append(abs(today - level[-1]) < 1.2816 * found.level_sd)
    assert 0.68 <= np.mean(inside) <= 0.95


def test_todays_level_without_noise_is_todays():
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
    table = pd.DataFrame(season_rows(fit_season(an_index(years=8, season=two_waves(), seed=5))))
    assert table["month"].tolist() == list(range(1, 13))
    assert table["index"].mean() == pytest.approx(100.0, abs=1e-10)
    assert ((table["low"] < table["index"]) & (table["index"] < table["high"])).all()
    ratio = np.log(table["index"] / 100.0)
    np.testing.assert_allclose(ratio - ratio.mean(), two_waves(), atol=0.02)


WALK = 0.03


def months_of(log):
    months = np.arange(len(log)) + 564
    return PriceIndex(
        sale_day=np.zeros(0, dtype=np.int64),
        sale_log=np.zeros(0),
        market_offset=np.zeros(1),
        month=months,
        month_log=np.asarray(log, dtype=float),
        month_var=np.zeros(len(log)),
        month_sales=np.ones(len(log), dtype=np.int64),
        sale_sd=0.02,
    )


def found(log, season=0.0):
    return drift_sd(months_of(log), np.full(12, season), WALK)


def walked(seed, months=400):
    return np.cumsum(np.random.default_rng(seed).normal(0.0, WALK, months))


@pytest.mark.parametrize(("months", "drift"), [(18, 0.015 / np.sqrt(2.0)), (54, 0.0075), (144, 0.005)])
def test_a_history_without_trend_keeps_what_eighteen_months_of_the_usual_leave(months, drift):
    """tau^2 = 18 x .015^2 / (months + 18), the usual spread being 1.5 percent a month."""
    assert found(np.zeros(months)) == pytest.approx(drift, rel=1e-12)


def test_a_walk_has_hardly_any():
    least = USUAL_DRIFT_SD * np.sqrt(DRIFT_PRIOR_MONTHS / (400 + DRIFT_PRIOR_MONTHS))
    drifts = [found(walked(seed)) for seed in range(12)]
    assert min(drifts) >= least - 1e-12
    assert np.mean(drifts) < 0.008


def test_a_cycle_has_its_own():
    """Thirty percent up and down over ten years: the mean square of its monthly slope is (.3 x 2 pi / 120)^2 / 2."""
    cycle = 0.30 * np.sin(2.0 * np.pi * np.arange(400) / 120.0)
    drifts = [found(walked(seed) + cycle) for seed in range(12)]
    assert np.mean(drifts) == pytest.approx(0.30 * 2.0 * np.pi / 120.0 / np.sqrt(2.0), rel=0.25)


def test_a_steady_climb_counts_as_trend():
    drifts = [found(0.02 * np.arange(400) + walked(seed)) for seed in range(12)]
    assert np.mean(drifts) == pytest.approx(0.02, rel=0.15)


def test_months_without_a_sale_are_stepped_over():
    log = walked(2)
    log[100:130] = np.nan
    assert found(log) == pytest.approx(found(walked(2)), abs=0.004)


def test_little_known_is_the_usual():
    assert found(walked(3, months=10)) == USUAL_DRIFT_SD
