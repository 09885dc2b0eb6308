"""Old and new windows of the same records refitted: the change is that of two fits, and what truly moved is found."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from slidefit.market.fit.coding import lots_of
from slidefit.market.fit.fixed_effects import fit_fixed_effects
from slidefit.market.market_fit import MarketFit, fit_market
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.moved.change import changes, judged_keys
from slidefit.regions.moved.refits import NumberKey, Refits, _walk_fit, refits
from slidefit.regions.moved.renewal import renewed
from slidefit.regions.region import Region
from tests.market.simulate import Truth, simulate

MADE = date(2026, 1, 1)
WEIGHTS = (450.0, 550.0, 650.0, 750.0)
KEYS = [NumberKey("slide", sex, weight) for sex in ("steer", "heifer") for weight in WEIGHTS]


@pytest.fixture(scope="module")
def sales() -> pd.DataFrame:
    """Eight years of one barn whose slide strays from week to week and from year to year; one lot in fifty misread."""
    truth = replace(Truth(), drift_sd=0.016, drift_year_sd=0.008)
    records = simulate(21, truth=truth, sales=208, lots=18, days_between=14).records
    lost = np.random.default_rng(3).random(len(records)) < 0.02
    return records.assign(price_cwt=records["price_cwt"].where(~lost, records["price_cwt"] * 3.0))


@pytest.fixture(scope="module")
def last_year(sales: pd.DataFrame) -> date:
    return (sales["sale_date"].max() - pd.Timedelta(days=365)).date()


@pytest.fixture(scope="module")
def fit(sales: pd.DataFrame) -> MarketFit:
    return fit_market(sales)


@pytest.fixture(scope="module")
def found(fit: MarketFit, sales: pd.DataFrame, last_year: date) -> Refits:
    return refits(
        fit,
        sales,
        last_year,
        [*KEYS, NumberKey("head"), NumberKey("noise", "lot"), NumberKey("season", "", 0.0, 3)],
    )


def slides_of(fit: MarketFit, records: pd.DataFrame) -> np.ndarray:
    """The slides of some records by the main fit with the same columns, at today's level [log points]."""
    own = fit_fixed_effects(lots_of(records), fit.model.recipe)
    level = fit.model.level_now + fit.model.level_mean - own.level_mean
    wide = replace(fit.model, level_range=(-9.0, 9.0))
    ends = [wide.rows(k.of, [k.at - 50.0, k.at + 50.0], level=level) for k in KEYS]
    return np.array([(end[1] - end[0]) @ own.solution.coef for end in ends])


def test_a_change_is_the_difference_of_two_fits(
    fit: MarketFit, sales: pd.DataFrame, last_year: date, found: Refits
) -> None:
    """Each window fitted whole and apart; within a tenth of the largest change, or .03 points."""
    assert found.found is not None
    old = slides_of(fit, sales[sales["sale_date"] <= pd.Timestamp(last_year)])
    apart = slides_of(fit, sales) - old
    ours = found.found.change[: len(KEYS)]
    assert np.abs(ours - apart).max() < max(0.1 * np.abs(apart).max(), 0.0003)


def test_the_lots_that_count_are_those_the_fits_used(
    sales: pd.DataFrame, last_year: date, found: Refits
) -> None:
    assert found.lots == len(sales)
    assert found.shared_lots == (sales["sale_date"] <= pd.Timestamp(last_year)).sum()
    assert [part.late for part in found.parts].count(True) in (1, 2)


def test_errors_follow_the_years_not_the_lots(found: Refits) -> None:
    """Independent lots would let a slide move by sqrt(V_old - V_new); years that stray by .8 points by far more."""
    assert found.found is not None
    at = KEYS.index(NumberKey("slide", "steer", 550.0))
    straying = 0.008 / np.sqrt(8.0 * 9.0)
    assert straying < found.found.se[at] < 5.0 * straying
    assert 2.0 < found.found.df[at] < 8.0


@pytest.mark.parametrize("points", [0.0, 15.0])
def test_a_slide_that_truly_moved_is_found_with_its_year(
    sales: pd.DataFrame, last_year: date, points: float
) -> None:
    """The last year's slide made steeper by hand by 15 points; untouched it is not called moved."""
    late = sales["sale_date"] > pd.Timestamp(last_year)
    x = (sales["weight_lb"] - 550.0) / 100.0
    prices = sales["price_cwt"].where(~late, sales["price_cwt"] * np.exp(-points / 100.0 * x))
    turned = sales.assign(price_cwt=prices)
    fit = fit_market(turned)
    new = region_of(fit, "West", Provenance(MADE))
    judged = changes(new, new, (0.0, 1.0), refits(fit, turned, last_year, judged_keys(new, new)))
    slides = [c for c in judged.rows if c.kind == "slide"]
    assert all(c.by == "records" for c in slides)
    if points == 0.0:
        assert not judged.moved
        return
    moved = [c for c in slides if c.moved]
    assert moved and all(c.new > c.old_now and c.because[0].late for c in moved)
    assert min(block.p for block in judged.blocks if block.kind == "slide") < 0.05


def test_few_years_leave_it_to_the_files(sales: pd.DataFrame) -> None:
    """Two old crop years: nothing is refitted, and the text can say so."""
    early = sales[sales["sale_date"] < sales["sale_date"].min() + pd.Timedelta(days=900)]
    old = region_of(fit_market(early.iloc[: len(early) * 2 // 3]), "West", Provenance(MADE))
    renewal = renewed(old, early, MADE)
    assert {c.by for c in renewal.changes} == {"file"}
    assert [span.market for span in renewal.fed_by] == ["Birch Landing"]


def test_a_region_in_its_own_records_is_still(region: Region, records: pd.DataFrame) -> None:
    own = renewed(region, records, MADE)
    assert not own.judged.moved
    slides = [c for c in own.changes if c.kind == "slide"]
    assert all(abs(c.head) < 0.01 and c.verdict == "steady" for c in slides)


def test_the_season_over_a_walk_is_dense_generalised_least_squares() -> None:
    """Uneven days: V = walk^2 min(months since the first) + noise^2, level free."""
    rng = np.random.default_rng(5)
    day = np.sort(rng.choice(900, 25, replace=False))
    X, y, walk, noise = rng.normal(size=(25, 2)), rng.normal(size=25), 0.04, 0.02
    months = (day - day[0]) / (365.25 / 12.0)
    V = walk**2 * np.minimum.outer(months, months) + noise**2 * np.eye(25)
    Z = np.column_stack([X, np.ones(25)])
    cov = np.linalg.inv(Z.T @ np.linalg.solve(V, Z))
    coef, found = _walk_fit(day, y, X, walk, noise)
    np.testing.assert_allclose(coef, (cov @ Z.T @ np.linalg.solve(V, y))[:2], rtol=1e-8)
    np.testing.assert_allclose(found, cov[:2, :2], rtol=1e-8)
