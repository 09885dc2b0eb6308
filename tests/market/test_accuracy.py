"""Error, bias, coverage and skill of past forecasts, on forecasts written by hand."""

from dataclasses import dataclass

import numpy as np
import pytest

from slidefit.market.accuracy import accuracy_notes, accuracy_table
from slidefit.market.backtest import Backtest


@dataclass
class Month:
    month: int


def written(errors, sd=0.1, simple=2.0):
    """Forecasts of zero with these errors (origins down, horizons across); the simple ones miss by ``simple`` times."""
    errors = np.asarray(errors, dtype=float)
    zero = np.zeros_like(errors)
    return Backtest(
        origins=tuple(Month(600 + i) for i in range(len(errors))),
        forecast=zero[..., None],
        sd=zero[..., None] + sd,
        actual=errors[..., None],
        no_change=errors * (1.0 - simple),
        last_year=np.full_like(errors, np.nan),
        index=None,
        slope=None,
        hindsight=None,
    )


def test_each_column_by_hand():
    row = accuracy_table(written([[0.01], [0.10], [-0.15], [0.30], [np.nan]])).iloc[0]
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
