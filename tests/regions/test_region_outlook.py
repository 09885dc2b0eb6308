"""A region's file gives the comparison what the fit itself gives.

Slide, season and price sheet of a region's file."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from slidefit.errors import OutlookError, RegionError
from slidefit.futures_contracts import FuturesQuote
from slidefit.market.blend import futures_outlook
from slidefit.market.futures import MonthBasis
from slidefit.market.market_fit import MarketFit
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.region import Pool, Region
from slidefit.regions.region_file import parse_region, schema_text
from slidefit.regions.region_outlook import (
    cubic_spline,
    outlook_of_region,
    price_sheet,
    region_season,
    region_slides,
    season_of,
    year_curve,
)
from slidefit.regions.region_text import write_region


def test_season_errors_are_a_covariance(region: Region) -> None:
    _, cov = season_of(region)
    assert np.linalg.eigvalsh(cov).min() > -1e-12
    flat = region.model_copy(update={"season": region.season.model_copy(update={"waves": 0})})
    _, apart = season_of(flat)
    assert np.count_nonzero(apart - np.diag(np.diag(apart))) == 0


def test_steps_add_up_exactly(shipped: Region) -> None:
    """The file's arithmetic, done by hand: each step takes ln(1 - slide) x its hundredweight off."""
    table = shipped.sexes()["steer"]
    (a, b), (c, d) = table.slide["550-600"], table.slide["600-650"]
    fall = 0.5 * np.log1p(-a / 100.0) + 0.5 * np.log1p(-c / 100.0)
    ends = year_curve(table, np.array([550.0, 650.0]))
    assert ends[1] - ends[0] == pytest.approx(fall, abs=1e-12)
    assert ends[0] == pytest.approx(np.log1p(-table.discount_pct / 100.0), abs=1e-12)
    assert b > 0 and d > 0


def test_editing_one_number_moves_what_it_should(shipped: Region) -> None:
    table = shipped.sexes()["steer"]
    slide = {**table.slide, "600-650": (table.slide["600-650"][0] + 4.0, 0.3)}
    edited = shipped.model_copy(update={"steer": table.model_copy(update={"slide": slide})})
    before, after = outlook_of_region(shipped), outlook_of_region(edited)
    when = date(2026, 11, 15)
    assert after.price_cwt("steer", 700.0, when) < 0.99 * before.price_cwt("steer", 700.0, when)
    assert after.price_cwt("steer", 550.0, when) == pytest.approx(before.price_cwt("steer", 550.0, when))
    assert after.price_cwt("heifer", 700.0, when) == pytest.approx(before.price_cwt("heifer", 700.0, when))


def test_an_old_file_says_so(shipped: Region) -> None:
    last = shipped.source.last_sale
    told = (*shipped.remarks, *shipped.source.notes)
    assert outlook_of_region(shipped).notes == told
    assert outlook_of_region(shipped, last).notes == told
    assert "days old" in outlook_of_region(shipped, date(2026, 12, 31)).notes[-1]
    assert "is old" in outlook_of_region(shipped, date(2027, 10, 14)).notes[-1]


def test_the_slide_is_the_fits_at_todays_level(fitted: MarketFit, region: Region) -> None:
    model = fitted.model
    for row in region_slides(region).itertuples():
        ends = model.rows(str(row.sex), [row.from_lb, row.to_lb], level=model.level_now) @ model.coef
        true = -100.0 * np.expm1(ends[1] - ends[0])
        assert row.percent_per_cwt == pytest.approx(true, abs=0.03)
        assert row.percent_low < row.percent_per_cwt < row.percent_high
        assert row.dollars_per_cwt_per_cwt == pytest.approx(row.price_cwt * row.percent_per_cwt / 100.0)


def test_months_and_refusals(region: Region) -> None:
    slides = region_slides(region, sexes=["heifer"], weights_lb=[550.0], months=[None, 3])
    assert list(slides["month"].isna()) == [True, False]
    with pytest.raises(OutlookError, match="bull"):
        region_slides(region, sexes=["bull"])
    with pytest.raises(OutlookError, match="outside the weights"):
        region_slides(region, weights_lb=[1200.0])
    unseen = region.model_copy(update={"season": region.season.model_copy(update={"unseen": ("jul",)})})
    with pytest.raises(OutlookError, match="month 7"):
        region_slides(unseen, months=[7])
    assert len(region_slides(unseen, months=[7], allow_unseen=True))


def test_season_is_the_files(region: Region) -> None:
    season = region_season(region)
    assert season["index"].mean() == pytest.approx(100.0, abs=0.01)
    assert ((season["low"] < season["index"]) & (season["index"] < season["high"])).all()


def test_the_sheet_at_the_files_own_level_is_the_outlook(shipped: Region) -> None:
    outlook = outlook_of_region(shipped)
    index = shipped.season.months()[shipped.price.as_of.month - 1][0]
    sheet = price_sheet(shipped, "steer", shipped.price.standard_cwt / index * 100.0)
    line = outlook.curves["steer"]
    expected = np.exp(
        outlook.log_level + outlook.season_log[2] + np.interp(600.0, line.weights_lb, line.log_relative[2])
    )
    assert sheet.loc[600.0, 3] == pytest.approx(expected, rel=5e-3)
    assert list(sheet.columns) == list(range(1, 13)) and sheet.index[0] % 50 == 0


def test_the_slide_steepens_with_the_price_level_inside_those_seen(shipped: Region) -> None:
    def share(level: float) -> float:
        sheet = price_sheet(shipped, "steer", level)
        return float(sheet.loc[700.0, 10] / sheet.loc[550.0, 10])

    low, high = shipped.price.seen_cwt
    assert share(0.8 * high) > share(high) == pytest.approx(share(2.0 * high))
    assert share(low) == pytest.approx(share(0.5 * low))


def test_the_schema_page_is_in_step() -> None:
    page = Path(__file__).parent.parent.parent / "docs" / "region-schema.json"
    assert page.read_text(encoding="utf-8") == schema_text(), (
        "python -m slidefit.regions.region_file > docs/region-schema.json"
    )


def test_a_files_basis_and_ranges_are_those_of_the_fit(fitted: MarketFit, region: Region) -> None:
    """Two quotes move a region's outlook as they move the fit's own."""
    basis = MonthBasis(
        np.log1p(np.linspace(-0.06, 0.05, 12)), sd=0.034, month_share=0.5, months=40, relative=np.zeros(12)
    )
    with_basis = replace(fitted, month_basis=basis)
    made = region_of(with_basis, "River country", Provenance(date(2025, 10, 1), "a" * 64))
    read = parse_region(write_region(made))
    assert read.basis is not None and read.basis.month_pct[0] == pytest.approx(-6.0)
    own, other = with_basis.outlook(), outlook_of_region(read)
    assert other.range_scale == pytest.approx(own.range_scale, abs=0.01)
    lent = other.month_basis
    assert lent is not None and lent.source == "River country" and lent.months == 40
    assert lent.log == pytest.approx(basis.log, abs=1e-4) and lent.departure == 0.0
    curve = other.curves["steer"]
    assert lent.relative[2] == pytest.approx(np.interp(750.0, curve.weights_lb, curve.log_relative[2]))
    quotes = [FuturesQuote("2025-11", 150.0, own.as_of), FuturesQuote("2026-01", 150.0, own.as_of)]
    assert futures_outlook(other, quotes).futures.set_aside == ""  # type: ignore[union-attr]
    assert region.basis is None and outlook_of_region(region).month_basis is None


def test_a_basis_of_other_than_twelve_months_is_refused(region: Region) -> None:
    text = write_region(region) + (
        "\n[basis]\nweight_lb = 750.0\nspread_pct = 3.4\nmonth_share = 0.6\nmonths = 40\nmonth_pct = [1.0, 2.0]\n"
    )
    with pytest.raises(RegionError, match="holds 2 numbers"):
        parse_region(text)


def test_what_a_file_says_of_its_slide_errors_goes_into_the_curve(shipped: Region) -> None:
    """By hand: a slide that strays by 2 points; what 10 percent of price adds; markets apart as the pool says."""
    noise = shipped.noise.model_copy(update={"slide_pct": 2.0})
    pool = Pool(name="all", markets=4, between_pct={"steer": 0.8})
    steer = shipped.sexes()["steer"].model_copy(update={"slide_more": (0.6, 0.3)})
    outlook = outlook_of_region(shipped.model_copy(update={"noise": noise, "pool": pool, "steer": steer}))
    curve = outlook.curves["steer"]
    (error,) = (e for a, b, _, e in steer.steps() if a <= 525.0 < b)
    at = np.interp(525.0, curve.weights_lb, curve.slope_sd_cwt)
    assert at == pytest.approx(np.hypot(error / 100.0, 0.02), rel=0.01)
    assert (curve.stray_cwt, curve.between_cwt) == (0.02, pytest.approx(0.008))
    assert outlook.curves["heifer"].between_cwt == pytest.approx(0.015)
    assert curve.level_slope == pytest.approx(-0.005 / np.log(1.1))


@pytest.mark.parametrize("count", [2, 3, 4, 5, 9])
def test_the_spline_is_scipys(count: int) -> None:
    draw = np.random.default_rng(count)
    nodes, values = np.cumsum(draw.uniform(0.3, 2.0, count)), draw.normal(size=count)
    at = np.linspace(nodes[0] - 1.0, nodes[-1] + 1.0, 60)
    np.testing.assert_allclose(cubic_spline(nodes, values, at), CubicSpline(nodes, values)(at), atol=1e-11)
