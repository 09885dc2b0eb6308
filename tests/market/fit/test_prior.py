"""One prior for slides and grades: it is the posterior of its own model, its intervals hold, it beats own and one."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slidefit.market.fit.chunk_passes import GradeYears
from slidefit.market.fit.constants import GRADES_SD, LENT_GRADE_SD, MARKETS_SLIDE_SD
from slidefit.market.fit.design import Recipe, WeightCurve
from slidefit.market.fit.prior import (
    PooledSlope,
    SlidePrior,
    between_sd,
    pooled_coef,
    slide_prior,
    with_own_grades,
)
from slidefit.market.fit.slide_fit import fit_slide
from slidefit.market.market_fit import fit_market
from slidefit.market.outlook import GradeOffset
from tests.market.coded import lots_of
from tests.market.simulate import Truth, simulate

PRIOR = SlidePrior(-0.10, 0.006, 0.015, 0.25, 0.012, 3e-5)


@pytest.fixture(scope="module")
def wide():
    """The outlook of a barn with six years of sales whose slide strays."""
    truth = replace(Truth(), drift_sd=0.016)
    return fit_market(simulate(8, truth=truth, sales=160, lots=14, days_between=14).records).outlook()


def test_it_is_the_posterior_of_its_own_model():
    """Long run, straying and lots as one normal vector, conditioned on the own slope with plain matrices."""
    own, sd = -0.13, 0.008
    q, v, c = PRIOR.var, PRIOR.stray_sd**2, PRIOR.shared
    together = np.array(
        [[q, q - c], [q - c, q + v - 2 * c + sd**2]]
    )  # long run and own slope about the target
    weight = together[0, 1] / together[1, 1]
    slope = PooledSlope("steer", own, sd, 99, PRIOR)
    assert slope.pooled == pytest.approx(PRIOR.target + weight * (own - PRIOR.target), rel=1e-12)
    assert slope.sd**2 == pytest.approx(q - weight * together[0, 1], rel=1e-9)
    assert slope.share == pytest.approx(weight, rel=1e-12)
    assert PRIOR.var == pytest.approx(0.006**2 + 1.25 * 0.015**2)
    assert slope.total_sd == pytest.approx(np.hypot(sd, 0.012))


@given(st.floats(-0.3, 0.1), st.floats(0.001, 0.5), st.floats(0.0, 0.03), st.floats(0.0, 1e-3))
def test_pooled_lies_between_own_and_target(own, sd, stray, shared):
    slope = PooledSlope("steer", own, sd, 9, replace(PRIOR, stray_sd=stray, shared=shared))
    low, high = sorted((own, PRIOR.target))
    assert low - 1e-12 <= slope.pooled <= high + 1e-12 and 0.0 < slope.sd <= np.sqrt(PRIOR.var) + 1e-12


@pytest.mark.parametrize("barns", [2, 4, 12])
def test_intervals_hold_where_barns_stray_together(barns):
    """4,000 barns of regions that share .68 of one autumn's straying of two points: 90 to 97 in 100, errors least."""
    rng = np.random.default_rng(17)
    n, between, stray, sampling = 4_000, 0.015, 0.02, 0.008
    true = rng.normal(-0.10, between, (n, barns))
    strayed = stray * (np.sqrt(0.68) * rng.normal(size=(n, 1)) + np.sqrt(0.32) * rng.normal(size=(n, barns)))
    own = true + strayed + rng.normal(0.0, sampling, (n, barns))
    one = own.mean(axis=1)
    error = float(np.sqrt(stray**2 * (0.68 + 0.32 / barns) + sampling**2 / barns))
    part = 1.0 / barns
    prior = SlidePrior(0.0, error, between, part - 2.0 * part, stray, (0.68 + 0.32 * part) * stray * error)
    slopes = [
        PooledSlope("steer", y, sampling, 40, replace(prior, target=m))
        for y, m in zip(own[:, 0], one, strict=True)
    ]
    miss = np.array([s.pooled for s in slopes]) - true[:, 0]
    assert 0.90 < (np.abs(miss) < 1.96 * slopes[0].sd).mean() < 0.97
    error_of = {"own": own[:, 0] - true[:, 0], "one": one - true[:, 0], "pooled": miss}
    size = {name: float(np.sqrt((values**2).mean())) for name, values in error_of.items()}
    assert size["pooled"] < size["own"] and size["pooled"] < size["one"], size
    alone = replace(prior, error_sd=float(np.sqrt(stray**2 + sampling**2) / np.sqrt(barns)), shared=0.0)
    narrow = PooledSlope("steer", 0.0, sampling, 40, alone).sd
    assert narrow < 0.95 * slopes[0].sd or barns == 2


def test_weeks_seen_and_weeks_in_common_count(wide):
    """By hand: stray^2 min(1, 11.5 / weeks); nothing shared by weeks apart; own lots of the region tie it to itself."""
    curve = wide.curves["steer"]
    short, long = (lots_of(simulate(3, sales=n, lots=6, first="2030-01-02").records) for n in (6, 104))
    assert slide_prior(short, "steer", wide).stray_sd == pytest.approx(curve.stray_cwt)
    assert slide_prior(long, "steer", wide).stray_sd == pytest.approx(curve.stray_cwt * np.sqrt(11.5 / 104.0))
    assert slide_prior(short, "steer", wide).shared == 0.0
    same = lots_of(simulate(3, sales=6, lots=6, first="2020-01-02", market="Stone Gap").records)
    own = lots_of(simulate(3, sales=6, lots=6, first="2020-01-02").records)
    other, kin = (slide_prior(lots, "steer", wide) for lots in (same, own))
    part = 36.0 / wide.basis.lots
    assert 0.0 < other.shared < kin.shared
    assert other.kin == 1.0 and kin.kin == pytest.approx(1.0 - 2.0 * part)
    assert kin.shared / other.shared == pytest.approx((0.68 + 0.32 * part) / 0.68)


def test_a_regions_slide_is_carried_to_the_price_level(wide):
    lots = lots_of(simulate(3, sales=6, lots=6).records)
    curve = wide.curves["steer"]
    there = float(wide.log_index([wide.as_of])[0])
    here, above, far = (slide_prior(lots, "steer", wide, there + up).target for up in (0.0, 0.2, 9.0))
    assert above - here == pytest.approx(0.2 * curve.level_slope) and curve.level_slope < -0.01
    assert far - here == pytest.approx(0.5 * curve.level_slope)


@pytest.mark.parametrize("sales", [6, 40])
@pytest.mark.parametrize("lend", [True, False])
def test_the_fit_has_the_pooled_slide_and_its_error(wide, sales, lend):
    """Few sales and forty: the coefficients read at 550 lb are the pooled slopes."""
    slide = fit_slide(lots_of(simulate(4, sales=sales, lots=20).records), defaults=wide if lend else None)
    if sales == 40 and not lend:
        assert slide.slopes == () and slide.model.rule.inflation == 3.0
        return
    model = slide.model
    for slope in slide.slopes:
        ends = model.rows(slope.sex, [500.0, 600.0])
        at = ends[1] - ends[0]
        assert at @ model.coef == pytest.approx(slope.pooled, abs=1e-9)
        assert np.sqrt(at @ model.cov @ at) == pytest.approx(slope.sd, rel=1e-6)
        if lend:  # carried to today's price by the region's rule, which so few lots can't tell
            carried = slope.pooled + 0.2 * wide.curves[slope.sex].level_slope
            assert at @ slide.at_level(0.2).model.coef == pytest.approx(carried, abs=1e-9) != slope.pooled


def test_conditioning_leaves_what_does_not_go_with_the_slide():
    prior = replace(PRIOR, stray_sd=0.0, shared=0.0)
    cov = np.diag([1e-4, 4e-4])
    slope = PooledSlope("steer", -0.2, 0.01, 99, prior)
    line = np.array([[1.0, 0.0]])
    coef, after = pooled_coef(np.array([-0.2, 0.7]), cov, line, line, [slope], thin=False)
    assert coef == pytest.approx([slope.pooled, 0.7])
    assert after == pytest.approx(np.diag([slope.sd**2, 4e-4]))


def test_the_spread_between_markets_solves_its_equation():
    """Paule and Mandel's equation at the moment estimate; the settled value follows from it; alike ones lean on it."""
    own, se = np.array([6.0, 9.0, 12.0, 14.0, 10.0]), np.array([0.5, 0.8, 0.4, 1.0, 0.6])
    moment = (between_sd(own, np.diag(se**2), 1.5) ** 2 * 6.0 - 2.0 * 1.5**2) / 4.0
    weight = 1.0 / (se**2 + moment)
    assert (weight * (own - np.average(own, weights=weight)) ** 2).sum() == pytest.approx(4.0, rel=1e-9)
    assert between_sd([10.0], [[1.0]], 1.5) == pytest.approx(1.5)
    assert 0.0 < between_sd([10.0, 10.1, 9.9, 10.0], np.eye(4), 1.5) < 1.5
    assert MARKETS_SLIDE_SD == 0.015


def recipe(grades):
    """A model of one sex in which all grades but the first are one pool."""
    return Recipe(
        ("steer",), (WeightCurve("straight"),), 0, False, ("ML 1", "other"), (0, *[1] * (len(grades) - 1)),
        (True, False), (), False,
    )  # fmt: skip


def told(rows):
    """Residuals of one year: of each grade a mean and its error, each from one sale."""
    mean, error = np.array(rows, dtype=float).T
    known = np.where(np.isfinite(error), 1.0 / error**2, 0.0)
    score = known * np.nan_to_num(mean)
    return GradeYears(
        np.array([2024]), np.full((1, len(rows)), 9), *(v[None] for v in (score, known)),
        *(v[None] for v in (score**2, score * known, known**2)),
    )  # fmt: skip


def test_a_grade_without_lots_to_tell_leans_on_its_neighbors_by_steps():
    grades = ("ML 1", "ML 3", "M 3", "ML 4", "inferior")
    sums = told([(0.0, 0.01), (-0.3, 1e-4), (np.nan, np.inf), (np.nan, np.inf), (np.nan, np.inf)])
    wider, coef, cov = with_own_grades(
        recipe(grades), np.array([-0.1, -0.5, 0.0]), np.eye(3) * 1e-6, grades, sums
    )
    off = dict(zip(wider.names(), coef, strict=True))
    assert off["grade ML 3"] == pytest.approx(-0.8, abs=1e-3)
    assert off["grade M 3"] == pytest.approx(-0.5 - 0.3 * 0.5**0.5, abs=1e-3)
    assert off["grade ML 4"] == pytest.approx(-0.65, abs=1e-3)
    assert off["grade inferior"] == pytest.approx(-0.5)
    at = wider.names().index("grade ML 4")
    tau = between_sd([-0.3], [[1e-8]], GRADES_SD)
    assert cov[at, at] == pytest.approx(1e-6 + tau**2 * (1.0 - 0.25), rel=1e-3)
    assert [wider.grades[place] for place in wider.grade_of] == list(grades)


def test_a_regions_discount_stands_where_the_lots_tell_little(wide):
    grades = ("ML 1", "ML 3")
    lent = replace(wide, grades={"ML 1": GradeOffset(-0.02), "ML 3": GradeOffset(-0.42)})
    sums = told([(0.0, 0.01), (0.0, LENT_GRADE_SD)])
    _, coef, _ = with_own_grades(
        recipe(grades), np.array([-0.1, -0.5, 0.0]), np.eye(3) * 1e-6, grades, sums, lent
    )
    assert coef[1] == pytest.approx((-0.40 - 0.5) / 2.0)


def test_few_lots_of_unlike_grades_keep_their_own_discounts():
    """Discounts of 31, 34, 39 and 68 percent, 25 to 60 lots each, that one number of 46 served before."""
    true = {"ML 2": 31.0, "M 2": 34.0, "ML 3": 39.0, "S 4": 68.0}
    few = tuple((name, float(np.log1p(-pct / 100.0)), share) for (name, pct), share in
                zip(true.items(), (0.02, 0.02, 0.015, 0.01), strict=True))  # fmt: skip
    truth = replace(Truth(), grades=(("ML 1", 0.0, 0.935), *few))
    fit = fit_slide(lots_of(simulate(6, truth=truth, sales=130, lots=20, days_between=14).records))
    at = dict(zip(fit.model.recipe.names(), fit.model.coef, strict=True))
    for grade, pct in true.items():
        assert -100.0 * np.expm1(at[f"grade {grade}"]) == pytest.approx(pct, abs=3.0)
    error = np.sqrt(fit.model.cov[fit.model.recipe.names().index("grade S 4")].max())
    assert abs(at["grade S 4"] - np.log(0.32)) < 3.0 * error < 0.3
