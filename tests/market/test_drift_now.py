"""Where the slide stands today, of a slide that wanders."""

import numpy as np
import pytest

from slidefit.market.coding import lots_of
from slidefit.market.drift import drift_now, sale_slopes
from slidefit.market.fitted_slide import fit_slide
from slidefit.market.gates import recipe_for
from slidefit.market.slides import slide_table
from tests.market.lot_errors import lot_errors
from tests.market.simulate import Truth, simulate


def fit_of(drawn):
    lots = lots_of(drawn.records)
    return lots, fit_slide(lots, recipe=recipe_for(lots, kind="quadratic", harmonics=1, level=True))


@pytest.fixture(scope="module")
def markets():
    """Twelve markets of four years whose slide wanders from week to week."""
    return [simulate(100 + seed, truth=Truth(drift_sd=0.016), sales=208, lots=14) for seed in range(12)]


def test_today_is_nearer_the_truth_than_the_mean_slide(markets):
    errors, plain, inside = [], [], []
    for drawn in markets:
        lots, slide = fit_of(drawn)
        now = drift_now(lots, slide.within)
        left = drawn.drift[-1] - drawn.drift.mean()
        errors.append(now.slope - left)
        plain.append(left)
        inside.append(abs(now.slope - left) < 2.5 * now.sd)
        assert 0.5 < now.week_ar < 0.99
        assert 0.0 < now.sd < now.stationary_sd
    assert np.std(errors) < 0.9 * np.std(plain)
    assert sum(inside) >= 10


def test_a_steady_slide_is_left_where_it_is(drawn):
    lots, slide = fit_of(drawn)
    now = drift_now(lots, slide.within)
    assert abs(now.slope) < 0.005
    assert now.sd < 0.006


def test_short_histories_assume_the_usual_drift():
    lots, slide = fit_of(simulate(5, sales=30, lots=20))
    now = drift_now(lots, slide.within)
    assert (now.slope, now.sd) == (0.0, 0.016)
    assert np.isnan(now.week_ar)


def test_sale_slopes_are_what_the_residuals_say(drawn):
    lots, slide = fit_of(drawn)
    found = sale_slopes(slide.within)
    sale = int(found.sale[7])
    error = lot_errors(lots, slide.within, np.arange(lots.sales), np.arange(len(lots)))
    mine = (lots.sale == sale) & np.isfinite(error)
    weight = 1.0 / slide.within.spread.variance(lots.head[mine])
    x = (lots.weight_lb[mine] - 550.0) / 100.0
    centred = x - np.average(x, weights=weight)
    slope = (weight * centred * error[mine]).sum() / (weight * centred**2).sum()
    assert found.slope[7] == pytest.approx(slope, rel=1e-9)


def test_todays_slide_carries_the_drift_and_its_error(markets):
    _, slide = fit_of(markets[0])
    plain, now = slide.model(0.0), slide.now
    row = slide_table(plain, sexes=["steer"], weights_lb=[550.0]).iloc[0]
    shift = np.log1p(-row["percent_today"] / 100.0) - np.log1p(-row["percent_per_cwt"] / 100.0)
    assert shift == pytest.approx(now.slope, rel=1e-9)
    assert row["percent_today_high"] - row["percent_today_low"] > row["percent_high"] - row["percent_low"]


def test_two_weeks_on_the_fading_drift_is_nearer_the_truth_than_none(markets):
    """What the outlook expects: the drift of the last day times its weekly share, to the weeks."""
    ahead, fading, none = 2, [], []
    for drawn in markets:
        last = len(drawn.day) - 1 - ahead
        known = lots_of(drawn.records[drawn.records["sale_date"] <= drawn.day[last].astype("datetime64[D]")])
        slide = fit_slide(known, recipe=recipe_for(known, kind="quadratic", harmonics=1, level=True))
        truth = drawn.drift[-1] - drawn.drift[: last + 1].mean()
        fading.append(truth - slide.now.slope * slide.now.week_ar**ahead)
        none.append(truth)
    assert np.mean(np.square(fading)) < 0.8 * np.mean(np.square(none))
