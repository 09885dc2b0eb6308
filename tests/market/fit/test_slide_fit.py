"""Records too thin to stand alone lean on the usual slide, or on the defaults of a region."""

import numpy as np
import pytest

from slidefit.market.fit.coding import lots_of
from slidefit.market.fit.fixed_effects import fit_fixed_effects
from slidefit.market.fit.slide_fit import fit_slide, prior_of
from slidefit.market.market_fit import fit_market
from slidefit.market.months import month_weights
from tests.market.simulate import Truth, simulate, true_percent

STEEP = Truth(curves=(("steer", (0.0, -0.15, 0.012)), ("heifer", (-0.12, -0.12, 0.010))), level_slope=0.0)
WEIGHTS_LB = (450.0, 550.0, 650.0, 750.0)


def few(seed, sales=7, truth=STEEP):
    return simulate(seed, truth=truth, sales=sales, lots=20, days_between=14, market="Low Ferry").records


@pytest.fixture(scope="module")
def wide():
    """The outlook of a neighbor with six years of sales."""
    return fit_market(simulate(8, truth=STEEP, sales=160, lots=14, days_between=14).records).outlook()


@pytest.fixture(scope="module")
def both(wide):
    """Fits of eight thin records: on the usual slide, and on the neighbor's."""
    return [(fit_market(few(seed)), fit_market(few(seed), defaults=wide)) for seed in range(8)]


def misses(fits):
    truth = [true_percent(STEEP, "steer", w) for w in WEIGHTS_LB]
    found = np.array([f.slide("steer", list(WEIGHTS_LB))["percent_per_cwt"].to_numpy() for f in fits])
    return np.abs(found - truth).mean()


def test_lots_count_for_a_ninth_against_the_prior():
    """The slide and its error are those of a normal prior of 3 points and lots of nine times their variance."""
    lots = lots_of(few(3))
    slide = fit_slide(lots)
    solution, recipe = slide.within.solution, slide.within.recipe
    target, sd = prior_of(recipe, None)
    place = recipe.names().index("steer:weight0")
    assert (target[place], 3.0 * sd[place]) == (-0.10, pytest.approx(0.03))
    known = np.where(np.isfinite(sd), 1.0 / (3.0 * sd) ** 2, 0.0)
    data = (np.linalg.inv(solution.bread) - 9.0 * np.diag(known)) / 9.0
    np.testing.assert_allclose(slide.cov, np.linalg.inv(data + np.diag(known)), rtol=1e-8)
    alone = fit_fixed_effects(lots, recipe).solution.coef
    posterior = np.linalg.solve(data + np.diag(known), data @ alone + known * target)
    np.testing.assert_allclose(solution.coef, posterior, atol=2e-3)  # row weights and levels differ a little


def test_a_region_like_the_market_brings_the_slide_nearer_to_the_truth(both):
    alone, leaning = (misses(fits) for fits in zip(*both, strict=True))
    assert leaning < 0.5 * alone and leaning < 1.0


def test_its_interval_is_narrower_and_holds_the_truth(both):
    held = []
    for alone, leaning in both:
        own, lent = (f.slide("steer", 550.0).iloc[0] for f in (alone, leaning))
        assert lent["percent_high"] - lent["percent_low"] < own["percent_high"] - own["percent_low"]
        held.append(lent["percent_low"] <= true_percent(STEEP, "steer", 550.0) <= lent["percent_high"])
    assert all(held)


def test_lots_that_disagree_move_it_by_what_they_know(wide):
    flat = Truth(curves=(("steer", (0.0, -0.05, 0.012)), ("heifer", (-0.12, -0.04, 0.010))), level_slope=0.0)
    curve = wide.curves["steer"]
    year = np.interp([500.0, 600.0], curve.weights_lb, curve.log_relative.mean(axis=0))
    lent = -100.0 * np.expm1(np.diff(year)[0])
    some, more = (
        fit_market(few(5, sales, flat), defaults=wide).slide("steer", 550.0).iloc[0]["percent_per_cwt"]
        for sales in (3, 9)
    )
    assert true_percent(flat, "steer", 550.0) < more < some < lent


def test_the_season_is_lent_too_and_its_months_are_no_longer_unseen(both, wide):
    alone, leaning = both[0]
    assert np.all(alone.season_fit.log == 0.0) and not alone.season_fit.borrowed
    np.testing.assert_array_equal(leaning.season_fit.log, wide.season_log)
    assert leaning.season_fit.borrowed and leaning.season_fit.harmonics == 0
    assert len(alone.outlook().unseen_months) >= 6 and leaning.outlook().unseen_months == ()
    own = np.diag(leaning.season_fit.cov)
    assert (own > np.diag(wide.season_cov)).all() and (own < np.diag(alone.season_fit.cov)).all()


def test_the_level_stays_the_markets_own(both):
    alone, leaning = both[0]
    at = month_weights([leaning.outlook().as_of])[0]
    for fit in (alone, leaning):
        outlook = fit.outlook()
        recent = np.exp(fit.index.sale_log[-3:]).mean()
        assert outlook.price_cwt("steer", 550.0, outlook.as_of) == pytest.approx(recent, rel=0.03)
    assert leaning.season_fit.level_log + at @ leaning.season_fit.log == pytest.approx(
        alone.season_fit.level_log, abs=0.03
    )


def test_it_is_said_in_words(both, wide):
    alone, leaning = both[0]
    assert any("pulled toward the usual one" in note for note in alone.notes)
    told = " ".join(leaning.notes)
    assert f"the slide is that of {wide.basis.source}, moved by these lots" in told
    assert f"the season is that of {wide.basis.source}" in told and "no season" not in told
    assert leaning.label == "quadratic, pulled toward a region's slide"
    assert leaning.model.rule.kind == "lot and region" and alone.model.rule.kind == "lot and usual slide"


def test_records_that_stand_alone_take_nothing_and_say_so(drawn, fitted, wide):
    again = fit_market(drawn.records, defaults=wide)
    np.testing.assert_array_equal(again.model.coef, fitted.model.coef)
    np.testing.assert_array_equal(again.season_fit.log, fitted.season_fit.log)
    assert not again.season_fit.borrowed
    assert f"the lots are enough to stand alone: {wide.basis.source} lends them no slide" in again.notes
