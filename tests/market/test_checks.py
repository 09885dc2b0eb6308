"""Good, thin or not enough, with the reason and what to add.

Barns that look like one, and barns that never sold in the same month.

Autocorrelation, changing spread and heavy tails of the season's errors, in words."""

from __future__ import annotations

import numpy as np
import pytest

from slidefit.market.checks import (
    Verdict,
    bare_name,
    barn_notes,
    check_facts,
    check_notes,
    check_residuals,
    same_barn,
    verdict_of,
    weight_spread_lb,
)
from tests.market.coded import lots_of
from tests.market.simulate import autoregression, simulate


def verdict(**how):
    return verdict_of(lots_of(simulate(1, **how).records))


def test_nine_years_of_wide_sales_are_good(drawn):
    assert verdict_of(lots_of(drawn.records)) == Verdict("good", (), ())


@pytest.mark.parametrize(
    ("how", "word", "reason", "add"),
    [
        ({"sales": 2, "lots": 10}, "not enough", "20 lots", "280 more lots"),
        ({"sales": 2, "lots": 200}, "not enough", "2 sales", "8 more sales"),
        ({"sales": 8, "lots": 20}, "thin", "160 lots", "140 more lots"),
        (
            {"sales": 40, "lots": 30, "days_between": 14},
            "thin",
            "can't tell a season from a trend",
            "6 more months",
        ),
        ({"sales": 200, "lots": 10, "days_between": 7}, "thin", "5 crop years", "1 more years"),
        (
            {"sales": 225, "lots": 14, "days_between": 14, "weights_lb": (500, 560)},
            "thin",
            "differ by 1",
            "light and heavy",
        ),
        (
            {"sales": 9, "lots": 200, "days_between": 365},
            "thin",
            "11 calendar months were never seen",
            "those months",
        ),
    ],
)
def test_what_is_short_is_named(how, word, reason, add):
    found = verdict(**how)
    assert found.word == word
    assert any(reason in r for r in found.reasons)
    assert any(add in a for a in found.add)
    assert found.text().startswith(f"{word}: ")


def test_one_sex_of_one_weight_is_not_enough():
    records = simulate(1, sales=225, lots=14, days_between=14, weights_lb=(500, 540)).records
    found = verdict_of(lots_of(records[records["sex"] == "steer"]))
    assert found.word == "not enough"


def test_spread_is_within_sales():
    """Two sales far apart in weight but even within: no spread that a slide could be read from."""
    records = simulate(1, sales=2, lots=40).records
    day = records["sale_date"].to_numpy()
    records["weight_lb"] = [400.0 if d == day[0] else 700.0 for d in day]
    assert weight_spread_lb(lots_of(records), 0) == 0.0


JAN, FEB = (int(np.datetime64(day, "D").astype(int)) for day in ("2025-01-10", "2025-02-10"))


def notes(markets, sales):
    market, day = (np.array(part, dtype=np.int64) for part in zip(*sales, strict=True))
    return barn_notes(markets, market, day)


def test_one_barn_has_nothing_to_tell():
    assert notes(["Birch Landing"], [(0, JAN), (0, FEB)]) == ()


def in_months(market, first, count=6):
    months = np.datetime64("2025-01", "M") + np.arange(first, first + count)
    return [(market, int(day)) for day in (months.astype("datetime64[D]") + 9).astype(int)]


def test_barns_that_share_six_months_or_share_them_with_a_third_are_fine():
    sales = [*in_months(0, 0), *in_months(1, 0), *in_months(1, 6), *in_months(2, 6)]
    assert notes(["A Town", "B Town", "C Town"], sales) == ()


def test_barns_that_hardly_ever_meet_are_named():
    sales = [*in_months(0, 0), *in_months(1, 0), *in_months(2, 5)]
    (told,) = notes(["Birch Landing", "Otter Creek", "Elk Bend"], sales)
    assert (
        "fewer than 6 months" in told
        and "Birch Landing, Otter Creek; Elk Bend" in told
        and "one level" in told
    )


def test_two_names_of_one_place_are_named_with_what_to_do():
    markets = ["Birch Landing Livestock Auction", "BIRCH LANDING LIVESTOCK - Birch Landing, NM"]
    (told,) = notes(markets, [*in_months(0, 0), *in_months(1, 0)])
    assert all(repr(name) in told for name in markets) and "rename one of the markets" in told


def test_different_places_of_like_trade_are_not_taken_for_one():
    assert bare_name("Birch Landing Livestock") != bare_name("Otter Creek Livestock")
    assert notes(["Livestock Auction", "Stockyards"], [*in_months(0, 0), *in_months(1, 0)]) == ()


RNG = np.random.default_rng


def spells(n=400, seed=3):
    rng = RNG(seed)
    out, spread = np.zeros(n), 1.0
    for i in range(1, n):
        spread = 0.3 + 0.65 * out[i - 1] ** 2
        out[i] = rng.normal(0, np.sqrt(spread))
    return out


def test_the_figures_have_their_usual_names():
    checks = check_residuals(RNG(2).standard_t(2, size=300))
    (_, errors), (_, tests) = check_facts(checks)
    assert f"kurtosis {checks.kurtosis:.1f}" in errors and f"Jarque-Bera {checks.normality:.3f}" in tests
    assert check_facts(None) == ()


@pytest.mark.parametrize(
    ("errors", "said"),
    [
        (RNG(1).normal(size=120), "look like chance"),
        (0.25 + RNG(1).normal(size=300), "prices came in higher than the fit expected"),
        (-0.25 + RNG(1).normal(size=300), "prices came in lower"),
        (autoregression(RNG(1), 200, 1.0, 0.6), "in the same direction"),
        (autoregression(RNG(1), 200, 1.0, -0.6), "in the opposite direction"),
        (spells(), "calm and wild spells"),
        (RNG(2).standard_t(2, size=300), "bell curve"),
    ],
)
def test_each_fault_has_its_words(errors, said):
    assert any(said in note for note in check_notes(check_residuals(errors)))


def test_the_tests_are_those_of_another_program():
    """Against statsmodels (0.14): acorr_ljungbox on errors and their squares, jarque_bera; scipy's ttest_1samp."""
    from scipy.stats import ttest_1samp
    from statsmodels.stats.diagnostic import acorr_ljungbox
    from statsmodels.stats.stattools import jarque_bera

    errors = 0.1 + RNG(7).standard_t(6, size=250)
    found = check_residuals(errors)
    assert found.weeks == 250 and found.lean == pytest.approx(ttest_1samp(errors, 0.0).pvalue, abs=2e-3)
    assert found.autocorrelation == pytest.approx(acorr_ljungbox(errors, lags=[12])["lb_pvalue"].iloc[0])
    squares = (errors - errors.mean()) ** 2
    assert found.spread == pytest.approx(acorr_ljungbox(squares, lags=[4])["lb_pvalue"].iloc[0])
    _, normality, _, kurtosis = jarque_bera(errors)
    assert (found.normality, found.kurtosis) == pytest.approx((normality, kurtosis))


def test_wild_weeks_are_seen_that_sums_over_months_hide():
    """Heavy-tailed weeks in spells: tested week by week they raise both alarms, summed by four nearly never both."""
    weekly = [check_notes(check_residuals(spells(480, seed))) for seed in range(10)]
    assert sum(len(notes) >= 2 for notes in weekly) >= 9
    monthly = [spells(480, seed).reshape(-1, 4).sum(axis=1) / 2.0 for seed in range(10)]
    assert sum(len(check_notes(check_residuals(errors))) >= 2 for errors in monthly) <= 5


@pytest.mark.parametrize(("weeks", "judged"), [(99, False), (100, True)])
def test_few_weeks_are_not_judged(weeks, judged):
    assert (check_residuals(RNG(1).normal(size=weeks)) is not None) == judged
    assert check_residuals(np.zeros(150)) is None
    assert check_notes(None) == ()


def test_the_false_alarm_rate_is_that_of_the_level():
    """Four tests at one percent each: at most a few of 120 right models are called wrong."""
    rng = RNG(4)
    alarms = sum("chance" not in check_notes(check_residuals(rng.normal(size=300)))[0] for _ in range(120))
    assert alarms < 14


def test_a_fit_hands_its_errors_over(fitted):
    errors = fitted.season_fit.innovations
    weeks = len(np.unique((fitted.index.sale_day - fitted.index.sale_day[-1]) // 7))
    assert len(errors) == weeks - 1
    assert 0.7 < errors.std() < 1.3


def test_names_of_one_barn():
    assert same_barn("Low Ferry Livestock", "Low Fery Livestock Market")
    assert not same_barn("Low Ferry Livestock", "High Ferry Livestock")
