"""What following the forecasts would have made, against simpler rules."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from plans import changed_group, changed_program, small_plan

from slidefit.decision.replay import (
    PLAIN_CWT,
    Replay,
    keeping_of_plan,
    plain_plan,
    replay,
    replay_notes,
    rules_rows,
)
from slidefit.errors import FitError
from slidefit.market.backtest import backtest, brought
from tests.market.simulate import Truth, simulate

STILL = Truth(
    walk_sd_month=0.002, trend_year=0.0, sale_sd=0.002, lot_sd=0.01, calf_sd=0.02, slope_season=(0.0, 0.0)
)


@pytest.fixture(scope="module")
def still():
    """A market that only turns with the season: forecasts come true."""
    return backtest(simulate(4, truth=STILL, sales=80, lots=8, days_between=14).records)


def choices(rows):
    names = ("decided", "months_kept", "expected_head", "actual_head")
    return [dict(zip(names, (date.fromisoformat(day), *others), strict=True)) for day, *others in rows]


def keeping_of(test, **program):
    """The plain plan with fields of its program changed."""
    plan = plain_plan(test.origins[-1].outlook.as_of)
    changed = plan.programs[0].model_copy(update=program)
    return replace(keeping_of_plan(test.origins[-1].outlook), plan=plan, program=changed)


def test_what_came_goes_through_the_declared_budget(still):
    """The last decision by hand: declared costs, scaled by the price of their time; the plan's selling terms."""
    costs = {"health_head": 20.0, "labor_head_day": 0.3, "cost_head_day": 1.0, "death_loss_pct": 2.0}
    result = replay(still, keeping_of(still, **costs), (3,))
    row, origin = result.choices[-1], still.origins[len(result.choices) - 1]
    assert row["decided"] == origin.outlook.as_of
    now, days = origin.outlook.as_of, 91
    ratio = np.exp(origin.outlook.log_index([now])[0]) / PLAIN_CWT
    first, last = (
        float(np.exp(brought(still, "steer", np.array([lb]), day, until_then=day == now)[0]))
        for lb, day in ((500.0, now), (500.0 + 2.0 * days, now + timedelta(days)))
    )
    pay = 0.97  # the usual shrink of selling now, and the plain plan's at sale
    net_now = 5.0 * pay * first * 0.97 - 1.0 * ratio
    cash = (20.0 + 1.3 * days) * ratio
    sold = 0.98 * ((500.0 + 2.0 * days) / 100.0 * pay * last * 0.97 - 1.0 * ratio)
    interest = 0.08 * days / 365.0 * (net_now + cash / 2.0)
    assert row["actual_head"] == pytest.approx(sold - cash - interest - net_now, abs=0.01)
    assert row["check_head"] == pytest.approx(net_now)


def test_a_cost_declared_in_the_plan_is_in_the_replay(still):
    plain = pd.DataFrame(replay(still, keeping_of(still), (3,)).choices)
    fed = pd.DataFrame(replay(still, keeping_of(still, mineral_head_day=0.5), (3,)).choices)
    assert (fed["actual_head"] < plain["actual_head"] - 30.0).all()
    assert (fed["expected_head"] < plain["expected_head"] - 30.0).all()


def test_a_plan_of_ones_own_is_replayed_at_the_prices_of_the_time(still):
    """Its bid, contract, floor and forward price are of another day; its program's dates move with the day."""
    outlook = still.origins[-1].outlook
    weaning = outlook.as_of + timedelta(2)
    dates = {"weaning": str(weaning), "sales": [f"{weaning + timedelta(days):%Y-%m}" for days in (70, 100)]}
    program = changed_program(
        cost_head_day=0.2,
        earliest_on=str(weaning + timedelta(20)),
        wait_cost_head_day=0.2,
        wait_gain_lb_day=1.0,
    )
    group = changed_group(weight_lb=500.0, bid_cwt=900.0)
    plan = small_plan(
        dates=dates, programs=program, groups=group, selling={"floor": {"floor_cwt": 600.0, "cost_cwt": 1.0}}
    )
    keeping = keeping_of_plan(outlook, plan)
    assert (keeping.program.name, keeping.sex, keeping.start_lb, keeping.gain_lb_day) == (
        "yard",
        "steer",
        500.0,
        1.8,
    )
    made = pd.DataFrame(replay(still, keeping, (0, 1, 3)).choices)
    assert set(made["months_kept"]) == {1, 3}
    assert made["actual_head"].abs().max() < 300.0
    assert made["check_head"].median() == pytest.approx(
        500 * 0.97 * 0.97 * outlook.price_cwt("steer", 500.0, weaning) / 100, rel=0.15
    )


def test_in_a_still_market_what_was_expected_comes(still):
    made = pd.DataFrame(replay(still, keeping_of(still), (2, 4)).choices)
    assert (made["expected_head"] - made["actual_head"]).abs().median() < 8.0
    assert np.corrcoef(made["expected_head"], made["actual_head"])[0, 1] > 0.9


def test_the_rules_are_ordered(still):
    made = replay(still, keeping_of(still), (1, 3))
    for table in (pd.DataFrame(made.by_months()), pd.DataFrame(made.by_year(3))):
        best = table[["always_sell", "always_keep", "advice"]].max(axis=1)
        assert (table["hindsight"] >= best - 1e-9).all()
        assert (table["always_sell"] == 0).all()
        assert ((table["right"] >= 0) & (table["right"] <= 1) & (table["kept"] <= table["decisions"])).all()


def test_a_dearer_day_makes_the_advice_keep_less(still):
    cheap, dear = (
        sum(row["kept"] for row in replay(still, keeping_of(still, cost_head_day=c), (2, 4)).by_months())
        for c in (0.5, 2.5)
    )
    assert cheap > dear


def test_years_add_up_to_the_months(still):
    result = replay(still, keeping_of(still), (3,))
    by_year, (all_years,) = pd.DataFrame(result.by_year(3)), result.by_months()
    assert np.average(by_year["advice"], weights=by_year["decisions"]) == pytest.approx(all_years["advice"])
    assert by_year["decisions"].sum() == all_years["decisions"]


def test_each_rule_by_hand():
    table = rules_rows(
        choices([("2020-10-01", 3, 10, 40), ("2021-10-01", 3, -5, -20), ("2022-10-01", 3, -5, 30)]),
        "months_kept",
    )
    (row,) = table
    assert (row["decisions"], row["kept"]) == (3, 1)
    assert row["always_keep"] == pytest.approx(50 / 3)
    assert row["advice"] == pytest.approx(40 / 3)
    assert row["hindsight"] == pytest.approx(70 / 3)
    assert row["right"] == pytest.approx(2 / 3)
    assert (row["always_keep_worst_tenth"], row["advice_worst_tenth"]) == (-20.0, 0.0)
    assert "always_keep_log_pct" not in row


def test_bad_years_and_what_a_family_makes_of_them_by_hand():
    """Twenty decisions on checks of $1,000: the worst tenth is the two worst; ln(1 + gain / check)."""
    gains = np.linspace(-380.0, 380.0, 20)
    made = [each | {"check_head": 1000.0} for each in choices([("2020-10-01", 3, 1, gain) for gain in gains])]
    (row,) = rules_rows(made, "months_kept")
    assert row["always_keep_worst_tenth"] == pytest.approx(gains[:2].mean())
    assert row["always_keep_log_pct"] == pytest.approx(100.0 * np.log1p(gains / 1000.0).mean())
    assert row["always_sell_log_pct"] == 0.0 > row["always_keep_log_pct"]


def test_costs_are_scaled_by_the_prices_of_their_time(still):
    """At twice the price that the plan's costs hold for they are twice as high."""
    keeping = keeping_of(still, cost_head_day=1.0)
    cheap, dear, twice = (
        pd.DataFrame(replay(still, each, (3,)).choices)["actual_head"]
        for each in (
            keeping,
            replace(keeping, costs_of_cwt=PLAIN_CWT / 2.0),
            keeping_of(still, cost_head_day=2.0),
        )
    )
    checkoff = cheap - dear - (cheap - twice)
    assert (checkoff.abs() < 0.5).all() and (cheap - dear > 50.0).all()


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
    assert any(said in note for note in replay_notes(Replay(None, choices(rows))))


def test_faults_are_told(still):
    keeping = keeping_of(still)

    def calves(**changes):
        group = keeping.plan.groups[0].model_copy(update=changes)
        plan = keeping.plan.model_copy(update={"groups": (group,)})
        return replace(keeping, plan=plan, sex=group.sex, start_lb=group.mean_weight_lb)

    with pytest.raises(FitError, match="no past decision on 2,000 lb steers"):
        replay(still, calves(weight_lb=2000.0))
    with pytest.raises(FitError, match="no past decision"):
        replay(still, calves(sex="bull"))
    with pytest.raises(FitError, match="8 months was not replayed"):
        replay(still, keeping, (2,)).by_year(8)
