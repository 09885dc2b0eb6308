"""A grade's residuals by crop year: the regression within sales, from sums over any chunks."""

import numpy as np
import pytest

from slidefit.market.grade_years import all_grade_years, grade_years


@pytest.fixture(scope="module")
def rows():
    rng = np.random.default_rng(4)
    sale = np.repeat(np.arange(30), rng.integers(1, 9, 30))
    place = rng.integers(0, 3, len(sale))
    return place, rng.uniform(0.5, 2.0, len(sale)), rng.normal(size=len(sale)) - 0.3 * (place == 2), sale


YEAR = np.repeat([2020, 2021, 2023], 10)


def test_the_shift_is_the_regression_on_the_grade_within_sales(rows):
    place, weight, error, sale = rows
    sums = grade_years(place, YEAR, weight, error, sale, 3)
    assert sums.year.tolist() == [2020, 2021, 2023] and sums.lots.sum() == len(sale)
    for row, year in enumerate(sums.year):
        mine = YEAR[sale] == year
        z = (place == 2).astype(float)
        z = z - np.array([np.average(z[sale == s], weights=weight[sale == s]) for s in range(30)])[sale]
        w, z, e = weight[mine], z[mine], error[mine]
        slope = (w * z * e).sum() / (w * z**2).sum()
        scores = np.bincount(sale[mine], w * z * (e - slope * z))
        spread = np.sqrt((scores**2).sum() * 10 / 9) / (w * z**2).sum()
        assert sums.shift(row, 2, 10) == pytest.approx((slope, spread), rel=1e-9)


def test_any_cut_at_sale_boundaries_gives_the_same_sums(rows):
    place, weight, error, sale = rows
    parts = []
    for first, end in ((0, 4), (4, 15), (15, 30)):
        m = (sale >= first) & (sale < end)
        parts.append(grade_years(place[m], YEAR[first:end], weight[m], error[m], sale[m] - first, 3))
    whole, again = grade_years(place, YEAR, weight, error, sale, 3), all_grade_years(parts)
    for name in ("year", "lots", "score", "known", "score_square", "score_known", "known_square"):
        np.testing.assert_allclose(getattr(again, name), getattr(whole, name), rtol=1e-12, atol=1e-12)


def test_a_grade_alone_in_its_sales_says_nothing():
    sums = grade_years(
        np.array([1, 1, 0, 0]), np.array([2020, 2020]), np.ones(4), np.arange(4.0), np.array([0, 0, 1, 1]), 2
    )
    assert sums.shift(0, 1, 2) == (0.0, np.inf)
