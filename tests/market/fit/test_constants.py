"""Constants that follow from a formula follow from it, and limits stand in their order."""

from __future__ import annotations

import math
from statistics import NormalDist

import pytest

from slidefit.market.fit import constants as c

NORMAL = NormalDist()


def test_hubers_constant_is_that_of_95_percent_efficiency() -> None:
    """Huber and Ronchetti (2009), eq. 4.53: E[psi']^2 / E[psi^2] under the standard normal."""
    k = c.HUBER_K
    inside = 2 * NORMAL.cdf(k) - 1
    squared = inside - 2 * k * NORMAL.pdf(k) + 2 * k**2 * (1 - NORMAL.cdf(k))
    assert inside**2 / squared == pytest.approx(0.95, abs=0.0005)
    assert pytest.approx(NORMAL.inv_cdf(0.75), abs=1e-12) == c.MAD_TO_SD


def test_what_the_notes_say_of_a_number_is_so() -> None:
    assert pytest.approx((1 + 0.84) / (1 - 0.84)) == c.STRAY_WEEKS
    assert 100 * 2 * (1 - NORMAL.cdf(c.JUMP_ERRORS)) < 1  # a jump by luck in a hundred looks
    assert math.exp(c.FURTHEST_LEVEL) - 1 == pytest.approx(2 / 3, abs=0.03)  # prices by two thirds higher
    assert 0.08 / math.sqrt(c.GRADE_ROWS) < 0.01 and 0.08 / math.sqrt(c.GRADE_YEAR_LOTS) < 0.013
    assert 1 / math.sqrt(2 * c.DRIFT_MIN_SALES) < 1 / 8
    for share in (
        0.10,
        -c.USUAL_SLIDE["steer"],
    ):  # 8 to 12 percent from 450 to 650 lb is two spreads either way
        assert share - 2 * c.USUAL_SLIDE_SD < 0.08 and share + 2 * c.USUAL_SLIDE_SD > 0.12


def test_more_freedom_takes_more_lots() -> None:
    assert (
        c.LENT_SEX_ROWS < c.SEX_ROWS < c.SEX_QUADRATIC_ROWS < c.SEX_SPLINE_ROWS <= c.THIN_ROWS < c.SPLINE_ROWS
    )
    assert c.SPLINE_MONTHS < c.LEVEL_MONTHS and c.THIN_SALES < c.LEVEL_MIN_SALES
    assert c.ROBUST_SETTLED_LOG < c.MATERIAL_LOG and c.FIRST_LOT_SD < c.FIRST_CALF_SD
