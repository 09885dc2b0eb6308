"""What one chunk adds: the same whatever the cut, and nothing from a chunk whose lots were all left out."""

from dataclasses import replace

import numpy as np
import pytest

from slidefit.market import lots as lots_module
from slidefit.market.basis import scaled_weight
from slidefit.market.coding import lots_of
from slidefit.market.gates import recipe_for
from slidefit.market.leastsquares import combine, solve
from slidefit.market.lot_spread import Spread
from slidefit.market.passes import Settled, accounted, chunk_of, chunks, looked_at, summed
from slidefit.market.within import fit_within
from tests.market.simulate import simulate

SPREAD = Spread(0.04, 0.12)


@pytest.fixture(scope="module")
def settled():
    lots = lots_of(simulate(81, sales=50, lots=12, days_between=30).records)
    recipe = recipe_for(lots, kind="quadratic", level=True)
    start = Settled(recipe, SPREAD, np.linspace(-0.2, 0.3, lots.sales), np.empty(0, dtype=np.int64))
    return lots, replace(start, solution=solve(summed(lots, start)))


def test_the_chunks_of_the_design_are_the_design(settled, monkeypatch):
    lots, told = settled
    whole = chunk_of(lots, told.recipe, told.level, SPREAD)
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 70)
    pieces = list(chunks(lots, told.recipe, told.level, SPREAD))
    assert len(pieces) == 10
    np.testing.assert_array_equal(np.vstack([p.X for p in pieces]), whole.X)
    np.testing.assert_array_equal(np.concatenate([p.y for p in pieces]), whole.y)


def test_a_sale_larger_than_a_chunk_is_not_cut(settled):
    lots, _ = settled
    assert [span.end_sale - span.first_sale for span in lots.spans(rows=7)] == [1] * 50
    assert len(lots.spans(rows=25)) == 25


def test_a_look_finds_the_wild_ones_and_the_effects(settled):
    lots, told = settled
    price = lots.log_price.copy()
    price[[30, 200]] += 1.5
    look = looked_at(replace(lots, log_price=price), told)
    assert {30, 200} <= set(look.wild.tolist())
    assert len(look.effect) == lots.sales and np.isfinite(look.effect).all()
    kept = replace(told, dropped=np.array([30, 200]))
    assert (
        looked_at(replace(lots, log_price=price), kept).wild.tolist() == looked_at(lots, kept).wild.tolist()
    )


def test_the_account_is_the_sum_over_lots(settled):
    lots, told = settled
    account = accounted(lots, told)
    chunk = chunk_of(lots, told.recipe, told.level, SPREAD)
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
    both = solve(combine([summed(few, none), summed(rest, others)]))
    np.testing.assert_allclose(both.coef, solve(summed(rest, others)).coef, rtol=1e-10)
    look, account = looked_at(few, none), accounted(few, none)
    assert np.isnan(look.effect).all() and not len(look.wild) and look.spread.rows == 0
    assert np.isnan(account.effect).all() and account.lots.tolist() == [0, 0]
    assert not account.meat.any() and not len(account.years.cluster) and not account.grades.lots.any()


def test_a_fit_bears_a_last_chunk_whose_lots_are_all_misprints(settled, monkeypatch):
    lots, told = settled
    price = lots.log_price.copy()
    price[-12:] += np.tile([4.0, -4.0], 6)
    monkeypatch.setattr(lots_module, "CHUNK_ROWS", 12)
    fit = fit_within(replace(lots, log_price=price), told.recipe)
    assert set(range(588, 600)) <= set(fit.dropped.tolist())
    assert fit.sale_lots[-1] == 0 and np.isnan(fit.effect[-1])
    assert fit.effects.sale.tolist() == list(range(49))
