"""The quick question in the browser gives the server's numbers; odds and prices are read as Python reads them."""

from __future__ import annotations

import random
import shutil
from typing import Any

import numpy as np
import pytest
from scipy import stats

from slidefit.decision.quick import grid_of, quick_answer
from slidefit.report.take_home.scripts import quick_script, script

pytestmark = pytest.mark.browser
NUMBERS = (
    "net_now",
    "net_later",
    "gain_per_head",
    "gain_per_acre",
    "value_of_gain_per_lb",
    "cost_of_gain_per_lb",
)
TYPED = {
    "540 lb": 540, "1,9": 1.9, "$365": 365, "4%": 4, "1,250.5": 1250.5, "-3": -3, "\u22125": -5, "1.9 lb a day": 1.9,
    "1.9 lb/day": 1.9, "$1.55/head": 1.55, ".5": 0.5,
}  # fmt: skip


def questions(count: int) -> list[dict[str, float]]:
    rng = random.Random(3)
    out = []
    for k in range(count):
        asked = {
            "weight_lb": rng.uniform(300, 700),
            "price_cwt": rng.uniform(200, 450),
            "days": rng.randint(60, 250),
        }
        asked |= {"gain_lb_day": rng.uniform(0.5, 3)} if k % 2 else {"to_weight_lb": asked["weight_lb"] + 120}
        asked |= {"later_price_cwt": rng.uniform(200, 400)} if k % 3 else {"slide_pct": rng.uniform(2, 15)}
        if k % 4 == 0:
            asked |= {
                "cost_head_day": 1.2,
                "death_loss_pct": 2,
                "shrink_pct": 3,
                "commission_pct": 3,
                "interest_pct": 8,
            }
        pasture = {"acre_cost": 100, "forage_lb_acre": 3000, "eaten_pct": 40}
        if k % 4 == 1:
            asked |= {**pasture, "intake_pct": 2.5}
        if k % 4 == 2:
            asked |= {**pasture, "intake_lb_day": 15}
        out.append(asked)
    return out


@pytest.fixture(scope="module")
def run() -> Any:
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium")
    assert found, "the browser tests need chromium: apt-get install -y chromium"
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        page = browser.new_page()
        yield lambda source, given=None: page.evaluate(f"given => {{ {source} }}", given)
        browser.close()


def test_the_page_and_the_server_say_the_same_to_a_hair(run: Any) -> None:
    asked = questions(24)
    table = "quick.grid(q, 'price_cwt', [250, 300], 'days', [60, 100])"
    source = f"{quick_script()}; return given.map(q => [quick.answer(q), {table}]);"
    for question, (told, grid) in zip(asked, run(source, asked), strict=True):
        answer = quick_answer(question)
        for name in NUMBERS:
            assert told[name] == (
                None if getattr(answer, name) is None else pytest.approx(getattr(answer, name), abs=1e-9)
            )
        for name, value in answer.breakeven.items():
            assert told["breakeven"][name] == (None if value is None else pytest.approx(value, abs=1e-8))
        expected = grid_of(question, "price_cwt", [250, 300], "days", [60, 100]).gains
        assert np.asarray(grid) == pytest.approx(np.asarray(expected), abs=1e-9)


def test_numbers_are_taken_as_people_type_them(run: Any) -> None:
    source = f"{quick_script()}; return given.map(quick.number);"
    assert run(source, list(TYPED)) == list(TYPED.values())
    assert run(
        f"{quick_script()}; return given.every(text => isNaN(quick.number(text)));", ["x", "", "2.5.1"]
    )


def test_a_question_that_is_not_whole_is_told_field_by_field(run: Any) -> None:
    source = f"{quick_script()}; return Object.keys(quick.faults(given)).sort();"
    assert run(source, {"weight_lb": 56, "price_cwt": 300, "days": 90, "acre_cost": 100}) == sorted(
        ["weight_lb", "gain_lb_day", "later_price_cwt", "forage_lb_acre", "eaten_pct", "intake_pct"]
    )


def test_points_normals_and_deaths_against_scipy(run: Any) -> None:
    shares = [1e-8, 1e-4, 0.01, 0.1, 0.3, 0.5, 0.7, 0.95, 0.999]
    dead = "odds.deathShares(61, .02, 0, u[0]), odds.deathShares(61, .02, .015, u[1])"
    made = f"const u = odds.points(3, 4096, 7); const rows = [given.map(odds.normalAt), {dead}, u[2]];"
    source = f"{script('odds.js')}; {made} return rows.map(row => Array.from(row));"
    normals, plain, varied, even = run(source, shares)
    assert np.asarray(normals) == pytest.approx(stats.norm.ppf(shares), abs=2e-6)
    assert (np.mean(plain), np.std(plain)) == pytest.approx((0.02, np.sqrt(0.02 * 0.98 / 61)), abs=3e-4)
    total = 0.02 * 0.98 / 0.015**2 - 1
    wide = stats.betabinom(61, 0.02 * total, 0.98 * total).std() / 61
    assert (np.mean(varied), np.std(varied)) == pytest.approx((0.02, wide), abs=4e-4)
    assert (np.mean(even), np.std(even)) == pytest.approx((0.5, 12**-0.5), abs=1e-3)


def test_a_set_of_gains_is_summed_up(run: Any) -> None:
    gains = list(np.random.default_rng(1).normal(20.0, 100.0, 4000))
    told = run(f"{script('odds.js')}; return odds.spread(given, 50);", gains)
    assert told["odds"] == pytest.approx(np.mean(np.asarray(gains) > 0))
    assert told["odds_big_loss"] == pytest.approx(np.mean(np.asarray(gains) < -50))
    assert [told["p10"], told["p50"], told["p90"]] == pytest.approx(np.percentile(gains, [10, 50, 90]))
    assert told["worst10_mean"] == pytest.approx(np.mean(sorted(gains)[:400]))
