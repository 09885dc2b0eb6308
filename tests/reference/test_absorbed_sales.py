"""The within-sale regression against two other programs on the same rows: statsmodels and pyfixest.

statsmodels.WLS gets a dummy for every sale; pyfixest absorbs the sales by its own alternating projections. Both must
give our coefficients, and our standard errors clustered by sale and by crop year, to 1e-8 relative.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from slidefit.market.fit.candidates import recipe_for
from slidefit.market.fit.chunk_passes import LotSpread, chunks
from slidefit.market.fit.leastsquares import (
    Chunk,
    combine,
    sale_effects,
    sale_scores,
    solve,
    summarise,
)
from slidefit.market.fit.lots import crop_year
from tests.market.coded import clustered_cov, lots_of
from tests.market.simulate import Truth, simulate

RELATIVE = 1e-8


@pytest.fixture(scope="module")
def rows():
    """About 900 lots of 60 sales over seven crop years, unbalanced, with grades, traits, bulls and head."""
    truth = Truth(
        curves=(
            ("steer", (0.0, -0.11, 0.008)),
            ("heifer", (-0.09, -0.08, 0.006)),
            ("bull", (-0.07, -0.12, 0.01)),
        ),
        drift_sd=0.016,
    )
    records = simulate(71, truth=truth, sales=60, lots=18, days_between=38, first="2018-08-01").records
    thinned = np.random.default_rng(7).random(len(records)) < 0.85
    records = records[thinned].reset_index(drop=True)
    records.loc[records.index % 7 == 0, "traits"] = "fleshy"
    lots = lots_of(records)
    recipe = recipe_for(lots, kind="spline", columns=4, harmonics=2, level=True)
    level = np.linspace(-0.3, 0.4, lots.sales)
    (chunk,) = chunks(lots, recipe, level, LotSpread(0.04, 0.12))
    return chunk, recipe.names(), crop_year(lots.sale_day)


@pytest.fixture(scope="module")
def ours(rows):
    chunk, names, years = rows
    solution = solve(combine([summarise(chunk)]))
    scores = sale_scores(chunk, solution)
    assert solution.identified.all() and len(names) > 20
    return (
        solution,
        clustered_cov(solution, scores, np.arange(len(scores))),
        clustered_cov(solution, scores, years),
    )


def close(found, reference, relative=RELATIVE):
    scale = np.maximum(np.abs(reference), 1e-3 * np.abs(reference).max())
    return bool(np.all(np.abs(np.asarray(found) - reference) <= relative * scale))


@pytest.fixture(scope="module")
def statsmodels_fit(rows):
    from statsmodels.regression.linear_model import WLS

    chunk, _, years = rows
    dummies = (chunk.sale[:, None] == np.unique(chunk.sale)).astype(float)
    model = WLS(chunk.y, np.column_stack([chunk.X, dummies]), weights=chunk.row_weight)
    k = chunk.X.shape[1]
    out = {"coef": model.fit().params[:k]}
    for name, groups in (("sale", chunk.sale), ("year", years[chunk.sale])):
        fitted = model.fit(cov_type="cluster", cov_kwds={"groups": groups, "use_correction": False})
        out[name] = fitted.cov_params()[:k, :k]
    return out


def corrected(plain, clusters: int, n: int, k: int):
    """CR1 from CR0: sale effects are nested in the clusters and count once, as the constant."""
    return plain * clusters / (clusters - 1) * (n - 1) / (n - k - 1)


def test_statsmodels_with_a_dummy_for_every_sale(rows, ours, statsmodels_fit):
    chunk, _, years = rows
    solution, by_sale, by_year = ours
    n, k = chunk.X.shape
    assert close(solution.coef, statsmodels_fit["coef"])
    for found, name, clusters in (
        (by_sale, "sale", len(years)),
        (by_year, "year", len(np.unique(years))),
    ):
        reference = corrected(statsmodels_fit[name], clusters, n, k)
        assert close(np.sqrt(np.diag(found)), np.sqrt(np.diag(reference)))
        assert np.abs(found - reference).max() <= 1e-8 * np.abs(reference).max()


def test_the_absorbed_effects_are_the_dummies(rows, ours):
    from statsmodels.regression.linear_model import WLS

    chunk, *_ = rows
    dummies = (chunk.sale[:, None] == np.unique(chunk.sale)).astype(float)
    full = WLS(chunk.y, np.column_stack([chunk.X, dummies]), weights=chunk.row_weight).fit()
    assert close(sale_effects(chunk, ours[0].coef), full.params[chunk.X.shape[1] :])
    assert ours[0].rss == pytest.approx(float(full.ssr), rel=1e-10)


@pytest.mark.parametrize("cluster", ["sale", "year"])
def test_pyfixest_with_absorbed_sales(rows, ours, cluster):
    import pyfixest
    from pyfixest.demeaners import MapDemeaner

    chunk, _, years = rows
    k = chunk.X.shape[1]
    frame = pd.DataFrame(chunk.X, columns=[f"x{j}" for j in range(k)])
    frame = frame.assign(y=chunk.y, w=chunk.row_weight, sale=chunk.sale, year=years[chunk.sale])
    reference = pyfixest.feols(
        f"y ~ {' + '.join(f'x{j}' for j in range(k))} | sale",
        data=frame,
        weights="w",
        vcov={"CRV1": cluster},
        demeaner=MapDemeaner(fixef_tol=1e-13),
    )
    names = [f"x{j}" for j in range(k)]
    solution, by_sale, by_year = ours
    ours_se = np.sqrt(np.diag(by_sale if cluster == "sale" else by_year))
    assert close(solution.coef, reference.coef()[names].to_numpy())
    assert close(ours_se, reference.se()[names].to_numpy())


def test_a_nudged_reference_would_be_noticed(statsmodels_fit, ours):
    coef = statsmodels_fit["coef"]
    for place in range(len(coef)):
        nudged = coef.copy()
        nudged[place] += 1e-7 * max(abs(coef[place]), 1e-3 * np.abs(coef).max())
        assert not close(ours[0].coef, nudged)


def test_the_cut_into_chunks_does_not_matter(rows, ours):
    chunk, *_ = rows
    cut = np.isin(chunk.sale, np.unique(chunk.sale)[::3])
    parts = [Chunk(chunk.y[m], chunk.X[m], chunk.row_weight[m], chunk.sale[m]) for m in (cut, ~cut)]
    again = solve(combine(summarise(p) for p in parts))
    assert close(again.coef, ours[0].coef, 1e-11)
    assert close(again.bread, ours[0].bread, 1e-9)


def test_leaving_out_a_crop_year_is_the_refit_without_it(rows, ours):
    """The CR3 covariance against its definition: statsmodels refitted without each crop year in turn."""
    from statsmodels.regression.linear_model import WLS

    from slidefit.market.fit.leastsquares import jackknife_cov

    chunk, _, years = rows
    solution, *_ = ours
    year, k = years[chunk.sale], chunk.X.shape[1]
    moved = []
    for left_out in np.unique(year):
        m = year != left_out
        dummies = (chunk.sale[m, None] == np.unique(chunk.sale[m])).astype(float)
        refit = WLS(chunk.y[m], np.column_stack([chunk.X[m], dummies]), weights=chunk.row_weight[m]).fit()
        moved.append(refit.params[:k] - solution.coef)
    groups = len(moved)
    reference = (groups - 1) / groups * np.array(moved).T @ np.array(moved)
    cut = np.isin(chunk.sale, np.unique(chunk.sale)[::2])
    parts = [Chunk(chunk.y[m], chunk.X[m], chunk.row_weight[m], chunk.sale[m]) for m in (cut, ~cut)]
    found = jackknife_cov(solution, combine(summarise(p, years[p.sale]) for p in parts))
    assert np.abs(found - reference).max() <= 1e-8 * np.abs(reference).max()
