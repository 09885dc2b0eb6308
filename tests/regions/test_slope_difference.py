"""A market's own slide is read against the region's file, and thin markets take more from the pool."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from slidefit.errors import FitError
from slidefit.regions.from_fit import Provenance
from slidefit.regions.pooling import pool_tilts, pooled_regions, region_toward
from slidefit.regions.region import Region
from slidefit.regions.region_file import parse_region
from slidefit.regions.region_text import write_region
from slidefit.regions.slope_difference import own_market
from tests.market.simulate import Truth, simulate

MADE = Provenance(date(2025, 10, 1))


def steeper(points: float) -> Truth:
    """The usual truth with every slide steeper by some points per cwt."""
    truth = Truth()
    return replace(truth, curves=tuple((sex, (a, b - points / 100.0, c)) for sex, (a, b, c) in truth.curves))


@pytest.mark.parametrize("points", [0.0, 3.0])
def test_a_known_tilt_is_found(region: Region, points: float) -> None:
    records = simulate(21, truth=steeper(points), sales=180, lots=12, days_between=14).records
    own = own_market(region, records)
    for tilt in own.tilts.values():
        assert tilt.points == pytest.approx(points, abs=0.8)
        assert 0.0 < tilt.se < 0.8
    assert own.sales == 180 and own.as_of == records["sale_date"].max().date()


@pytest.mark.parametrize(("sales", "weeks"), [(6, 6.0), (104, 104.0)])
def test_a_slide_that_strays_makes_a_tilt_less_sure(region: Region, sales: int, weeks: float) -> None:
    """By hand: slide_pct^2 min(1, 11.5 / weeks) more variance, however many lots there are."""
    records = simulate(23, sales=sales, lots=12, days_between=7).records
    calm, straying = (
        region.model_copy(update={"noise": region.noise.model_copy(update={"slide_pct": pct})})
        for pct in (0.0, 2.0)
    )
    before, after = (own_market(each, records).tilts["steer"] for each in (calm, straying))
    added = 2.0**2 * min(1.0, 11.5 / weeks)
    assert after.se**2 - before.se**2 == pytest.approx(added, rel=1e-6)
    assert after.stray**2 == pytest.approx(added, rel=1e-6) and before.stray == 0.0


def test_a_level_read_from_older_sales_allows_for_the_walk_since(region: Region) -> None:
    """By hand: three sales a fortnight apart lie 14 days behind the last on the mean; walk^2 x 14 days in months."""
    records = simulate(29, sales=3, lots=12, days_between=14).records
    still, walking = (
        region.model_copy(update={"forecast": region.forecast.model_copy(update={"walk_pct_month": pct})})
        for pct in (0.0, 6.0)
    )
    before, after = (own_market(each, records).level_sd for each in (still, walking))
    assert after**2 - before**2 == pytest.approx(0.06**2 * 14.0 / (365.25 / 12.0), rel=1e-6)


def test_drawn_slides_beat_own_ones_and_one_for_all(region: Region) -> None:
    """From lots on: 40 markets of 3 to 24 sales of six lots whose slides differ by 1.5 points per cwt."""
    rng = np.random.default_rng(3)
    sales = np.tile([3, 4, 6, 12, 24], 8)
    true = rng.normal(0.0, 1.5, len(sales))
    own = {
        str(place): own_market(
            region, simulate(500 + place, truth=steeper(points), sales=int(count), lots=6).records
        )
        for place, (count, points) in enumerate(zip(sales, true, strict=True))
    }
    errors: dict[str, list[float]] = {"own": [], "drawn": [], "one": [], "held": []}
    for sex, (names, pooled) in pool_tilts(own).items():
        mine = np.array([true[int(name)] for name in names])
        errors["own"] += list((np.array([own[name].tilts[sex].points for name in names]) - mine) ** 2)
        errors["drawn"] += list((pooled.estimate - mine) ** 2)
        errors["one"] += list((pooled.mean - mine) ** 2)
        errors["held"] += list(np.abs(pooled.estimate - mine) < 1.96 * pooled.se)
    mean = {name: float(np.mean(values)) for name, values in errors.items()}
    assert len(errors["own"]) > 60
    assert mean["drawn"] < 0.95 * mean["own"] and mean["drawn"] < 0.85 * mean["one"], mean
    assert mean["held"] > 0.88, mean


def test_its_own_price_is_found(region: Region) -> None:
    drawn = simulate(22, sales=60, lots=30, days_between=14)
    own = own_market(region, drawn.records)
    true = np.log(Truth().price_cwt) + drawn.level[-3:].mean()
    assert own.log_level == pytest.approx(true, abs=4.0 * own.level_sd)
    assert own.level_sd < 0.05


def test_a_thin_market_takes_more_from_the_pool(region: Region, records: pd.DataFrame) -> None:
    parts = {str(market): rows for market, rows in records.groupby("market")}
    made = pooled_regions(region, parts, dict.fromkeys(parts, MADE))
    assert [r.name for r in made.regions] == ["River country", "Birch Landing", "Low Ferry", "Stone Gap"]
    share = {(s.market, s.sex): s.own_share for s in made.slides}
    assert share["Stone Gap", "steer"] < 0.8 < share["Birch Landing", "steer"]
    for slide in made.slides:
        assert slide.drawn_se < slide.own_se + 1e-9
        pool = made.pool_slides[slide.sex]
        assert abs(slide.drawn - pool) <= abs(slide.own - pool) + 0.3
    thin = made.regions[-1]
    assert thin.season == region.season and 30 < thin.source.lots <= 40 and thin.pool is not None
    for each in made.regions:
        assert parse_region(write_region(each)) == each


def test_one_market_toward_a_file(region: Region, records: pd.DataFrame) -> None:
    rows = records[records["market"] == "Stone Gap"]
    (made,) = region_toward(region, "Stone Gap", rows, MADE).regions
    assert made.markets == ("Stone Gap",) and made.pool is not None and made.pool.name == "River country"
    ratio = made.price.standard_cwt / rows["price_cwt"].mean()
    assert 0.8 < ratio < 1.3
    before, after = region.sexes()["steer"].slide["500-550"], made.sexes()["steer"].slide["500-550"]
    assert after[1] > before[1]


def test_records_that_it_cannot_price_are_refused(region: Region, records: pd.DataFrame) -> None:
    with pytest.raises(FitError, match="two lots"):
        own_market(region, records[records["market"] == "Stone Gap"].head(1))
    with pytest.raises(FitError, match="two lots"):
        own_market(region, records.head(20).assign(muscle="4"))
