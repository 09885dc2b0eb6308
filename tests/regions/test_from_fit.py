"""A region made of a fit answers as the fit does."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from slidefit.decision.comparison import compare
from slidefit.market.market_fit import MarketFit, fit_market
from slidefit.plan.plan_file import parse_plan
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.region import Region
from slidefit.regions.region_file import parse_region
from slidefit.regions.region_outlook import (
    outlook_of_region,
)
from slidefit.regions.region_text import write_region
from slidefit.report.regions.region_content import region_content
from slidefit.report.render.terminal import document_text

PLAN = (Path(__file__).parent.parent.parent / "data_demo" / "plan.toml").read_text(encoding="utf-8")


def test_same_money_and_odds_as_the_fit(fitted: MarketFit, region: Region) -> None:
    """Within $0.50 a head and one point of odds, after writing the file and reading it back."""
    plan = parse_plan(PLAN.replace("2026-", "2025-").replace("2027-", "2026-"))
    own = compare(fitted.outlook(), plan)
    other = compare(outlook_of_region(parse_region(write_region(region))), plan)
    options = 0
    for a, b in zip(own.groups, other.groups, strict=True):
        assert a.sell_now.net_per_head == pytest.approx(b.sell_now.net_per_head, abs=0.5)
        for x, y in zip(a.keep, b.keep, strict=True):
            assert x.net_per_head == pytest.approx(y.net_per_head, abs=0.5)
            assert x.gain_per_head == pytest.approx(y.gain_per_head, abs=0.5)
            assert x.odds == pytest.approx(y.odds, abs=0.01)
            options += 1
    assert options > 20


def test_curves_and_season_match_the_fit(fitted: MarketFit, region: Region) -> None:
    own, other = fitted.outlook(), outlook_of_region(region)
    for sex, curve in own.curves.items():
        read = other.curves[sex]
        np.testing.assert_array_equal(read.weights_lb, curve.weights_lb)
        near = (curve.weights_lb > curve.low_lb - 50.0) & (curve.weights_lb < curve.high_lb + 50.0)
        np.testing.assert_allclose(read.log_relative[:, near], curve.log_relative[:, near], atol=3e-4)
        np.testing.assert_allclose(read.slope_sd_cwt[near], curve.slope_sd_cwt[near], atol=2e-3)
    np.testing.assert_allclose(other.season_log, own.season_log, atol=1e-4)
    np.testing.assert_allclose(other.season_cov, own.season_cov, atol=0.12 * own.season_cov.max())
    assert other.as_of == own.as_of and other.grades.keys() == own.grades.keys()


def test_the_file_carries_whether_the_records_are_enough(fitted: MarketFit, region: Region) -> None:
    read = outlook_of_region(parse_region(write_region(region)))
    assert read.basis.verdict == fitted.outlook().basis.verdict == fitted.verdict.text() != ""
    assert "Records behind the prices: " in document_text(region_content(region, date(2026, 1, 1)))


def test_what_the_fit_said_of_thin_records_is_kept(records: pd.DataFrame) -> None:
    """A few sales of one autumn: the word on how little they carry stays with the file and its answers."""
    fit = fit_market(records[records["market"] == "Stone Gap"])
    thin = parse_region(write_region(region_of(fit, "Stone Gap", Provenance(date(2025, 10, 1)))))
    assert thin.season.waves == 0 and "jan" in thin.season.unseen
    assert any("too few" in note for note in outlook_of_region(thin).notes)
    assert "too few" in document_text(region_content(thin, date(2025, 10, 2))).replace("\n", " ")
