"""What following the forecasts would have made, against simpler rules."""

import numpy as np
import pandas as pd
import pytest

from slidefit.decision.replay import Keeping, Replay, gain_head, replay, replay_notes, rules_table
from slidefit.errors import FitError
from slidefit.market.backtest import backtest
from tests.market.simulate import Truth, simulate

STILL = Truth(
    walk_sd_month=0.002, trend_year=0.0, sale_sd=0.002, lot_sd=0.01, calf_sd=0.02, slope_season=(0.0, 0.0)
)


@pytest.fixture(scope="module")
def still():
    """A market that only turns with the season: forecasts come true."""
    return backtest(simulate(4, truth=STILL, sales=80, lots=8, days_between=14).records)


def choices(rows):
    frame = pd.DataFrame(rows, columns=["decided", "months_kept", "expected_head", "actual_head"])
    return frame.assign(decided=pd.to_datetime(frame["decided"]))


def test_a_published_value_of_gain_comes_out():
    """Noble Foundation, 1 May 2005: 500 lb at $140 against 600 lb at $126 is $56 more; less 50 days at $1."""
    keeping = Keeping(start_lb=500, cost_head_day=1.0, death_loss_pct=0.0, shrink_pct=0.0)
    assert gain_head(keeping, np.array([500.0, 600.0]), np.array([140.0, 126.0]), 50) == pytest.approx(6.0)


def test_deaths_lose_the_whole_check_and_costs_run_on():
    whole = Keeping(death_loss_pct=0.0, shrink_pct=0.0)
    some = Keeping(death_loss_pct=2.0, shrink_pct=0.0)
    weights, prices = np.array([500.0, 600.0]), np.array([140.0, 126.0])
    assert gain_head(whole, weights, prices, 50) - gain_head(some, weights, prices, 50) == pytest.approx(
        0.02 * 756
    )


def test_in_a_still_market_what_was_expected_comes(still):
    made = replay(still, Keeping(), (2, 4)).choices
    assert (made["expected_head"] - made["actual_head"]).abs().median() < 8.0
    assert np.corrcoef(made["expected_head"], made["actual_head"])[0, 1] > 0.9


def test_the_rules_are_ordered(still):
    for table in (replay(still, Keeping()).by_months(), replay(still, Keeping()).by_year(3)):
        best = table[["always_sell", "always_keep", "advice"]].max(axis=1)
        assert (table["hindsight"] >= best - 1e-9).all()
        assert (table["always_sell"] == 0).all()
        assert ((table["right"] >= 0) & (table["right"] <= 1) & (table["kept"] <= table["decisions"])).all()


def test_a_dearer_day_makes_the_advice_keep_less(still):
    cheap, dear = (replay(still, Keeping(cost_head_day=c)).by_months()["kept"].sum() for c in (0.5, 2.5))
    assert cheap > dear


def test_years_add_up_to_the_months(still):
    result = replay(still, Keeping())
    by_year, all_years = result.by_year(3), result.by_months().set_index("months_kept").loc[3]
    assert np.average(by_year["advice"], weights=by_year["decisions"]) == pytest.approx(all_years["advice"])
    assert by_year["decisions"].sum() == all_years["decisions"]


def test_each_rule_by_hand():
    table = rules_table(
        choices([("2020-10-01", 3, 10, 40), ("2021-10-01", 3, -5, -20), ("2022-10-01", 3, -5, 30)]),
        "months_kept",
    )
    row = table.iloc[0]
    assert (row["decisions"], row["kept"]) == (3, 1)
    assert row["always_keep"] == pytest.approx(50 / 3)
    assert row["advice"] == pytest.approx(40 / 3)
    assert row["hindsight"] == pytest.approx(70 / 3)
    assert row["right"] == pytest.approx(2 / 3)
    assert (row["always_keep_worst_tenth"], row["advice_worst_tenth"]) == (-20.0, 0.0)
    assert "always_keep_log_pct" not in row.index


def test_bad_years_and_what_a_family_makes_of_them_by_hand():
    """Twenty decisions on checks of $1,000: the worst tenth is the two worst; ln(1 + gain / check)."""
    gains = np.linspace(-380.0, 380.0, 20)
    made = choices([("2020-10-01", 3, 1, gain) for gain in gains]).assign(check_head=1000.0)
    row = rules_table(made, "months_kept").iloc[0]
    assert row["always_keep_worst_tenth"] == pytest.approx(gains[:2].mean())
    assert row["always_keep_log_pct"] == pytest.approx(100.0 * np.log1p(gains / 1000.0).mean())
    assert row["always_sell_log_pct"] == 0.0 > row["always_keep_log_pct"]


def test_costs_are_scaled_by_the_prices_of_their_time(still):
    """At twice the price that the cost holds for it is twice as high: half the price gives the dearer replay."""
    now = float(np.exp(still.origins[0].outlook.log_index([still.origins[0].outlook.as_of])[0]))
    plain = replay(still, Keeping(cost_head_day=2.0), (3,)).choices["actual_head"].iloc[0]
    scaled = (
        replay(still, Keeping(cost_head_day=1.0, costs_of_cwt=now / 2.0), (3,)).choices["actual_head"].iloc[0]
    )
    assert scaled == pytest.approx(plain)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([("2020-10-01", 3, 10, -40), ("2021-10-01", 3, -5, 20)], "would not have paid"),
        ([("2020-10-01", 3, 10, -40), ("2021-10-01", 3, -5, 20)], "lost against selling at once at 3"),
        (
            [("2020-10-01", 3, 10, 40), ("2021-10-01", 3, -5, -20)],
            "more than both always selling and always keeping at 3",
        ),
        (
            [("2020-10-01", 3, -10, 40), ("2021-10-01", 3, 5, 20)],
            "always keeping paid at every number of months",
        ),
        (
            [("2020-10-01", 3, -10, 40), ("2021-10-01", 3, 5, 20)],
            "less than always keeping at 3 months kept, by up to $20",
        ),
        (
            [("2020-10-01", 3, -10, -40), ("2021-10-01", 3, -5, -20)],
            "always keeping lost at every number of months",
        ),
        ([("2020-10-01", 3, -10, -40), ("2021-10-01", 3, -5, -20)], "2 years of decisions"),
    ],
)
def test_words_follow_the_money(rows, said):
    assert any(said in note for note in replay_notes(Replay(Keeping(), choices(rows))))


def test_faults_are_told(still):
    with pytest.raises(FitError, match="no past decision on 2,000 lb steers"):
        replay(still, Keeping(start_lb=2000.0))
    with pytest.raises(FitError, match="no past decision"):
        replay(still, Keeping(sex="bull"))
    with pytest.raises(FitError, match="8 months was not replayed"):
        replay(still, Keeping(), (2,)).by_year(8)
