"""Slide, season and price sheet of a region's file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from slidefit.errors import OutlookError
from slidefit.market.marketfit import MarketFit
from slidefit.regions.region import Region
from slidefit.regions.schema import schema_text
from slidefit.regions.tables import price_sheet, region_season, region_slides
from slidefit.regions.to_outlook import outlook_of_region


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
        "python -m slidefit.regions.schema > docs/region-schema.json"
    )
