"""The set of pictures: names that are safe for files and never shared."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from example_comparison import a_comparison, a_group
from example_market import a_season, an_outlook, some_records, some_slides

from slidefit.report.render.pictures import pictures


class AFit:
    """What the gallery asks of a fit."""

    basis = an_outlook().basis

    def slide(self) -> pd.DataFrame:
        return some_slides()

    def season(self) -> pd.DataFrame:
        return a_season()


@pytest.fixture(scope="module")
def made():
    groups = (
        a_group("Heavy/steers"),
        a_group("heavy steers"),
        a_group("$$$"),
        replace(a_group("None"), keep=()),
    )
    outlook = an_outlook()
    return pictures(AFit(), outlook, some_records(outlook, sales=3), a_comparison(*groups))


def test_every_group_that_can_be_kept_has_its_own_picture(made):
    names = {name.removesuffix(".png") for name in made if name.endswith(".png")}
    assert names == {
        "price_by_weight", "slide_by_weight", "season", "gain_heavy_steers", "gain_heavy_steers_2", "gain_3",
    }  # fmt: skip


def test_each_comes_as_png_and_svg(made):
    assert len(made) == 12
    for name, content in made.items():
        assert content.startswith(b"\x89PNG" if name.endswith("png") else b"<?xml")
