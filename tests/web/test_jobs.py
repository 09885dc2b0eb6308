"""Fits in a process of their own: they tell their steps, can be stopped, leave the book free."""

import shutil
import time
from dataclasses import replace

import pytest
from conftest import settings_in

from slidefit.market.saved_fit import load_fit
from slidefit.web import jobs
from slidefit.web.jobs import BackgroundFit
from slidefit.web.service import Service
from slidefit.web.workers import Limits


@pytest.fixture
def desk(filled, tmp_path):
    shutil.copy(filled / "sales.duckdb", tmp_path / "sales.duckdb")
    return Service(replace(settings_in(tmp_path), fit=tmp_path / "slide.json"))


def wait(fitting):
    until = time.monotonic() + 60.0
    while fitting.progress.state == "running" and time.monotonic() < until:
        time.sleep(0.02)
    return fitting.progress


def test_a_fit_runs_apart_tells_its_steps_and_leaves_the_book_free(desk, filled, monkeypatch):
    steps = []
    tell = BackgroundFit._tell

    def watched(self, step):
        steps.append((step, desk.book_lock.locked()))
        tell(self, step)

    monkeypatch.setattr(BackgroundFit, "_tell", watched)
    fitting = BackgroundFit(desk.settings)
    assert fitting.start([], None, None)
    assert not fitting.start([], None, None)
    assert wait(fitting).state == "done"
    assert ("choosing the slide", False) in steps and ("fitting the slide", False) in steps
    assert load_fit(desk.settings.fit).basis == load_fit(filled / "slide.json").basis


def test_a_fit_that_takes_too_long_is_stopped_and_nothing_is_written(desk, monkeypatch):
    monkeypatch.setattr(jobs, "FITTING", Limits(0.1, 8 << 30))
    fitting = BackgroundFit(desk.settings)
    fitting.start([], None, None)
    assert wait(fitting).state == "failed" and "took longer" in fitting.progress.fault
    assert not desk.settings.fit.exists()


def test_a_market_that_is_not_there_is_said(desk):
    fitting = BackgroundFit(desk.settings)
    fitting.start(["nowhere"], None, None)
    done = wait(fitting)
    assert done.state == "failed" and "no record is of a market named like nowhere" in done.fault
    assert not desk.book_lock.locked() and not desk.settings.fit.exists()
