"""A region's file and a fit that leans on it are one estimator; pooling beats each market alone and all as one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from slidefit.errors import FitError
from slidefit.market.fit.prior import PooledSlope
from slidefit.market.fit.slide_fit import fit_slide
from slidefit.market.market_fit import MarketFit, fit_market
from slidefit.market.outlook import Outlook
from slidefit.regions.from_fit import Provenance
from slidefit.regions.pooling import error_cov, markets_apart, pooled_regions, region_toward
from slidefit.regions.region import Region
from slidefit.regions.region_file import parse_region
from slidefit.regions.region_outlook import outlook_of_region, slide_error
from slidefit.regions.region_text import write_region
from tests.market.coded import lots_of
from tests.market.simulate import Truth, simulate

WEIGHTS = (450.0, 550.0, 650.0)
MADE = Provenance(date(2025, 10, 1))


def steeper(points: float) -> Truth:
    """The usual truth with every slide steeper by some points per cwt."""
    truth = replace(Truth(), drift_sd=0.016)
    return replace(truth, curves=tuple((sex, (a, b - points / 100.0, c)) for sex, (a, b, c) in truth.curves))


@pytest.fixture(scope="module")
def straying(region: Region) -> Region:
    """The region with a slide that strays by 1.6 points from sale to sale, as real ones do."""
    return region.model_copy(update={"noise": region.noise.model_copy(update={"slide_pct": 1.6})})


def _slides(outlook: Outlook, sex: str) -> tuple[list[float], list[float]]:
    """Slides of the mean year at 450, 550 and 650 lb in points, and their errors."""
    curve = outlook.curves[sex]
    at = [
        np.interp(w + np.array([-50.0, 50.0]), curve.weights_lb, curve.log_relative.mean(axis=0))
        for w in WEIGHTS
    ]
    errors = np.interp(WEIGHTS, curve.weights_lb, curve.slope_sd_cwt)
    return [-100.0 * float(np.expm1(b - a)) for a, b in at], (100.0 * errors).tolist()


@pytest.mark.parametrize(("sales", "lots"), [(6, 20), (30, 20), (130, 12)])
def test_a_fit_and_a_file_that_lean_on_a_region_give_the_same_answer(
    straying: Region, sales: int, lots: int
) -> None:
    """120, 600 and 1,560 lots: slides within .3 points, at 550 lb .05, errors within 15 percent, price to a quarter."""
    rows = simulate(
        9, truth=steeper(3.0), sales=sales, lots=lots, first="2023-03-06", market="Stone Gap"
    ).records
    fit = fit_market(rows, defaults=outlook_of_region(straying))
    (file,) = region_toward(straying, "Stone Gap", rows, MADE).regions
    outlook, read = fit.outlook(), outlook_of_region(file)
    for sex in ("steer", "heifer"):
        ours, theirs = (_slides(each, sex) for each in (outlook, read))
        assert theirs[0] == pytest.approx(ours[0], abs=0.3) and theirs[0][1] == pytest.approx(
            ours[0][1], abs=0.05
        )
        assert theirs[1][1] == pytest.approx(ours[1][1], rel=0.15)
    assert read.price_cwt("steer", 550.0, read.as_of) == pytest.approx(
        outlook.price_cwt("steer", 550.0, outlook.as_of), abs=0.25
    )
    assert (
        file.pool is not None and file.pool.name == straying.name and parse_region(write_region(file)) == file
    )


def test_only_the_weeks_in_common_are_shared(straying: Region) -> None:
    """By hand: the same 20 weeks share all of .68; 10 of 20 half of it; none nothing."""
    fit = fit_market(simulate(3, sales=6, lots=8).records, defaults=outlook_of_region(straying))
    slope = fit.slide_fit.slopes[0]

    def seen(a: int, b: int) -> tuple[PooledSlope, MarketFit]:
        first, last = (date.fromordinal(738_000 + 7 * week) for week in (a, b))
        return slope, replace(fit, basis=replace(fit.basis, first_sale=first, last_sale=last))

    cov = error_cov([seen(0, 19), seen(0, 19), seen(10, 29), seen(40, 59)]) / slope.prior.stray_sd**2
    assert cov[0, 1:] == pytest.approx([0.68, 0.34, 0.0])
    assert np.diag(cov) == pytest.approx(slope.total_sd**2 / slope.prior.stray_sd**2)


def test_pooled_slides_beat_own_ones_and_one_for_all(straying: Region) -> None:
    """From lots on: 30 markets of 3 to 24 sales of six lots whose slides differ by 1.5 points per cwt."""
    rng = np.random.default_rng(3)
    sales = np.tile([3, 4, 6, 12, 24], 6)
    true = rng.normal(0.0, 1.5, len(sales))
    outlook = outlook_of_region(straying)
    errors: dict[str, list[float]] = {"own": [], "pooled": [], "one": [], "held": []}
    for place, (count, points) in enumerate(zip(sales, true, strict=True)):
        records = simulate(
            500 + place, truth=steeper(points), sales=int(count), lots=6, first="2025-07-09"
        ).records
        for slope in fit_slide(lots_of(records), defaults=outlook).slopes:
            mine = slope.prior.target - points / 100.0
            errors["own"].append((slope.own - mine) ** 2)
            errors["pooled"].append((slope.pooled - mine) ** 2)
            errors["one"].append((slope.prior.target - mine) ** 2)
            errors["held"].append(float(abs(slope.pooled - mine) < 1.96 * slope.sd))
    mean = {name: float(np.mean(values)) for name, values in errors.items()}
    assert len(errors["own"]) == 50
    assert mean["pooled"] < 0.8 * mean["own"] and mean["pooled"] < 0.95 * mean["one"], mean
    assert 0.88 < mean["held"] < 0.99, mean


def test_a_thin_market_takes_more_from_the_region(region: Region, records: pd.DataFrame) -> None:
    parts = {str(market): rows for market, rows in records.groupby("market")}
    parts["one lot"] = records.head(1)
    made = pooled_regions(region, parts, dict.fromkeys(parts, MADE))
    assert [r.name for r in made.regions] == ["River country", "Birch Landing", "Low Ferry", "Stone Gap"]
    assert made.left_out == ("one lot",)
    share = {(s.market, s.sex): s.own_share for s in made.slides}
    assert share["Stone Gap", "steer"] < 0.8 < share["Birch Landing", "steer"]
    for slide in made.slides:
        assert slide.pooled_se < slide.own_se + 0.05
        pool = made.pool_slides[slide.sex]
        assert abs(slide.pooled - pool) <= abs(slide.own - pool) + 0.3
    thin = made.regions[-1]
    assert thin.season == region.season and 30 < thin.source.lots <= 40 and thin.pool is not None
    assert thin.pool.markets == 3
    for each in made.regions:
        assert parse_region(write_region(each)) == each
    for slide in made.slides:
        (file,) = (r for r in made.regions if r.name == slide.market)
        table = dict(file.sexes().items())[slide.sex]  # type: ignore[index]
        told = 100.0 * slide_error(table, 550.0) * (1.0 - slide.pooled / 100.0)
        assert told > slide.pooled_se - 0.02
        if slide.market == "Stone Gap":
            assert told == pytest.approx(slide.pooled_se, rel=0.1)


def test_how_far_markets_differ_is_read_from_them(straying: Region) -> None:
    outlook = outlook_of_region(straying)
    fits = [
        fit_market(simulate(70 + i, truth=steeper(p), sales=40, lots=6).records, defaults=outlook)
        for i, p in enumerate((-4.0, 0.0, 4.0))
    ]
    assert markets_apart(fits)["steer"] > 2.0 > markets_apart(fits[:1])["steer"] == pytest.approx(1.5)


def test_records_without_two_lots_to_compare_are_refused(region: Region, records: pd.DataFrame) -> None:
    with pytest.raises(FitError):
        region_toward(region, "Stone Gap", records[records["market"] == "Stone Gap"].head(1), MADE)
