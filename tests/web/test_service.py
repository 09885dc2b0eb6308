"""A fit beside the requests, in a process of its own."""

import shutil
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
from slidefit.web.service import Service


@pytest.fixture
def desk(filled, tmp_path):
    shutil.copy(filled / "sales.duckdb", tmp_path / "sales.duckdb")
    return Service(replace(settings_in(tmp_path), fit=tmp_path / "slide.json"))


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
