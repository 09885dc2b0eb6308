"""A fit beside the requests: the book is held only while it is read."""

import shutil
import time
from dataclasses import replace

import pytest
from conftest import settings_in

from slidefit.market.saved_fit import load_fit
from slidefit.web import service as fitting_module
from slidefit.web.service import BackgroundFit, Service


@pytest.fixture
def desk(filled, tmp_path):
    shutil.copy(filled / "sales.duckdb", tmp_path / "sales.duckdb")
    return Service(replace(settings_in(tmp_path), fit=tmp_path / "slide.json"))


def wait(fitting):
    until = time.monotonic() + 60.0
    while fitting.progress.state == "running" and time.monotonic() < until:
        time.sleep(0.02)
    return fitting.progress


def test_a_fit_reads_the_book_under_its_lock_and_works_without(desk, filled, monkeypatch):
    fit_market = fitting_module.fit_market
    held = {}

    def watched(table, progress):
        def tell(word):
            held[word] = desk.book_lock.locked()
            progress(word)

        with table.opened():
            held["reading"] = desk.book_lock.locked()
        return fit_market(table, progress=tell)

    monkeypatch.setattr(fitting_module, "fit_market", watched)
    fitting = BackgroundFit(desk)
    assert fitting.start([], None, None)
    assert not fitting.start([], None, None)
    assert wait(fitting).state == "done"
    assert held["reading"] and not held["choosing the slide"] and not held["fitting the slide"]
    assert load_fit(desk.settings.fit).basis == load_fit(filled / "slide.json").basis


def test_a_market_that_is_not_there_is_said(desk):
    fitting = BackgroundFit(desk)
    fitting.start(["nowhere"], None, None)
    done = wait(fitting)
    assert done.state == "failed" and "no record is of a market named like nowhere" in done.fault
    assert not desk.book_lock.locked() and not desk.settings.fit.exists()
