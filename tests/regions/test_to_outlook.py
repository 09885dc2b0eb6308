"""A region's file gives the comparison what the fit itself gives."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from slidefit.decision.comparison import compare
from slidefit.decision.plan_reading import parse_plan
from slidefit.market.marketfit import MarketFit, fit_market
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.reading import parse_region
from slidefit.regions.region import Region
from slidefit.regions.to_outlook import outlook_of_region, season_of, year_curve
from slidefit.regions.writing import write_region
from slidefit.show.region_text import region_text

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
    assert "Are the records enough?" in region_text(region, date(2026, 1, 1))


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


def test_what_the_fit_said_of_thin_records_is_kept(records: pd.DataFrame) -> None:
    """A few sales of one autumn: the word on how little they carry stays with the file and its answers."""
    fit = fit_market(records[records["market"] == "Stone Gap"])
    thin = parse_region(write_region(region_of(fit, "Stone Gap", Provenance(date(2025, 10, 1)))))
    assert thin.season.waves == 0 and "jan" in thin.season.unseen
    assert any("too few" in note for note in outlook_of_region(thin).notes)
    assert "too few" in region_text(thin, date(2025, 10, 2)).replace("\n", " ")
