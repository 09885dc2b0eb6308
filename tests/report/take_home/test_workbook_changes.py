"""What the live workbook says would change the answer, recalculated in LibreOffice, holds when it is typed."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from slidefit.decision.comparison import compare
from slidefit.market.outlook import Outlook
from slidefit.plan.plan import Plan
from slidefit.report.take_home.plan_cells import with_number


def evens(book: Any, calves: str) -> dict[str, tuple[Any, Any]]:
    rows = book["Breakevens"].iter_rows(min_row=2, values_only=True)
    return {row[1]: (row[2], row[3]) for row in rows if row[0] == calves}


def budget_gain(outlook: Outlook, plan: Plan, group: int, day: Any) -> float:
    (option,) = [o for o in compare(outlook, plan).groups[group].keep if o.sale_date == day]
    return option.budget_gain_per_head


@pytest.mark.office
def test_breakevens_hold_when_they_are_typed(outlook: Outlook, calculated: dict[str, Any]) -> None:
    """Gain, cost and forage come out even in the plan; the days lie between the sale days around them."""
    for name, calves, group in (("ration", "Heifers: lot", 1), ("pasture", "Heifers: grass", 0)):
        plan, book = calculated[name]
        found, program = evens(book, calves), plan.programs[0]
        keep = compare(outlook, plan).groups[group].keep
        shown = max(keep, key=lambda option: option.gain_per_head)
        added = found["Daily gain added, lb"][1]
        cost = found["Keeping cost, $ per head per day"]
        tries = [
            (("programs", 0, "gain_lb_day"), program.gain_lb_day + added),
            (("programs", 0, "yardage_head_day"), program.yardage_head_day + cost[1] - cost[0]),
        ]
        if program.pasture is not None:
            forage = found["Forage grown, lb dry matter an acre"]
            assert forage[0] == program.pasture.forage_lb_acre
            tries.append((("programs", 0, "pasture", "forage_lb_acre"), forage[1]))
        for path, value in tries:
            moved = with_number(plan, path, value)
            assert budget_gain(outlook, moved, group, shown.sale_date) == pytest.approx(0.0, abs=0.05), path
        days = found["Days kept, approximate"][1]
        gains = {option.days: option.budget_gain_per_head for option in keep}
        signs = [(a, b) for a, b in pairwise(sorted(gains)) if gains[a] * gains[b] < 0]
        assert any(a < days < b for a, b in signs) if signs else days == "nowhere"


@pytest.mark.office
def test_the_slides_breakeven_is_where_the_slide_of_the_comparison_is(
    outlook: Outlook, calculated: dict[str, Any]
) -> None:
    """Without any spread the expected gain is the budget's, and both slides are one."""
    plan, book = calculated["ration"]
    still = plan.model_copy(update={"risk": plan.risk.model_copy(update={"vary": (), "draws": 200})})
    for g, group in enumerate(compare(outlook, still).groups):
        found = evens(book, f"{plan.groups[g].name}: lot")["Slide, percent per cwt"]
        shown = max(compare(outlook, plan).groups[g].keep, key=lambda option: option.gain_per_head)
        (option,) = [o for o in group.keep if o.sale_date == shown.sale_date]
        (mine,) = [each for each in option.breakevens if each.name == "slide_pct_cwt"]
        assert found[0] == pytest.approx(mine.planned, abs=0.01)
        assert found[1] == pytest.approx(mine.value, abs=0.02)


@pytest.mark.office
def test_the_two_way_table_is_there_for_every_group(outlook: Outlook, calculated: dict[str, Any]) -> None:
    plan, book = calculated["ration"]
    rows = list(book["Two ways"].iter_rows(values_only=True))
    tops = [k for k, row in enumerate(rows) if isinstance(row[0], str) and ": gain a head" in row[0]]
    assert len(tops) == len(plan.groups)
    for g, top in enumerate(tops):
        shown = max(compare(outlook, plan).groups[g].keep, key=lambda option: option.gain_per_head)
        assert rows[top + 1 + 3][3] == pytest.approx(shown.budget_gain_per_head, abs=0.005)
        assert [row[0] for row in rows[top + 2 : top + 7]] == pytest.approx([-0.4, -0.2, 0.0, 0.2, 0.4])
