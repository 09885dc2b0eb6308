"""The basis by month, and what the futures alone expect: known answers, only the past, ranges that hold."""

from datetime import date, timedelta

import numpy as np
import pytest

from slidefit.futures_contracts import LISTED_MONTHS, FuturesQuote, expiry
from slidefit.market.futures import (
    CONTRACT_WEIGHT_LB,
    NEEDED_MONTHS,
    OLDEST_QUOTE_DAYS,
    MonthBasis,
    QuoteHistory,
    fit_basis,
    futures_path,
)
from slidefit.market.months import EPOCH, month_weights

WAVE = 0.05 * np.cos(2.0 * np.pi * (np.arange(12) - 3.0) / 12.0) - 0.08


def contracts(day: date, count: int = 3) -> list[str]:
    """Return the next contracts listed on a day."""
    names = (
        f"{(day.year * 12 + day.month - 1 + k) // 12}-{(day.month - 1 + k) % 12 + 1:02d}" for k in range(15)
    )
    return [name for name in names if int(name[5:]) in LISTED_MONTHS and expiry(name) >= day][:count]


def market(months: int, *, seed: int = 1, departure_sd: float = 0.0, walk: float = 0.01, count: int = 3):
    """Return weekly sales of a 750-lb steer and the quotes of their days: a walk, seasonal in the cash alone."""
    rng = np.random.default_rng(seed)
    first = np.datetime64("2020-01-08", "D").astype(int)
    end = (np.datetime64("2020-01", "M") + months).astype("datetime64[D]").astype(int)
    day = np.arange(first, end, 7)
    level = np.log(150.0) + np.cumsum(rng.normal(0.0, walk, len(day)))
    departure = np.zeros(len(day))
    for k in range(1, len(day)):
        departure[k] = 0.9 * departure[k - 1] + rng.normal(0.0, departure_sd * np.sqrt(1.0 - 0.9**2))
    days = [EPOCH + timedelta(int(each)) for each in day]
    cash = level + month_weights(days) @ WAVE + departure
    quotes = [
        FuturesQuote(name, float(np.exp(at)), when)
        for when, at in zip(days, level, strict=True)
        for name in contracts(when, count)
    ]
    return day, cash, quotes


def basis_of(day, cash, quotes):
    history = QuoteHistory(quotes)
    return fit_basis(day, cash, history.nearest_log(day), history.day_sd(int(day[-1])))


def test_the_basis_of_every_month_is_found_less_one_years_pull():
    day, cash, quotes = market(48)
    found = basis_of(day, cash, quotes)
    apart, wanted = found.log - found.log.mean(), WAVE - WAVE.mean()
    assert found.months == 48 and abs(found.log.mean() - WAVE.mean()) < 0.003
    assert apart == pytest.approx(0.8 * wanted, abs=0.006)
    assert abs(found.departure) < 0.02


def test_a_departure_fades_as_fast_as_it_did_before():
    day, cash, quotes = market(58, departure_sd=0.05, seed=3)
    found = basis_of(day, cash, quotes)
    assert 0.4 < found.month_share < 0.8  # .9 a week is .63 a month
    assert 0.03 < found.sd < 0.06
    last = (cash[-4:] - np.log([q.settlement_cwt for q in quotes[-12::3]])).mean()
    weights = month_weights([EPOCH + timedelta(int(each)) for each in day[-4:]])
    assert found.departure == pytest.approx(last - (weights @ found.log).mean())


@pytest.mark.parametrize(("months", "known"), [(NEEDED_MONTHS - 1, False), (NEEDED_MONTHS, True)])
def test_a_basis_needs_twelve_months(months, known):
    day, cash, quotes = market(months)
    assert (basis_of(day, cash, quotes) is not None) == known


def test_no_quotes_no_basis_and_later_quotes_are_not_looked_at():
    day, cash, quotes = market(36)
    assert basis_of(day, cash, []) is None
    half, until = day <= day[80], EPOCH + timedelta(int(day[80]))
    then = basis_of(day[half], cash[half], [q for q in quotes if q.as_of <= until])
    again = basis_of(day[half], cash[half], quotes)
    assert np.array_equal(again.log, then.log) and (again.sd, again.departure) == (then.sd, then.departure)
    assert (again.month_share, again.day_sd, again.months) == (then.month_share, then.day_sd, then.months)


def test_a_curve_is_read_between_contracts_and_not_past_the_last():
    quoted = date(2026, 11, 4)
    curve = QuoteHistory(
        [FuturesQuote("2027-01", 320.0, quoted), FuturesQuote("2027-04", 340.0, quoted)]
    ).curve((quoted - EPOCH).days, 0)
    days = [date(2026, 11, 5), date(2027, 1, 20), date(2027, 2, 20), date(2027, 4, 29), date(2027, 4, 30)]
    prices = np.exp(curve.at(days))
    share = (expiry("2027-03") - expiry("2027-01")) / (expiry("2027-04") - expiry("2027-01"))
    assert prices[:4] == pytest.approx([320.0, 320.0, 320.0 * (340.0 / 320.0) ** share, 340.0])
    assert np.isnan(prices[4])


@pytest.mark.parametrize(("age", "known"), [(OLDEST_QUOTE_DAYS, True), (OLDEST_QUOTE_DAYS + 1, False)])
def test_quotes_are_set_aside_when_too_old(age, known):
    history = QuoteHistory([FuturesQuote("2027-05", 320.0, date(2026, 11, 4))])
    day = (date(2026, 11, 4) - EPOCH).days + age
    assert (history.curve(day, OLDEST_QUOTE_DAYS) is not None) == known


def test_contracts_that_ended_are_left_out_and_late_ones_join_the_newest_day():
    quotes = [
        FuturesQuote("2026-11", 330.0, date(2026, 11, 20)),
        FuturesQuote("2027-01", 325.0, date(2026, 11, 20)),
        FuturesQuote("2027-03", 321.0, date(2026, 11, 16)),
        FuturesQuote("2027-04", 318.0, date(2026, 11, 15)),
    ]
    curve = QuoteHistory(quotes).curve((date(2026, 11, 20) - EPOCH).days, 0)
    assert [name for name, _ in curve.contracts] == ["2027-01", "2027-03"]
    assert QuoteHistory(quotes[:1]).curve((date(2026, 11, 20) - EPOCH).days, 0) is None


def test_the_path_is_the_contract_the_basis_and_the_slide():
    quoted = date(2026, 11, 4)
    curve = QuoteHistory([FuturesQuote("2027-01", 330.0, quoted)]).curve((quoted - EPOCH).days, 0)
    basis = MonthBasis(
        np.full(12, 0.03), sd=0.034, month_share=0.5, departure=0.02, day_sd=0.01, relative=np.full(12, -0.15)
    )
    days = [quoted + timedelta(0), quoted + timedelta(61)]
    log, sd = futures_path(curve, basis, days, quoted)
    left = 0.5 ** (61 / (365.25 / 12))
    assert log == pytest.approx(np.log(330.0) + 0.03 + 0.15 + 0.02 * np.array([1.0, left]))
    wanted = [0.01**2, 0.01**2 + 0.01**2 * 61 * 5 / 7 + 0.034**2 * (1.0 - left**2)]
    assert sd**2 == pytest.approx(wanted)
    assert CONTRACT_WEIGHT_LB == 750.0


def test_the_daily_spread_is_counted_by_sessions_and_settled():
    rng = np.random.default_rng(5)
    days = [
        date(2024, 1, 1) + timedelta(k) for k in range(700) if (date(2024, 1, 1) + timedelta(k)).weekday() < 5
    ]
    price = 250.0 * np.exp(np.cumsum(rng.normal(0.0, 0.02, len(days))))
    quotes = [FuturesQuote("2026-11", float(p), d) for p, d in zip(price, days, strict=True)]
    assert 0.0185 < QuoteHistory(quotes).day_sd(99_999) < 0.0205
    assert QuoteHistory(quotes[:1]).day_sd(99_999) == pytest.approx(0.0115)


def test_the_range_of_the_futures_alone_holds():
    """Simulated: a walk in the futures, a fading departure in the basis; three months ahead, 80 percent ranges."""
    held, count = 0, 0
    for seed in range(20):
        day, cash, quotes = market(44, seed=seed, departure_sd=0.03, walk=0.025, count=6)
        history = QuoteHistory(quotes)
        near = history.nearest_log(day)
        for at in (-60, -40, -20):
            known = day <= day[at]
            basis = fit_basis(day[known], cash[known], near[known], history.day_sd(int(day[at])))
            target = EPOCH + timedelta(int(day[at + 13]))
            origin = EPOCH + timedelta(int(day[at]))
            log, sd = futures_path(history.curve(int(day[at]), 60), basis, [target], origin)
            held += abs(cash[at + 13] - log[0]) < 1.2816 * sd[0]
            count += 1
    assert 0.70 <= held / count <= 0.90  # one standard error is .042
