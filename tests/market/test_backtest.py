"""The backtest: only what was known then, against what came.

Error, bias, coverage and skill of past forecasts, on forecasts written by hand."""

import pickle
from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

import slidefit.market.backtest as module
from slidefit.errors import FitError
from slidefit.market.backtest import backtest, brought, month_day
from slidefit.market.market_fit import fit_market
from slidefit.report.json_answers import json_of
from tests.market.coded import sorted_lots
from tests.market.simulate import Truth, simulate

CALM = Truth(walk_sd_month=0.01, trend_year=0.0, sale_sd=0.005)


@pytest.fixture(scope="module")
def records():
    return simulate(3, truth=CALM, sales=76, lots=10, days_between=14).records


@pytest.fixture(scope="module")
def tested(records):
    return backtest(records)


def test_the_model_is_chosen_once_a_year_on_what_was_known_at_its_first_month(records, monkeypatch):
    asked = {}

    def noted(told, each):
        month, model = each
        asked[month] = model
        return SimpleNamespace(month=month), model or f"of {month}"

    monkeypatch.setattr(module, "_replayed", noted)
    monkeypatch.setattr(module, "_judge", lambda origins, *_: origins)
    months = [origin.month for origin in backtest(records, first_origin_months=6, jobs=1)]
    assert len(months) > 25 and months == sorted(asked)
    for place, month in enumerate(months):
        first = months[place // 12 * 12]
        assert asked[month] == (None if month == first else f"of {first}")


def test_every_origin_looks_nine_months_ahead(tested):
    assert tested.forecast.shape == tested.actual.shape == tested.sd.shape == (len(tested.origins), 9, 3)
    assert (np.isfinite(tested.forecast) == np.isfinite(tested.actual)).all() and np.nanmin(tested.sd) > 0
    assert np.isnan(tested.actual[-1, 1:]).all()
    assert [o.month for o in tested.origins] == sorted(o.month for o in tested.origins)


def test_every_sale_of_a_month_is_forecast_on_its_own_day(records, tested):
    origin, index = tested.origins[5], tested.index
    month = index.sale_day.astype("datetime64[D]").astype("datetime64[M]").astype(int)
    mine = np.flatnonzero(month == origin.month + 3)
    days = index.sale_day[mine].astype("datetime64[D]").tolist()
    assert 2 <= len(mine) <= 3
    assert tested.forecast[5, 2, : len(mine)] == pytest.approx(origin.outlook.log_index(days))
    assert tested.actual[5, 2, : len(mine)] == pytest.approx(index.sale_log[mine])
    lots = index.month_var[origin.month + 3 - index.month[0]] * len(mine) - index.sale_sd**2
    own = lots + fit_market(records).season_fit.sale_sd ** 2
    spread = np.sqrt(np.diag(origin.outlook.index_cov(days)) + own)
    assert tested.sd[5, 2, : len(mine)] == pytest.approx(spread)


def test_sharing_the_work_changes_nothing(records, tested):
    told = []
    shared = backtest(records, jobs=2, progress=told.append)
    for name in ("forecast", "sd", "actual"):
        np.testing.assert_allclose(getattr(shared, name), getattr(tested, name), rtol=1e-12)
    assert [o.month for o in shared.origins] == [o.month for o in tested.origins]
    assert told[-1] == f"replayed up to {month_day(tested.origins[-1].month):%Y-%m}"
    for sent in (sorted_lots(records), tested.origins[0]):  # what can't be sent would be done by one process
        assert pickle.dumps(sent)


def test_the_range_widens_with_the_horizon(tested):
    assert (np.diff(np.nanmean(tested.sd[:, :8], axis=(0, 2))) > 0).all()


def test_nothing_that_came_later_is_used(records, tested):
    """Prices after a day are raised by half: every forecast made up to that day stays as it was, to the bit."""
    day = tested.origins[8].outlook.as_of
    changed = records.copy()
    changed.loc[changed["sale_date"].dt.date > day, "price_cwt"] *= 1.5
    again = backtest(changed)
    same = [o.outlook.as_of <= day for o in again.origins]
    assert sum(same) >= 9
    assert np.array_equal(again.forecast[same], tested.forecast[same], equal_nan=True)
    assert not np.array_equal(again.forecast, tested.forecast, equal_nan=True)


def test_a_calm_market_is_forecast_within_its_noise(tested):
    error = tested.actual[:, 0] - tested.forecast[:, 0]
    assert np.sqrt(np.nanmean(error**2)) < 0.04
    assert abs(np.nanmean(error)) < 0.02


def test_simple_forecasts_are_what_they_say(tested):
    origin = tested.origins[0]
    place = origin.month - int(tested.index.month[0])
    assert tested.no_change[0] == pytest.approx(np.full(9, tested.index.month_log[place]))
    assert tested.last_year[0] == pytest.approx(tested.index.month_log[place - 11 : place - 2], nan_ok=True)


def test_one_weaning_month_keeps_its_origins_only(tested):
    october = tested.of_month(10)
    assert {o.month % 12 for o in october.origins} == {9}
    assert len(october.forecast) == len(october.origins) < len(tested.origins)
    assert tested.of_month(None) is tested


def test_what_came_is_read_at_any_weight(tested):
    day = date(2020, 1, 15)
    log = brought(tested, "steer", np.array([450.0, 550.0, 650.0]), day)
    assert log[0] > log[1] > log[2]
    near = np.abs(tested.index.sale_day - (day - date(1970, 1, 1)).days) <= 23
    assert tested.index.sale_log[near].min() - 0.01 <= log[1] <= tested.index.sale_log[near].max() + 0.01
    assert np.isnan(brought(tested, "steer", np.array([550.0]), date(2010, 1, 1))).all()


def test_until_then_takes_no_later_sale(tested):
    last = int(tested.index.sale_day[-30])
    day = date.fromordinal(date(1970, 1, 1).toordinal() + last)
    raised = replace(
        tested,
        index=replace(tested.index, sale_log=tested.index.sale_log + 0.5 * (tested.index.sale_day > last)),
    )
    weight = np.array([550.0])
    assert brought(raised, "steer", weight, day, until_then=True) == pytest.approx(
        brought(tested, "steer", weight, day, until_then=True)
    )
    assert brought(raised, "steer", weight, day)[0] > brought(tested, "steer", weight, day)[0]


def test_faults_are_told(records, tested):
    with pytest.raises(FitError, match="a backtest needs 24"):
        backtest(records[records["sale_date"] < "2019-08-01"])
    with pytest.raises(FitError, match="no slide for sex 'bull'"):
        brought(tested, "bull", np.array([550.0]), date(2020, 1, 15))
    only = replace(tested, origins=tested.of_month(10).origins, forecast=tested.of_month(10).forecast)
    with pytest.raises(FitError, match="starts in month 5"):
        only.of_month(5)


def test_the_document_is_plain(tested):
    import json

    document = json_of(tested)
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert [row["months_ahead"] for row in document["horizons"]] == list(range(1, 10))
    assert document["origins"] == len(tested.origins) and document["notes"]
