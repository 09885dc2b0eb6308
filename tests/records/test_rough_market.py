"""What a rough market pays, only to put unlike calves side by side."""

from __future__ import annotations

import numpy as np
import pandas as pd

from slidefit.records.rough_market import leveled


def pays(weight_lb: float, sex: str = "steer") -> float:
    return float(leveled(np.array([weight_lb]), pd.Series([sex]))[0])


def test_lighter_calves_and_steers_bring_more() -> None:
    """Eight to ten percent a hundredweight for calves: Peel, Oklahoma State University, "Old rules of thumb"."""
    assert pays(550) == 0.0
    assert 0.08 <= pays(450) - pays(550) <= 0.10 + 1e-12
    assert pays(550) > pays(550, "mixed") > pays(550, "heifer") > pays(550, "bull")
    assert pays(550, "unheard of") == pays(550)


def test_beyond_calves_no_weight_says_more() -> None:
    assert pays(150) == pays(200) > pays(201) and pays(1100) == pays(1000) < pays(999)
