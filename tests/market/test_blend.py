"""Futures in an outlook: known blends, honest fading, and only the past in past forecasts."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from slidefit.futures_contracts import LISTED_MONTHS, FuturesQuote, expiry
from slidefit.market.blend import (
    ERRORS_TOGETHER,
    FADE_MONTHS,
    RAMP_DAYS,
    Origin,
    futures_outlook,
    past_forecasts,
    replayed_index,
    sale_noise_var,
)
from slidefit.market.fit.fixed_effects import PriceIndex
from slidefit.market.futures import MonthBasis
from slidefit.market.market_fit import fit_market
from slidefit.market.months import DAYS_PER_MONTH
from slidefit.market.past_record import OURS
from slidefit.market.season import fit_season
from tests.market.simulate import Truth, simulate

TRUTH = Truth(walk_sd_month=0.04, trend_year=0.0, sale_sd=0.01, level_slope=0.0)
BASIS = 0.04


def quotes_of(drawn, *, foresight=1.0, noise=0.01, seed=9):
    """Return weekly quotes of the next five contracts: a 750-lb steer's price to come, as far as it is foreseen."""
    rng = np.random.default_rng(seed)
    season = dict(zip(drawn.day.tolist(), drawn.level.tolist(), strict=True))
    days = np.array(list(season))
    quotes = []
    for day, level in season.items():
        when = date(1970, 1, 1) + timedelta(day)
        names = [
            f"{(when.year * 12 + when.month - 1 + k) // 12}-{(when.month - 1 + k) % 12 + 1:02d}"
            for k in range(14)
        ]
        listed = [n for n in names if int(n[5:]) in LISTED_MONTHS and expiry(n) >= when][:5]
        for name in listed:
            end = (expiry(name) - date(1970, 1, 1)).days
            later = float(np.interp(end, days, drawn.level))
            wave = 0.05 * np.cos(2.0 * np.pi * (int(name[5:]) - 1 - 3.0) / 12.0)
            log = (
                np.log(180.0) + level + foresight * (later - level) + wave - 0.11 * 2.0 + 0.008 * 4.0 - BASIS
            )
            quotes.append(FuturesQuote(name, float(np.exp(log + rng.normal(0.0, noise))), when))
    return quotes


@pytest.fixture(scope="module")
def drawn():
    return simulate(11, truth=TRUTH, sales=290, lots=8)


@pytest.fixture(scope="module")
def quotes(drawn):
    return quotes_of(drawn)


@pytest.fixture(scope="module")
def plain(drawn):
    return fit_market(drawn.records)


@pytest.fixture(scope="module")
def informed(drawn, quotes):
    return fit_market(drawn.records, quotes=quotes)


def days_on(outlook, *days):
    return [outlook.as_of + timedelta(each) for each in days]


def test_without_quotes_nothing_changes(plain):
    outlook = plain.outlook()
    assert outlook.futures is None and plain.month_basis is None and plain.quotes == ()
    assert futures_outlook(outlook, []) is outlook


def test_the_basis_is_found_at_the_contracts_weight(informed):
    assert informed.month_basis.weight_lb == 750.0 and informed.month_basis.months >= 60
    assert informed.month_basis.log.mean() == pytest.approx(BASIS, abs=0.015)


def test_futures_that_know_are_trusted_more_than_half_and_blind_ones_less(drawn, informed):
    blind = fit_market(drawn.records, quotes=quotes_of(drawn, foresight=0.0, noise=0.08))
    assert blind.record.futures_share < 0.45 < 0.55 < informed.record.futures_share


def test_the_expected_price_is_the_share_of_each(informed):
    outlook = informed.outlook()
    half, none = (futures_outlook(outlook, informed.quotes, share) for share in (0.5, 0.0))
    whole = futures_outlook(outlook, informed.quotes, 1.0)
    when = days_on(outlook, 30, 60, 90)
    assert half.log_index(when) == pytest.approx(
        0.5 * (none.log_index(when) + whole.log_index(when)), abs=2e-3
    )
    spread = [np.sqrt(np.diag(each.index_cov(when))) for each in (none, half, whole)]
    a, b = 0.5 * spread[0], 0.5 * spread[2]
    assert spread[1] == pytest.approx(np.sqrt(a**2 + b**2 + 2.0 * ERRORS_TOGETHER * a * b), rel=0.02)
    assert half.futures.share == 0.5 and half.futures.set_aside == ""


def test_todays_price_is_the_last_sales_and_the_share_grows_in_a_week(informed):
    outlook = informed.outlook()
    plain = replace(outlook, futures=None)
    today, later = days_on(outlook, 0), days_on(outlook, RAMP_DAYS + 3)
    assert outlook.log_index(today) == pytest.approx(plain.log_index(today), abs=1e-12)
    assert outlook.index_cov(today) == pytest.approx(plain.index_cov(today))
    assert abs(outlook.futures.at(outlook.months_ahead(later))[0][0]) > 0.0


def test_past_the_last_contract_the_shift_halves_every_three_months_and_the_range_goes_to_the_walks(informed):
    outlook = replace(informed.outlook(), range_scale=())
    view, plain = outlook.futures, replace(outlook, futures=None)
    last = expiry(max(name for name, _ in view.contracts))
    ahead = np.array([0.0, FADE_MONTHS, 2.0 * FADE_MONTHS])
    when = [last + timedelta(round(each * DAYS_PER_MONTH)) for each in ahead]
    shift = outlook.log_index(when) - plain.log_index(when)
    assert shift[1:] / shift[0] == pytest.approx([0.5, 0.25], rel=0.02)
    var, walk = np.diag(outlook.index_cov(when)), np.diag(plain.index_cov(when))
    assert var[1] - var[0] == pytest.approx(walk[1] - walk[0], rel=0.03)
    assert abs(np.sqrt(var[2] / walk[2]) - 1.0) < abs(np.sqrt(var[0] / walk[0]) - 1.0)


@pytest.mark.parametrize(
    ("quote", "why"),
    [
        (FuturesQuote("2024-03", 150.0, date(2023, 2, 1)), "too_old"),
        (FuturesQuote("2023-03", 150.0, date(2023, 3, 20)), "expired"),
    ],
)
def test_quotes_that_can_not_serve_are_set_aside_with_the_reason(informed, quote, why):
    outlook = replace(informed.outlook(), futures=None)
    aside = futures_outlook(outlook, [quote])
    when = days_on(outlook, 0, 60, 200)
    assert aside.futures.set_aside == why and aside.futures.share == 0.0
    assert np.array_equal(aside.log_index(when), outlook.log_index(when))
    assert np.array_equal(aside.index_cov(when), outlook.index_cov(when))


def test_without_a_basis_quotes_are_set_aside_and_a_regions_basis_will_do(plain):
    outlook = plain.outlook()
    two = [FuturesQuote(name, 150.0, outlook.as_of) for name in ("2023-05", "2023-08")]
    assert futures_outlook(outlook, two).futures.set_aside == "short_basis"
    lent = replace(outlook, month_basis=MonthBasis(np.full(12, 0.02), sd=0.034, source="River country"))
    assert futures_outlook(lent, two).futures.set_aside == ""
    assert futures_outlook(lent, two).futures.share == 0.5


def test_later_prices_and_quotes_change_no_earlier_forecast(drawn, quotes):
    from slidefit.market.backtest import backtest

    records = drawn.records[drawn.records["sale_date"] < "2020-10-01"]
    tested = backtest(records, quotes=quotes, horizons=4)
    day = tested.origins[5].outlook.as_of
    late = pd.to_datetime(records["sale_date"]).dt.date > day
    other = records.assign(price_cwt=records["price_cwt"].where(~late, 1.4 * records["price_cwt"]))
    moved = [
        replace(q, settlement_cwt=1.3 * q.settlement_cwt) if q.as_of > day + timedelta(31) else q
        for q in quotes
    ]
    again = backtest(other, quotes=moved, horizons=4)
    same = [o.outlook.as_of <= day for o in again.origins]
    assert sum(same) >= 6 and tested.has_futures
    assert np.array_equal(again.forecast[same], tested.forecast[same], equal_nan=True)
    assert np.array_equal(again.walk[same], tested.walk[same], equal_nan=True)
    assert not np.array_equal(again.forecast, tested.forecast, equal_nan=True)


def test_a_record_too_short_is_ours_by_name(drawn):
    short = fit_market(drawn.records[drawn.records["sale_date"] < "2019-09-01"])
    assert short.record is OURS and short.outlook().record is OURS
    assert OURS.source != "records" and OURS.said_came and OURS.origins >= 40


def test_ranges_that_missed_are_widened(informed):
    """Prices twice as far off as said: scales near two where outcomes are many, nearer to one where they are few."""
    fitted = replace(informed, month_basis=None, quotes=(), record=None)
    noise = sale_noise_var(fitted.index, fitted.season_fit.sale_sd)
    calm = replace(fitted.outlook(), walk_sd_month=0.01, drift_sd_month=0.0, level_sd=0.005)
    months = np.unique(fitted.index.month)[24:-1]
    origins = []
    for month in months:
        day = (np.datetime64(int(month) + 1, "M").astype("datetime64[D]") - 1).astype(int)
        at = int(np.flatnonzero(fitted.index.sale_day <= day)[-1])
        level = float(fitted.index.sale_log[at])
        as_of = date(1970, 1, 1) + timedelta(int(fitted.index.sale_day[at]))
        origins.append(
            Origin(
                int(month),
                replace(calm, as_of=as_of, log_level=level, season_log=np.zeros(12)),
                fitted.index.sale_log[: at + 1],
                noise[: at + 1],
            )
        )
    found = past_forecasts(origins, fitted.index, noise, 6, None).record.range_scale
    assert found[0] > 2.0 and found[5] > 1.2


def walking_index(seed, months=60, walk=0.04, sale_sd=0.015):
    """Return a weekly index of a walk with a season, its noise known."""
    rng = np.random.default_rng(seed)
    day = np.datetime64("2016-01-06", "D").astype(int) + 7 * np.arange(round(months * 4.348))
    turn = 2.0 * np.pi * (day - day[0]) / 365.25
    level = 5.2 + np.cumsum(rng.normal(0.0, walk * np.sqrt(7 * 12 / 365.25), len(day)))
    log = level + 0.04 * np.cos(turn) + rng.normal(0.0, sale_sd, len(day))
    month = day.astype("datetime64[D]").astype("datetime64[M]").astype(int)
    every = np.arange(month[0], month[-1] + 1)
    count = np.bincount(month - month[0])
    mean = np.bincount(month - month[0], log) / count
    return PriceIndex(day, log, np.zeros(1), every, mean, sale_sd**2 / count, count, sale_sd)


def test_ranges_hold_and_said_odds_come_in_simulated_markets(plain):
    """Six walks of five years, 80 percent ranges and odds near 30, 50, 70; `bench_coverage` has the larger run."""
    base = replace(plain.outlook(), record=None, range_scale=())

    def outlook_at(index):
        season = fit_season(index)
        return replace(
            base,
            as_of=date(1970, 1, 1) + timedelta(season.level_day),
            log_level=season.level_log,
            level_sd=season.level_sd,
            season_log=season.log,
            season_cov=season.cov,
            walk_sd_month=season.walk_sd_month,
            drift_sd_month=season.drift_sd_month,
            unseen_months=(),
        )

    z, came = [], []
    for seed in range(6):
        index = walking_index(seed)
        origins = replayed_index(index, outlook_at, 0.015, first_months=24, most_months=36)
        past = past_forecasts(origins, index, sale_noise_var(index, 0.015), 3, None)
        z.append((past.actual - past.forecast) / past.sd)
        came.append([row.came_pct for row in past.record.said_came])
    z = np.concatenate([each[np.isfinite(each)] for each in z])
    assert 0.74 <= np.mean(np.abs(z) <= 1.2815515655) <= 0.87
    middles = np.tile([30.0, 50.0, 70.0], 3)
    assert np.mean(came, axis=0) == pytest.approx(middles, abs=8.0)
