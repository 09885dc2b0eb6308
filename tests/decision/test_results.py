"""What an answer says of itself."""

from __future__ import annotations

from datetime import date

import pytest

from slidefit.decision.results import NOW_DAYS, SELL_NOW, Best, Breakeven, DefaultUsed, Deferred, SellNow


def test_breakevens_are_worked_out_once_and_only_when_looked_at() -> None:
    made = []

    def make() -> tuple[Breakeven, ...]:
        made.append(1)
        return (Breakeven("days", 41.0, 90.0),)

    found = Deferred(make)
    assert not made
    assert len(found) == 1 and found[0].value == 41.0 and [each.name for each in found] == ["days"]
    assert found == (Breakeven("days", 41.0, 90.0),) and found != () and hash(found) == hash(tuple(found))
    assert made == [1]


@pytest.mark.parametrize(
    ("ahead", "words"), [(0, SELL_NOW), (NOW_DAYS, SELL_NOW), (NOW_DAYS + 1, "sell at weaning")]
)
def test_a_weaning_over_two_weeks_away_is_not_now(ahead: int, words: str) -> None:
    now = SellNow(date(2026, 10, 14), 520.0, 504.4, 371.0, False, 0.0, 1800.0, 9e4, 1700.0, 1900.0, (), ahead)
    assert now.words == words


def test_selling_now_is_no_program() -> None:
    best = Best(SELL_NOW, date(2026, 10, 14), 0.0, 0.0, None, None, None, False, False)
    kept = Best("yard", date(2027, 1, 15), 40.0, 2000.0, 0.8, SELL_NOW, 0.8, False, False, "Keep")
    assert (best.program, best.sale_month) == (None, "2026-10")
    assert (kept.program, kept.sale_month) == ("yard", "2027-01")
    used = DefaultUsed("programs", ("gain_sd_lb_day", "death_loss_pct"), "2", "percent", "Deaths.", "yard")
    assert used.field == "programs: gain_sd_lb_day, death_loss_pct"
