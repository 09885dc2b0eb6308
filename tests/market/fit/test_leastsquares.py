"""Least squares with absorbed sales: any cut, any order, any prior."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.market.fit import leastsquares
from slidefit.market.fit.leastsquares import (
    Chunk,
    Reweighted,
    combine,
    jackknife_cov,
    residuals,
    sale_effects,
    sale_scores,
    solve,
    summarise,
)
from tests.market.coded import clustered_cov


def some_rows(seed=1, sales=12, columns=3, most=9):
    rng = np.random.default_rng(seed)
    size = rng.integers(1, most, sales)
    sale = np.repeat(np.arange(sales), size)
    X = rng.normal(size=(len(sale), columns)) + rng.normal(size=(sales, columns))[sale]
    y = X @ np.arange(1.0, columns + 1) + rng.normal(size=sales)[sale] * 5 + rng.normal(size=len(sale)) * 0.1
    return Chunk(y, X, rng.uniform(0.2, 3.0, len(sale)), sale)


def part(chunk, keep):
    return Chunk(chunk.y[keep], chunk.X[keep], chunk.row_weight[keep], chunk.sale[keep])


def fit(*chunks):
    return solve(combine(summarise(c) for c in chunks))


@given(seed=st.integers(0, 10_000), cut=st.lists(st.integers(0, 3), min_size=12, max_size=12))
@settings(deadline=None, max_examples=40)
def test_any_cut_at_sale_boundaries_gives_the_same_answer(seed, cut):
    chunk = some_rows(seed)
    whole = fit(chunk)
    place = np.array(cut)[chunk.sale]
    parts = [part(chunk, place == p) for p in np.unique(place)]
    again = fit(*parts)
    np.testing.assert_allclose(again.coef, whole.coef, rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(again.bread, whole.bread, rtol=1e-9, atol=1e-14)
    assert again.rss == pytest.approx(whole.rss, rel=1e-8)
    assert again.n == whole.n


def test_rows_of_many_blocks_give_the_same_answer(monkeypatch):
    chunk = some_rows(14, sales=300)
    whole = fit(chunk)
    monkeypatch.setattr(leastsquares, "BLOCK_ROWS", 40)
    parts = [part(chunk, chunk.sale % 9 == p) for p in range(9)]
    for again in (fit(chunk), fit(*parts)):
        np.testing.assert_allclose(again.coef, whole.coef, rtol=1e-11)
        np.testing.assert_allclose(again.bread, whole.bread, rtol=1e-10)


@given(seed=st.integers(0, 10_000))
@settings(deadline=None, max_examples=25)
def test_the_order_of_rows_within_sales_does_not_matter(seed):
    chunk = some_rows(seed)
    shuffled = np.random.default_rng(seed).permutation(len(chunk.y))
    order = shuffled[np.argsort(chunk.sale[shuffled], kind="stable")]
    np.testing.assert_allclose(fit(part(chunk, order)).coef, fit(chunk).coef, rtol=1e-10, atol=1e-12)


def test_columns_in_another_order_give_the_same_answer():
    sums, order = summarise(some_rows(3, sales=60)), np.array([2, 0, 1])
    turned = solve(sums.columns(order))
    np.testing.assert_allclose(turned.coef, solve(sums).coef[order], rtol=1e-10)


def test_small_columns_count_and_columns_of_zeros_do_not():
    chunk = some_rows(15, sales=60)
    whole, units = fit(chunk), np.array([1e-6, 1.0, 1e3])
    small = fit(Chunk(chunk.y, chunk.X * units, chunk.row_weight, chunk.sale))
    np.testing.assert_allclose(small.coef * units, whole.coef, rtol=1e-9)
    wider = fit(Chunk(chunk.y, np.insert(chunk.X, 1, 0.0, axis=1), chunk.row_weight, chunk.sale))
    np.testing.assert_allclose(wider.coef, np.insert(whole.coef, 1, 0.0), rtol=1e-9)
    assert wider.identified.tolist() == [True, False, True, True]


def test_what_all_lots_of_a_sale_share_leaves_the_slope_alone():
    chunk = some_rows(4)
    lifted = Chunk(chunk.y + 3.0 * chunk.sale, chunk.X, chunk.row_weight, chunk.sale)
    np.testing.assert_allclose(fit(lifted).coef, fit(chunk).coef, rtol=1e-10)
    coef = fit(chunk).coef
    np.testing.assert_allclose(
        sale_effects(lifted, coef) - sale_effects(chunk, coef), 3.0 * np.arange(12), atol=1e-9
    )


def test_a_sale_of_one_lot_teaches_nothing_of_the_slope():
    chunk = some_rows(5, most=2)
    several = some_rows(6)
    alone = Chunk(chunk.y, chunk.X, chunk.row_weight, chunk.sale + 100)
    np.testing.assert_allclose(fit(several, alone).coef, fit(several).coef, rtol=1e-12)
    np.testing.assert_allclose(residuals(alone, fit(several, alone).coef), 0.0, atol=1e-12)


def test_weighted_residuals_are_orthogonal_to_columns_and_sales():
    chunk = some_rows(8)
    solution = fit(chunk)
    weighted = chunk.row_weight * residuals(chunk, solution.coef)
    np.testing.assert_allclose(chunk.X.T @ weighted, 0.0, atol=1e-9)
    np.testing.assert_allclose(np.bincount(chunk.sale, weighted), 0.0, atol=1e-9)
    np.testing.assert_allclose(sale_scores(chunk, solution).sum(axis=0), 0.0, atol=1e-9)


def test_a_column_that_repeats_earlier_ones_is_marked_and_zero():
    chunk = some_rows(9)
    doubled = np.column_stack([chunk.X, chunk.X[:, 0] - 2 * chunk.X[:, 2], np.ones(len(chunk.y))])
    solution = fit(Chunk(chunk.y, doubled, chunk.row_weight, chunk.sale))
    assert solution.identified.tolist() == [True, True, True, False, False]
    np.testing.assert_allclose(solution.coef[:3], fit(chunk).coef, rtol=1e-9)
    np.testing.assert_array_equal(solution.coef[3:], 0.0)
    np.testing.assert_array_equal(solution.bread[3:], 0.0)


def test_the_pull_is_a_normal_prior():
    """Against the posterior mean (A + D^-2)^-1 (A b + D^-2 t) worked out from the plain fit."""
    chunk = some_rows(10)
    plain, summary = fit(chunk), summarise(chunk)
    target, sd = np.array([0.0, 5.0, 1.0]), np.array([0.3, np.inf, 0.05])
    precision = np.where(np.isfinite(sd), 1.0 / sd**2, 0.0)
    A = np.linalg.inv(plain.bread)
    posterior = np.linalg.solve(A + np.diag(precision), A @ plain.coef + precision * target)
    pulled = solve(summary, (target, sd))
    np.testing.assert_allclose(pulled.coef, posterior, rtol=1e-9)
    np.testing.assert_allclose(pulled.bread, np.linalg.inv(A + np.diag(precision)), rtol=1e-8)
    loose = solve(summary, (target, np.full(3, np.inf)))
    np.testing.assert_allclose(loose.coef, plain.coef, rtol=1e-10)
    tight = solve(summary, (target, np.full(3, 1e-7)))
    np.testing.assert_allclose(tight.coef, target, atol=1e-6)


def test_a_pull_identifies_what_the_data_leave_open():
    chunk = some_rows(11)
    flat = Chunk(chunk.y, np.column_stack([chunk.X, np.zeros(len(chunk.y))]), chunk.row_weight, chunk.sale)
    pulled = solve(summarise(flat), (np.array([0, 0, 0, -0.1]), np.array([np.inf] * 3 + [0.02])))
    assert pulled.coef[3] == pytest.approx(-0.1)
    assert np.sqrt(pulled.bread[3, 3]) == pytest.approx(0.02)


def test_clusters_of_everything_and_of_each_row():
    chunk = some_rows(12, most=7)
    solution = fit(chunk)
    scores = sale_scores(chunk, solution)
    one = clustered_cov(solution, scores, np.zeros(12, dtype=int))
    np.testing.assert_allclose(one, 0.0, atol=1e-12)  # scores sum to zero: one cluster knows no spread
    many = clustered_cov(solution, scores, np.arange(12))
    assert np.linalg.eigvalsh(many).min() > 0.0


def test_leaving_out_clusters_survives_a_column_seen_in_one_of_them():
    chunk = some_rows(13, sales=20)
    only_here = np.where(chunk.sale < 4, np.random.default_rng(3).normal(size=len(chunk.y)), 0.0)
    wider = Chunk(chunk.y, np.column_stack([chunk.X, only_here]), chunk.row_weight, chunk.sale)
    solution = fit(wider)
    cov = jackknife_cov(solution, summarise(wider, wider.sale // 4))
    assert np.all(np.isfinite(cov)) and np.all(np.diag(cov)[:3] > 0.0)


def test_leaving_out_is_more_careful_than_plain_clusters_when_they_are_few_and_uneven():
    ratio = []
    for seed in range(20):
        chunk = some_rows(seed, sales=30, columns=2)
        solution = fit(chunk)
        careful = jackknife_cov(solution, summarise(chunk, np.minimum(chunk.sale // 5, 4)))
        by_sale = np.minimum(np.arange(30) // 5, 4)
        ratio.append(
            np.trace(careful) / np.trace(clustered_cov(solution, sale_scores(chunk, solution), by_sale))
        )
    assert np.median(ratio) > 1.1


@pytest.mark.parametrize("held", [0, 1, 7, 40])
def test_rows_trusted_less_give_the_sums_of_smaller_row_weights(held):
    chunk = some_rows(15, sales=60)
    rng = np.random.default_rng(held)
    trust = np.ones(len(chunk.y))
    trust[rng.choice(len(trust), held, replace=False)] = rng.uniform(0.05, 0.95, held)
    ours = solve(Reweighted(chunk).sums(trust))
    smaller = Chunk(chunk.y, chunk.X, chunk.row_weight * trust, chunk.sale)
    np.testing.assert_allclose(ours.coef, fit(smaller).coef, rtol=1e-10)
    np.testing.assert_allclose(ours.bread, fit(smaller).bread, rtol=1e-9)
    assert ours.n == len(chunk.y)


def test_clusters_left_out_and_columns_left_out_are_those_of_a_fit_without_them():
    chunk = some_rows(16, sales=40)
    fold = chunk.sale % 4
    sums = summarise(chunk, fold)
    np.testing.assert_allclose(solve(sums.but(2)).coef, fit(part(chunk, fold != 2)).coef, rtol=1e-10)
    fewer = Chunk(chunk.y, chunk.X[:, [0, 2]], chunk.row_weight, chunk.sale)
    np.testing.assert_allclose(solve(sums.columns(np.array([0, 2]))).coef, fit(fewer).coef, rtol=1e-10)
