"""A grade's residuals by crop year: the regression within sales, from sums over any chunks.

The spread of lots by head, from sums over any sets of sales.

What one chunk adds: the same whatever the cut, and nothing from a chunk whose lots were all left out."""

from dataclasses import replace

import numpy as np
import pytest

from slidefit.market.fit import lots as lots_module
from slidefit.market.fit.candidates import recipe_for
from slidefit.market.fit.chunk_passes import (
    ChunkState,
    LotRows,
    LotSpread,
    all_grade_years,
    chunks,
    final_pass,
    grade_years,
    residual_pass,
    spread_of,
    spread_sums,
    sums_pass,
)
from slidefit.market.fit.design import scaled_weight
from slidefit.market.fit.fixed_effects import fit_fixed_effects
from slidefit.market.fit.leastsquares import combine, solve
from tests.market.coded import lots_of
from tests.market.simulate import simulate


@pytest.fixture(scope="module")
def rows():
    rng = np.random.default_rng(4)
    sale = np.repeat(np.arange(30), rng.integers(1, 9, 30))
    place = rng.integers(0, 3, len(sale))
    return place, rng.uniform(0.5, 2.0, len(sale)), rng.normal(size=len(sale)) - 0.3 * (place == 2), sale


YEAR = np.repeat([2020, 2021, 2023], 10)


def test_the_shift_is_the_regression_on_the_grade_within_sales(rows):
    place, weight, error, sale = rows
    sums = grade_years(place, YEAR, weight, error, sale, 3)
    assert sums.year.tolist() == [2020, 2021, 2023] and sums.lots.sum() == len(sale)
    for row, year in enumerate(sums.year):
        mine = YEAR[sale] == year
        z = (place == 2).astype(float)
        z = z - np.array([np.average(z[sale == s], weights=weight[sale == s]) for s in range(30)])[sale]
        w, z, e = weight[mine], z[mine], error[mine]
        slope = (w * z * e).sum() / (w * z**2).sum()
        scores = np.bincount(sale[mine], w * z * (e - slope * z))
        spread = np.sqrt((scores**2).sum() * 10 / 9) / (w * z**2).sum()
        assert sums.shift(row, 2, 10) == pytest.approx((slope, spread), rel=1e-9)


def test_any_cut_at_sale_boundaries_gives_the_same_sums(rows):
    place, weight, error, sale = rows
    parts = []
    for first, end in ((0, 4), (4, 15), (15, 30)):
        m = (sale >= first) & (sale < end)
        parts.append(grade_years(place[m], YEAR[first:end], weight[m], error[m], sale[m] - first, 3))
    whole, again = grade_years(place, YEAR, weight, error, sale, 3), all_grade_years(parts)
    for name in ("year", "lots", "score", "known", "score_square", "score_known", "known_square"):
        np.testing.assert_allclose(getattr(again, name), getattr(whole, name), rtol=1e-12, atol=1e-12)


def test_a_grade_alone_in_its_sales_says_nothing():
    sums = grade_years(
        np.array([1, 1, 0, 0]), np.array([2020, 2020]), np.ones(4), np.arange(4.0), np.array([0, 0, 1, 1]), 2
    )
    assert sums.shift(0, 1, 2) == (0.0, np.inf)


def estimated(error, head, sale):
    """The spread from sums over two halves of the sales."""
    now = LotSpread(0.04, 0.12)
    halves = (sale < np.median(sale), sale >= np.median(sale))
    return spread_of([spread_sums(error[h], head[h], sale[h], now) for h in halves], now)


def test_the_spread_of_lots_by_head():
    rng = np.random.default_rng(2)
    head = rng.choice([1.0, 3.0, 10.0, 40.0, 100.0], 60_000)
    sale = np.repeat(np.arange(3_000), 20)
    error = rng.normal(size=60_000) * np.sqrt(0.05**2 + 0.11**2 / head)
    error -= (np.bincount(sale, error) / 20)[sale]
    found = estimated(error, head, sale)
    assert found.lot_sd == pytest.approx(0.05, abs=0.002)
    assert found.calf_sd == pytest.approx(0.11, abs=0.004)


def test_a_spread_that_cannot_be_split_goes_to_the_lots():
    error = np.array([0.03, -0.03, 0.05, -0.05])
    found = estimated(error, np.full(4, 15.0), np.array([0, 0, 1, 1]))
    assert found == LotSpread(pytest.approx(np.sqrt(2 * np.mean(error**2))), 0.0)
    alone = estimated(error, np.full(4, 15.0), np.arange(4))
    assert alone == LotSpread(0.04, 0.12)


def test_an_unknown_head_counts_as_fifteen_and_no_variance_is_nil():
    spread = LotSpread(0.04, 0.12)
    assert spread.variance(np.array([np.nan, 15.0])).tolist() == [0.04**2 + 0.12**2 / 15.0] * 2
    assert LotSpread(0.0, 0.0).variance(np.array([10.0])) == pytest.approx([0.01**2])


SPREAD = LotSpread(0.04, 0.12)


@pytest.fixture(scope="module")
def settled():
    lots = lots_of(simulate(81, sales=50, lots=12, days_between=30).records)
    recipe = recipe_for(lots, kind="quadratic", level=True)
    start = ChunkState(recipe, SPREAD, np.linspace(-0.2, 0.3, lots.sales), np.empty(0, dtype=np.int64))
    return lots, replace(start, solution=solve(sums_pass(LotRows.of(lots, recipe), start)))


def test_the_chunks_of_the_design_are_the_design(settled, monkeypatch):
    lots, told = settled
    whole = LotRows.of(lots, told.recipe).chunk(told.level, SPREAD)
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 70)
    pieces = list(chunks(lots, told.recipe, told.level, SPREAD))
    assert len(pieces) == 10
    np.testing.assert_array_equal(np.vstack([p.X for p in pieces]), whole.X)
    np.testing.assert_array_equal(np.concatenate([p.y for p in pieces]), whole.y)


def test_a_chunk_that_stays_is_given_for_the_same_question_only(settled):
    lots, told = settled
    rows = LotRows.of(lots, told.recipe)
    first, none = rows.chunk(told.level, SPREAD, np.array([3])), np.empty(0, dtype=np.int64)
    assert rows.chunk(told.level.copy(), LotSpread(0.04, 0.12), np.array([3])) is first
    for asked in (
        (told.level, SPREAD, none),
        (told.level + 0.1, SPREAD, none),
        (told.level, LotSpread(0.05, 0.1), none),
    ):
        fresh, kept = LotRows.of(lots, told.recipe).chunk(*asked), rows.chunk(*asked)
        np.testing.assert_array_equal(kept.X, fresh.X)
        np.testing.assert_array_equal(kept.row_weight, fresh.row_weight)


def test_a_sale_larger_than_a_chunk_is_not_cut(settled):
    lots, _ = settled
    assert [span.end_sale - span.first_sale for span in lots.spans(rows=7)] == [1] * 50
    assert len(lots.spans(rows=25)) == 25


def test_a_look_finds_the_wild_ones_and_the_effects(settled):
    lots, told = settled
    price = lots.log_price.copy()
    price[[30, 200]] += 1.5
    look = residual_pass(LotRows.of(replace(lots, log_price=price), told.recipe), told)
    assert {30, 200} <= set(look.wild.tolist())
    assert len(look.effect) == lots.sales and np.isfinite(look.effect).all()
    kept = replace(told, dropped=np.array([30, 200]))
    spoiled, clean = (LotRows.of(some, told.recipe) for some in (replace(lots, log_price=price), lots))
    assert residual_pass(spoiled, kept).wild.tolist() == residual_pass(clean, kept).wild.tolist()


def test_the_account_is_the_sum_over_lots(settled):
    lots, told = settled
    account = final_pass(LotRows.of(lots, told.recipe), told)
    chunk = LotRows.of(lots, told.recipe).chunk(told.level, SPREAD)
    sale = 17
    mine = lots.sale == sale
    weight = chunk.row_weight[mine]
    left = chunk.y[mine] - chunk.X[mine] @ told.solution.coef
    assert account.effect[sale] == pytest.approx(np.average(left, weights=weight), rel=1e-12)
    x = scaled_weight(lots.weight_lb[mine])
    x = x - np.average(x, weights=weight)
    error = left - account.effect[sale]
    assert account.slope_score[sale] == pytest.approx((weight * x * error).sum(), rel=1e-9)
    assert account.slope_known[sale] == pytest.approx((weight * x**2).sum(), rel=1e-12)
    assert account.row_weight[sale] == pytest.approx(weight.sum()) and account.lots[sale] == 12


def test_a_chunk_with_no_lot_left_adds_nothing(settled):
    lots, told = settled
    (span, few) = next(iter(lots.pieces(rows=24)))
    rest = lots.read(lots_module.Span(span.end_sale, lots.sales, span.end_row, len(lots)))
    none = replace(told, level=told.level[span.sales], dropped=np.arange(24))
    others = replace(told, level=told.level[span.end_sale :])
    gone, left = LotRows.of(few, told.recipe), LotRows.of(rest, told.recipe)
    both = solve(combine([sums_pass(gone, none), sums_pass(left, others)]))
    np.testing.assert_allclose(both.coef, solve(sums_pass(left, others)).coef, rtol=1e-10)
    assert both.n == len(rest)
    look, account = residual_pass(gone, none), final_pass(gone, none)
    assert np.isnan(look.effect).all() and not len(look.wild) and not look.spread.any()
    assert np.isnan(account.effect).all() and account.lots.tolist() == [0, 0]
    assert not account.meat.any() and not account.grades.lots.any()


def test_a_fit_bears_a_last_chunk_whose_lots_are_all_misprints(settled, monkeypatch):
    lots, told = settled
    price = lots.log_price.copy()
    price[-12:] += np.tile([4.0, -4.0], 6)
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 12)
    fit = fit_fixed_effects(replace(lots, log_price=price), told.recipe)
    assert set(range(588, 600)) <= set(fit.dropped.tolist())
    assert fit.sale_lots[-1] == 0 and np.isnan(fit.effect[-1])
    assert fit.seen.tolist() == list(range(49))
