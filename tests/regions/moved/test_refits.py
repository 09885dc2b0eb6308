"""Old and new windows of the same records refitted: the change is that of two fits, and what truly moved is found."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from slidefit.market.fit.chunk_passes import LotRows
from slidefit.market.fit.fixed_effects import fit_fixed_effects
from slidefit.market.market_fit import MarketFit, fit_market
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.moved.change import changes, judged_keys
from slidefit.regions.moved.refits import NumberKey, Refits, _lot_blocks, _parts, _walk_fit, refits
from slidefit.regions.moved.renewal import renewed
from slidefit.regions.region import Region
from tests.market.coded import lots_of
from tests.market.simulate import Truth, simulate

MADE = date(2026, 1, 1)
WEIGHTS = (450.0, 550.0, 650.0, 750.0)
KEYS = [NumberKey("slide", sex, weight) for sex in ("steer", "heifer") for weight in WEIGHTS]


@pytest.fixture(scope="module")
def sales() -> pd.DataFrame:
    """Eight years of one barn whose slide strays from week to week and from year to year; one lot in fifty misread.

    Three grades have too few lots for a column of their own.
    """
    truth = replace(Truth(), drift_sd=0.016, drift_year_sd=0.008)
    records = simulate(21, truth=truth, sales=208, lots=18, days_between=14).records
    lost = np.random.default_rng(3).random(len(records)) < 0.02
    muscle = records["muscle"].where(records.index % 90 > 2, (records.index % 90 + 2).astype(str))
    prices = records["price_cwt"].where(~lost, records["price_cwt"] * 3.0)
    return records.assign(price_cwt=prices, muscle=muscle)


@pytest.fixture(scope="module")
def last_year(sales: pd.DataFrame) -> date:
    return (sales["sale_date"].max() - pd.Timedelta(days=365)).date()


@pytest.fixture(scope="module")
def fit(sales: pd.DataFrame) -> MarketFit:
    return fit_market(sales)


@pytest.fixture(scope="module")
def found(fit: MarketFit, sales: pd.DataFrame, last_year: date) -> Refits:
    others = [NumberKey("noise", "lot"), NumberKey("noise", "calf"), NumberKey("season", "", 0.0, 3)]
    few = NumberKey("grade", next(g for g in fit.grade_place if g.endswith("3")))
    return refits(fit, lots_of(sales), last_year, [*KEYS, NumberKey("head"), few, *others])


def test_a_change_is_that_of_two_regressions_on_the_rows_that_the_fit_used(
    fit: MarketFit, sales: pd.DataFrame, last_year: date, found: Refits
) -> None:
    """statsmodels' WLS, columns centered within sales as dummies for the sales do (Frisch and Waugh, 1933)."""
    import statsmodels.api as sm

    lots, within = lots_of(sales), fit.slide_fit.within
    assert found.found is not None and within is not None and len(within.recipe.grades) < len(fit.grade_place)
    rows = LotRows.of(lots, within.recipe).chunk(within.level, within.spread, within.dropped)
    old_day = int(np.datetime64(last_year, "D").astype(int))
    read = replace(fit.model, recipe=within.recipe)
    ends = [read.rows(k.of, [k.at - 50.0, k.at + 50.0], level=fit.model.level_now) for k in KEYS]

    def slides(used: np.ndarray) -> np.ndarray:
        table = pd.DataFrame(np.column_stack([rows.X, rows.y]))[used]
        weight, sale = pd.Series(rows.row_weight[used], table.index), lots.sale[used]
        means = table.mul(weight, axis=0).groupby(sale).sum().div(weight.groupby(sale).sum(), axis=0)
        apart = table.to_numpy() - means.loc[sale].to_numpy()
        coef = sm.WLS(apart[:, -1], apart[:, :-1], weights=weight.to_numpy()).fit().params
        return np.array([(end[1] - end[0]) @ coef for end in ends])

    used = rows.row_weight > 0
    assert 0 < (~used).sum() < 0.05 * len(used)
    apart = slides(used) - slides(used & (lots.sale_day <= old_day)[lots.sale])
    np.testing.assert_allclose(found.found.change[: len(KEYS)], apart, atol=1e-8)


def test_the_new_window_is_the_fit_itself(fit: MarketFit, sales: pd.DataFrame, last_year: date) -> None:
    """Slides at today's level and the spread of the standard grade, as the region's file takes them."""
    lots, within = lots_of(sales), fit.slide_fit.within
    assert within is not None
    parts, part_of = _parts(lots.sale_day, last_year)
    noise = [NumberKey("noise", "lot"), NumberKey("noise", "calf")]
    old = np.array([not part.late for part in parts])
    slides, spread = _lot_blocks(fit, within, lots, part_of, old, [*KEYS, *noise])
    ends = [fit.model.rows(k.of, [k.at - 50.0, k.at + 50.0], level=fit.model.level_now) for k in KEYS]
    np.testing.assert_allclose(slides.windows.new, [(e[1] - e[0]) @ fit.model.coef for e in ends], atol=1e-10)
    sds = [fit.slide_fit.spread.lot_sd, fit.slide_fit.spread.calf_sd]
    np.testing.assert_allclose(2.0 * spread.windows.new, sds, rtol=1e-6)


def test_a_change_is_the_difference_of_two_fits(
    fit: MarketFit, sales: pd.DataFrame, last_year: date, found: Refits
) -> None:
    """Each window fitted whole and apart, at its own levels and weights; within a tenth of the largest change."""
    assert found.found is not None and fit.slide_fit.fixed_effects is not None
    lots = lots_of(sales)
    falls = []
    for some in (lots.until(int(np.datetime64(last_year, "D").astype(int))), lots):
        own = fit_fixed_effects(some, fit.slide_fit.within.recipe)
        level = fit.model.level_now + fit.model.level_mean - own.level_mean
        read = replace(fit.model, recipe=own.recipe, level_range=(-9.0, 9.0))
        ends = [read.rows(k.of, [k.at - 50.0, k.at + 50.0], level=level) for k in KEYS]
        falls.append(np.array([(end[1] - end[0]) @ own.solution.coef for end in ends]))
    apart = falls[1] - falls[0]
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
    judged = changes(new, new, (0.0, 1.0), refits(fit, lots_of(turned), last_year, judged_keys(new, new)))
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
