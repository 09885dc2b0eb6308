"""Regions side by side: told apart only where their intervals leave no room for chance."""

from __future__ import annotations

import pytest

from slidefit.regions.compared import compared
from slidefit.regions.region import Region
from slidefit.regions.region_outlook import region_slides, shifted


def test_alike_regions_are_not_ranked_and_a_steeper_one_is_told_apart(shipped: Region) -> None:
    alike = compared([shipped, shipped.model_copy(update={"name": "Other"})])
    assert {number.kind for number in alike} == {"level", "slide", "discount", "season"}
    assert not any(number.apart for number in alike)
    assert all(number.p == pytest.approx(1.0) for number in alike)
    steer = shipped.sexes()["steer"]
    steeper = shipped.model_copy(update={"steer": shifted(steer, [4.0] * len(steer.slide))})
    apart = [n for n in compared([shipped, steeper]) if n.apart]
    assert {(n.kind, n.sex) for n in apart} == {("slide", "steer")}


def test_a_slide_is_the_one_that_the_file_tells(shipped: Region) -> None:
    row = region_slides(shipped, sexes=["heifer"], weights_lb=[650.0]).iloc[0]
    found = next(
        n for n in compared([shipped, shipped]) if (n.kind, n.sex, n.at) == ("slide", "heifer", 650.0)
    )
    value, error = found.values[0], found.errors[0]
    assert value == pytest.approx(row["percent_per_cwt"], abs=0.02)
    assert error is not None
    assert error == pytest.approx((row["percent_high"] - row["percent_low"]) / 2 / 1.96, rel=0.01)


def test_a_region_without_a_sex_leaves_its_place_empty(shipped: Region) -> None:
    only_steers = shipped.model_copy(update={"heifer": None})
    found = [n for n in compared([shipped, only_steers]) if n.sex == "heifer"]
    assert found and all(n.values[1] is None and n.p == 1.0 and not n.apart for n in found)
