"""Error, bias, score, coverage and skill of past forecasts, on forecasts written by hand."""

from dataclasses import dataclass

import numpy as np
import pytest

from slidefit.market.accuracy import WITH_INTERVAL, accuracy_notes, accuracy_rows
from slidefit.market.backtest import RIVALS, Backtest
from slidefit.market.past_record import OURS


@dataclass
class Month:
    month: int


def written(errors, sd=0.1, simple=2.0, walk=None):
    """Forecasts of zero with these errors (origins down, horizons across); the simple ones miss by ``simple`` times."""
    errors = np.asarray(errors, dtype=float)
    zero = np.zeros_like(errors)
    return Backtest(
        origins=tuple(Month(600 + i) for i in range(len(errors))),
        forecast=zero[..., None],
        walk=zero[..., None] if walk is None else np.asarray(walk, dtype=float)[..., None],
        sd=zero[..., None] + sd,
        actual=errors[..., None],
        no_change=errors * (1.0 - simple),
        last_year=np.full_like(errors, np.nan),
        last_sale=errors * (1.0 - simple),
        month_season=errors * (1.0 - simple),
        index=None,
        slope=None,
        hindsight=None,
        record=OURS,
        has_futures=walk is not None,
    )


def test_each_column_by_hand():
    row = accuracy_rows(written([[0.01], [0.10], [-0.15], [0.30], [np.nan]]))[0]
    assert row["forecasts"] == 4
    assert row["bias_pct"] == pytest.approx(6.5)
    assert row["rmse_pct"] == pytest.approx(100 * np.sqrt((0.0001 + 0.01 + 0.0225 + 0.09) / 4))
    assert (row["covered_50_pct"], row["covered_80_pct"], row["covered_95_pct"]) == (25.0, 50.0, 75.0)
    assert row["half_width_80_pct"] == pytest.approx(12.8155, abs=1e-3)
    assert row["skill_no_change_pct"] == pytest.approx(50.0)
    assert np.isnan(row["skill_last_year_pct"])


@pytest.mark.parametrize(
    ("test", "said"),
    [
        (written(np.tile([[0.01], [-0.01]], (15, 2))), "more than 90 in 100 (1 months: 100, 2 months: 100)"),
        (written(np.tile([[0.2], [-0.2]], (15, 1))), "held fewer than 70"),
        (written(np.full((30, 1), 0.05)), "came in higher than forecast (+5% at 1 months)"),
        (written(np.full((30, 1), -0.05)), "came in lower"),
        (written(np.tile([[0.1], [-0.1]], (15, 1))), "beats no change at 1 months"),
        (written(np.tile([[0.1], [-0.1]], (15, 1)), simple=0.5), "does worse than no change at 1"),
        (written(np.tile([[0.1], [-0.1]], (15, 1)), simple=1.0), "no better than no change"),
        (written(np.tile([[0.1], [-0.1]], (5, 1))), "10 forecasts are few"),
        (written(np.tile([[0.1], [-0.1]], (15, 1))), "no year before to compare"),
    ],
    ids=lambda v: v[:20] if isinstance(v, str) else "",
)
def test_words_follow_the_figures(test, said):
    assert any(said in note for note in accuracy_notes(test))


def test_a_good_record_is_said_to_be_good():
    rng = np.random.default_rng(5)
    notes = accuracy_notes(written(rng.normal(0, 0.1, (400, 3))))
    assert any("80 percent ranges held" in n for n in notes)
    assert not any("came in" in n for n in notes)


def test_the_score_is_the_integral_that_defines_it():
    """CRPS = integral of (F(y) - 1(y >= x))^2, on a fine grid: Gneiting and Raftery (2007), eq. 20."""
    from scipy.stats import norm

    errors = np.array([[0.03], [-0.22], [0.0], [0.41]])
    grid = np.linspace(-3.0, 3.0, 600_001)
    below = norm.cdf(grid, 0.0, 0.1)
    wanted = [float(((below - (grid >= x)) ** 2).sum() * (grid[1] - grid[0])) for x in errors[:, 0]]
    row = accuracy_rows(written(errors))[0]
    assert row["crps_pct"] == pytest.approx(100.0 * np.mean(wanted), rel=1e-4)


def test_an_honest_forecast_fills_its_fifths_evenly():
    row = accuracy_rows(written(np.random.default_rng(1).normal(0.0, 0.1, (5000, 1))))[0]
    assert row["pit_fifths"] == pytest.approx([20.0] * 5, abs=1.5)
    low = accuracy_rows(written(np.full((30, 1), -0.5)))[0]
    assert low["pit_fifths"] == [100.0, 0.0, 0.0, 0.0, 0.0]


def test_futures_are_held_against_the_walk_by_the_months_mean():
    errors = np.array([[0.1], [-0.1], [0.05]])
    row = accuracy_rows(written(errors, walk=-errors))[0]
    assert row["walk_ratio"] == pytest.approx(0.5)
    assert np.isnan(accuracy_rows(written(errors))[0]["walk_ratio"])
    assert any(
        "with futures the error was 0.50" in note for note in accuracy_notes(written(errors, walk=-errors))
    )


def test_bounds_are_those_of_whole_years():
    """Ten years that each hold twelve like errors: the mean of ten independent draws, not of a hundred and twenty."""
    yearly = np.random.default_rng(2).normal(0.0, 0.1, 10)
    row = accuracy_rows(written(np.repeat(yearly, 12)[:, None]))[0]
    reach = 0.5 * (row["bias_pct_high"] - row["bias_pct_low"])
    assert reach == pytest.approx(1.645 * 100.0 * yearly.std() / np.sqrt(10), rel=0.15)
    for name in WITH_INTERVAL[:4]:
        assert row[f"{name}_low"] <= row[name] <= row[f"{name}_high"]
    assert {f"skill_{name}_pct" for name in RIVALS} <= set(row)
