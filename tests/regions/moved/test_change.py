"""Old against new by the files alone: verdicts, and in which direction the dollars go."""

from __future__ import annotations

import numpy as np
import pytest

from slidefit.regions.moved.change import Changes, changes
from slidefit.regions.region import GradeTable, Region
from slidefit.regions.region_outlook import at_price, region_slides, shifted


def steepened(region: Region, points: float) -> Region:
    table = region.sexes()["steer"]
    return region.model_copy(update={"steer": shifted(table, [points] * len(table.slide))})


def judged(old: Region, new: Region, shared: float) -> Changes:
    return changes(old, new, (shared * new.source.lots, new.source.lots))


def test_the_same_file_has_not_moved(shipped: Region) -> None:
    for shared in (0.0, 0.5, 1.0):
        found = judged(shipped, shipped, shared)
        assert len(found.rows) > 60 and not found.moved
        assert all(change.head == pytest.approx(0.0, abs=1e-9) for change in found.rows)
        assert all(block.p > 0.99 and not block.moved for block in found.blocks)
    assert all(c.verdict == "steady" for c in judged(shipped, shipped, 1.0).rows if c.kind == "slide")


def test_every_kind_of_number_is_judged(shipped: Region) -> None:
    kinds = {change.kind for change in judged(shipped, shipped, 1.0).rows}
    assert kinds == {
        "slide", "discount", "slide season", "slide level", "discount level", "grade", "grade slide", "season",
        "head", "noise", "spread", "price",
    }  # fmt: skip


def test_a_steeper_slide_costs_the_seller_what_the_check_loses(shipped: Region) -> None:
    """By hand: the check of a 600-lb steer under the new slide less that under the old, from 500 lb."""
    new = steepened(shipped, 2.0)
    found = judged(shipped, new, 0.9).rows
    change = next(c for c in found if (c.kind, c.sex, c.at) == ("slide", "steer", 550.0))
    row = region_slides(new, sexes=["steer"], weights_lb=[550.0]).iloc[0]
    check_new = 6.0 * row["price_cwt"] * (1.0 - change.new / 100.0)
    check_old = 6.0 * row["price_cwt"] * (1.0 - change.old / 100.0)
    assert change.head == pytest.approx(check_new - check_old, abs=0.01)
    assert change.moved and change.head < 0 and change.head_low < change.head < change.head_high < 0
    assert not any(c.moved for c in found if c.kind == "season" or c.sex == "heifer")


def test_a_grade_whose_discount_doubles_is_found(shipped: Region) -> None:
    """By hand: 550 lb at the file's price, the standard's check times the fall of the grade's share of it."""
    name = next(g for g in shipped.grades if g != shipped.standard.grade)
    before = shipped.grades[name].model_copy(update={"discount_se": 0.4})
    after = GradeTable(discount_pct=before.discount_pct + 7.0, slide_more=before.slide_more, discount_se=0.4)
    old, new = (shipped.model_copy(update={"grades": {**shipped.grades, name: g}}) for g in (before, after))
    change = next(c for c in judged(old, new, 0.5).rows if (c.kind, c.sex) == ("grade", name))
    by_hand = 5.5 * new.price.standard_cwt * -0.07
    assert change.verdict == "moved" and change.head == pytest.approx(by_hand, rel=0.06)
    blind = [g.model_copy(update={"discount_se": 0.0}) for g in (before, before)]
    blind[1] = blind[1].model_copy(update={"discount_pct": before.discount_pct + 1.5})
    old, new = (shipped.model_copy(update={"grades": {**shipped.grades, name: g}}) for g in blind)
    assert (
        next(c for c in judged(old, new, 0.0).rows if (c.kind, c.sex) == ("grade", name)).verdict
        == "can't tell"
    )


def test_carrying_a_slide_to_another_price_adds_its_error(shipped: Region) -> None:
    """c = rise x slide_more_se: the interval of a carried slide is hypot of the plain one and that, by hand."""
    steer = shipped.sexes()["steer"].model_copy(update={"slide_more_se": 0.0, "slide_more": (0.5, 0.2)})
    unsure = steer.model_copy(update={"slide_more_se": 0.6})
    lower = shipped.price.standard_cwt / 1.1
    low_price = shipped.price.model_copy(update={"standard_cwt": lower})
    reach = []
    for table in (steer, unsure):
        old = shipped.model_copy(update={"steer": table, "price": low_price})
        found = judged(old, shipped, 0.9).rows
        change = next(c for c in found if (c.kind, c.sex, c.at) == ("slide", "steer", 550.0))
        reach.append((change.head_high - change.head_low) / 2.0)
    row = region_slides(shipped, sexes=["steer"], weights_lb=[550.0]).iloc[0]
    check = 6.0 * row["price_cwt"] * (1.0 - row["percent_per_cwt"] / 100.0)
    added = 2.0423 * check * 0.006
    assert reach[1] == pytest.approx(np.hypot(reach[0], added), rel=0.01)


def test_a_level_term_that_one_file_lacks_has_not_moved(shipped: Region) -> None:
    """An old file of too short records tells none; a new one that tells a large one is no move by the files."""
    told = {
        sex: table.model_copy(update={"slide_more": (2.5, 2.0), "slide_more_se": 0.1, "discount_more": 2.5})
        for sex, table in shipped.sexes().items()
    }
    blank = {
        sex: table.model_copy(update={"slide_more": (0.0, 0.0), "slide_more_se": 0.0, "discount_more": 0.0})
        for sex, table in shipped.sexes().items()
    }
    before, after, other = (
        shipped.model_copy(update=tables)
        for tables in (
            blank,
            told,
            {s: t.model_copy(update={"slide_more": (0.1, 0.1)}) for s, t in told.items()},
        )
    )
    for old, new, moved in ((before, after, False), (after, before, False), (other, after, True)):
        levels = [c for c in judged(old, new, 0.9).rows if c.kind == "slide level"]
        assert len(levels) >= 4 and any(c.verdict == "moved" for c in levels) is moved


def test_a_discount_carried_to_another_price_is_less_sure(shipped: Region) -> None:
    """rise x .3 points more error, as the slide's; by hand at prices ten percent lower."""
    lower = shipped.price.model_copy(update={"standard_cwt": shipped.price.standard_cwt / 1.1})
    reach = [
        (c.head_high - c.head_low) / 2.0
        for old in (shipped, shipped.model_copy(update={"price": lower}))
        for c in judged(old, shipped, 0.9).rows
        if (c.kind, c.sex) == ("discount", "heifer")
    ]
    table = shipped.sexes()["heifer"]
    share = 1.0 - table.discount_pct / 100.0
    added = 2.0423 * table.discount_at_lb / 100.0 * shipped.price.standard_cwt * share * 0.003
    assert reach[1] == pytest.approx(np.hypot(reach[0], added), rel=0.02)


def test_what_the_price_level_explains_is_no_move(shipped: Region) -> None:
    """A file at prices ten percent lower, with the slide that its own rule gives there."""
    lower = shipped.price.standard_cwt / 1.1
    old = at_price(shipped, lower)
    old = old.model_copy(update={"price": shipped.price.model_copy(update={"standard_cwt": lower})})
    found = judged(old, shipped, 0.9).rows
    slides = [c for c in found if c.kind == "slide"]
    assert slides and all(c.old < c.new for c in slides)
    assert all(abs(c.old_now - c.new) < 0.05 and not c.moved for c in slides)
    price = next(c for c in found if c.kind == "price")
    assert price.moved is None and price.head == pytest.approx(5.5 * (shipped.price.standard_cwt - lower))
