"""How often the 95 percent interval of the slide holds the truth, over many simulated markets with a fixed seed.

No outside source: the truth is the simulation's. The large runs (docs/method.md) use the whole fit; here the least
squares and both error rules alone, on 500 markets of nine crop years each, the first and the last in part.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from slidefit.market.fit.leastsquares import (
    Chunk,
    jackknife_cov,
    sale_scores,
    solve,
    summarise,
)
from tests.market.coded import clustered_cov

MARKETS = 500
SALES, LOTS = 150, 6
SLOPE, BEND = -0.11, 0.008


def one_market(rng, drift_sd):
    """Draw 150 sales of six lots over eight and a half years; return the rows and each sale's crop year."""
    sale = np.repeat(np.arange(SALES), LOTS)
    year = (np.arange(SALES) * 8.6 / SALES + 0.26).astype(np.int64)
    x = rng.uniform(-2.0, 2.5, SALES * LOTS)
    head = np.maximum(np.round(rng.lognormal(2.0, 0.9, len(x))), 1.0)
    variance = 0.04**2 + 0.12**2 / head
    drift = np.zeros(SALES)
    if drift_sd:
        shock = rng.normal(0.0, drift_sd, year.max() + 1)
        drift = shock[year]
    y = (
        rng.normal(0.0, 0.2, SALES)[sale]
        + (SLOPE + drift[sale]) * x
        + BEND * x**2
        + rng.normal(size=len(x)) * np.sqrt(variance)
    )
    return Chunk(y, np.column_stack([x, x**2]), 1.0 / variance, sale), year


@pytest.fixture(scope="module")
def intervals():
    """Error and half-widths of the slide around 550 and 700 lb in every market, without and with yearly drift."""
    found = {}
    for name, drift_sd in (("independent", 0.0), ("drifting", 0.012)):
        rng = np.random.default_rng(20_260)
        rows = []
        for _ in range(MARKETS):
            chunk, year = one_market(rng, drift_sd)
            solution = solve(summarise(chunk))
            by_sale = clustered_cov(solution, sale_scores(chunk, solution), np.arange(SALES))
            by_year = jackknife_cov(solution, summarise(chunk, year[chunk.sale]))
            t_sale, t_year = stats.t.ppf(0.975, [SALES - 1, len(np.unique(year)) - 1])
            for gradient in (np.array([1.0, 0.0]), np.array([1.0, 3.0])):
                error = abs(gradient @ (solution.coef - [SLOPE, BEND]))
                rows.append(
                    (
                        error,
                        t_sale * np.sqrt(gradient @ by_sale @ gradient),
                        t_year * np.sqrt(gradient @ by_year @ gradient),
                    )
                )
        found[name] = np.array(rows)
    return found


def coverage(rows, column, factor=1.0):
    return 100.0 * float(np.mean(rows[:, 0] <= factor * rows[:, column]))


def test_independent_sales_by_sale(intervals):
    assert 93.0 <= coverage(intervals["independent"], 1) <= 97.0


def test_independent_sales_by_leaving_out_crop_years(intervals):
    assert 93.0 <= coverage(intervals["independent"], 2) <= 97.0


def test_a_slide_that_changes_from_year_to_year_needs_the_crop_year_rule(intervals):
    drifting = intervals["drifting"]
    assert coverage(drifting, 1) < 80.0
    assert 93.0 <= coverage(drifting, 2) <= 97.0


@pytest.mark.parametrize("factor", [0.8, 1.25])
def test_errors_a_fifth_too_small_or_a_quarter_too_large_would_be_noticed(intervals, factor):
    for column in (1, 2):
        assert not 93.0 <= coverage(intervals["independent"], column, factor) <= 97.0
