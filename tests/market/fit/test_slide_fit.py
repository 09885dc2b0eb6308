"""Records too thin to stand alone lean on the usual slide, or on the defaults of a region."""

import numpy as np
import pytest

from slidefit.market.fit.fixed_effects import fit_fixed_effects
from slidefit.market.fit.prior import thin_prior
from slidefit.market.fit.slide_fit import fit_slide
from slidefit.market.market_fit import fit_market
from slidefit.market.months import month_weights
from tests.market.coded import lots_of
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


def test_thin_lots_are_weighed_against_the_prior_by_normal_theory():
    """Slide and error of the weeks seen are those of the lots alone and a prior of 3 points and the weeks' straying."""
    lots = lots_of(few(3))
    slide = fit_slide(lots)
    recipe = slide.within.recipe
    target, sd = thin_prior(recipe, [slope.prior for slope in slide.slopes], None)
    place = recipe.names().index("steer:weight0")
    weeks = float(np.ptp(lots.sale_day)) / 7.0 + 1.0
    assert (target[place], sd[place]) == (-0.10, pytest.approx(np.hypot(0.03, 0.016 * np.sqrt(11.5 / weeks))))
    known = np.where(np.isfinite(sd), 1.0 / sd**2, 0.0)
    data = np.linalg.inv(slide.within.solution.bread) - np.diag(known)
    alone = fit_fixed_effects(lots, recipe).solution.coef
    posterior = np.linalg.solve(data + np.diag(known), data @ alone + known * np.nan_to_num(target))
    np.testing.assert_allclose(
        slide.within.solution.coef, posterior, atol=2e-3
    )  # weights and levels differ a little


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
    few_sales, more_sales = (
        next(x for x in fit_market(few(5, sales, flat), defaults=wide).slide_fit.slopes if x.sex == "steer")
        for sales in (3, 9)
    )
    assert 0.5 < few_sales.share < more_sales.share < 1.0
    for slope in (few_sales, more_sales):
        assert slope.prior.target < slope.pooled < slope.own
        assert abs(slope.own - (-0.05)) < 3.0 * slope.own_sd


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


def test_records_that_stand_alone_take_little_and_say_how_much(drawn, fitted, wide):
    again = fit_market(drawn.records, defaults=wide)
    (own, slope) = next((s.own, s) for s in again.slide_fit.slopes if s.sex == "steer")
    rows = fitted.model.rows("steer", [500.0, 600.0])
    assert own == pytest.approx((rows[1] - rows[0]) @ fitted.model.coef, abs=1e-9)
    assert 0.7 < slope.share < 1.0
    np.testing.assert_array_equal(again.season_fit.log, fitted.season_fit.log)
    assert not again.season_fit.borrowed
    assert any(
        f"{wide.basis.source} counts for {1.0 - slope.share:.0%} for steers" in note for note in again.notes
    )
