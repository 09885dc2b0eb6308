"""A fit beside the requests, in a process of its own."""

import shutil
import time
from dataclasses import replace

import pytest
from conftest import settings_in
from running import PLAN

from slidefit.decision import comparison
from slidefit.decision.comparison import answer_group, compare
from slidefit.market.saved_fit import load_fit
from slidefit.plan.plan_file import read_plan
from slidefit.report.json_answers import json_of
from slidefit.report.take_home.plan_cells import with_number
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


CHANGES = [
    (("groups", 0, "weight_lb"), 600.0, 2),
    (("groups", 1, "head"), 70, 0),
    (("groups", 2, "bid_cwt"), 350.0, 0),
    (("groups", 0, "weight_lb"), 610.0, 2),
    (("selling", "commission_pct"), 5.0, 0),
]


def test_what_a_group_says_again_is_taken_from_the_store_and_the_answer_is_the_same(filled, monkeypatch):
    outlook, plan = load_fit(filled / "slide.json").outlook(), read_plan(PLAN)
    plan = plan.model_copy(update={"risk": plan.risk.model_copy(update={"draws": 256})})
    desk = Service(settings_in(filled))
    desk.comparison(plan)
    for path, value, again in CHANGES:
        plan, made = with_number(plan, path, value), []
        monkeypatch.setattr(
            comparison, "answer_group", lambda *a, made=made: made.append(1) or answer_group(*a)
        )
        found = desk.comparison(plan)
        assert len(made) == 3 - again, path
        assert json_of(found) == json_of(compare(outlook, plan)), path


def test_a_picture_is_drawn_once_while_fit_and_book_stand(desk):
    drawn = []

    def draw():
        drawn.append(b"picture")
        return drawn[-1]

    for _ in range(2):
        assert desk.picture(("season", "svg", False), draw) == b"picture"
    desk.picture(("season", "svg", True), draw)
    assert len(drawn) == 2
    desk.settings.fit.write_text("another fit")
    desk.picture(("season", "svg", False), draw)
    assert len(drawn) == 3
