"""Old against new: what moved, what did not, and in which direction the dollars go."""

from __future__ import annotations

import numpy as np
import pytest

from slidefit.regions.change import change_error, changes, shared_part
from slidefit.regions.region import Region
from slidefit.regions.region_outlook import at_price, region_slides, shifted


def steepened(region: Region, points: float) -> Region:
    table = region.sexes()["steer"]
    return region.model_copy(update={"steer": shifted(table, [points] * len(table.slide))})


def test_the_same_file_has_not_moved(shipped: Region) -> None:
    for shared in (0.0, 0.5, 1.0):
        found = changes(shipped, shipped, shared)
        assert len(found) > 20
        assert not any(change.moved for change in found)
        assert all(change.head == pytest.approx(0.0, abs=1e-9) for change in found)


def test_a_steeper_slide_costs_the_seller_what_the_check_loses(shipped: Region) -> None:
    """By hand: the check of a 600-lb steer under the new slide less that under the old, from 500 lb."""
    new = steepened(shipped, 2.0)
    change = next(c for c in changes(shipped, new, 0.8) if (c.kind, c.sex, c.at) == ("slide", "steer", 550.0))
    row = region_slides(new, sexes=["steer"], weights_lb=[550.0]).iloc[0]
    check_new = 6.0 * row["price_cwt"] * (1.0 - change.new / 100.0)
    check_old = 6.0 * row["price_cwt"] * (1.0 - change.old / 100.0)
    assert change.head == pytest.approx(check_new - check_old, abs=0.01)
    assert change.moved and change.head < 0 and change.head_low < change.head < change.head_high < 0
    untouched = [c for c in changes(shipped, new, 0.8) if c.kind == "season" or c.sex == "heifer"]
    assert not any(c.moved for c in untouched)


def test_more_shared_records_make_a_change_surer() -> None:
    assert change_error(1.0, 1.0, 0.0) == pytest.approx(np.sqrt(2.0))
    assert change_error(1.0, 1.0, 1.0) == 0.0
    assert change_error(1.0, 0.5, 0.5) < change_error(1.0, 0.5, 0.0)
    assert shared_part(0.0, 10.0, 5.0) == 0.0 and shared_part(5.0, 5.0, 50.0) == 1.0


def test_what_the_price_level_explains_is_no_move(shipped: Region) -> None:
    """A file at prices ten percent lower, with the slide that its own rule gives there."""
    lower = shipped.price.standard_cwt / 1.1
    old = at_price(shipped, lower)
    old = old.model_copy(update={"price": shipped.price.model_copy(update={"standard_cwt": lower})})
    found = changes(old, shipped, 0.9)
    slides = [c for c in found if c.kind == "slide"]
    assert slides and all(c.old < c.new for c in slides)
    assert all(abs(c.old_now - c.new) < 0.05 and not c.moved for c in slides)
    price = next(c for c in found if c.kind == "price")
    assert price.moved is None and price.head == pytest.approx(5.5 * (shipped.price.standard_cwt - lower))
