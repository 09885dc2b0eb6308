"""Every number of two files of a region, and its error where they share records."""

from __future__ import annotations

import numpy as np
import pytest

from slidefit.regions.moved.file_numbers import change_error, numbers, shared_part
from slidefit.regions.region import Region


def test_more_shared_records_make_a_change_surer() -> None:
    assert change_error(1.0, 1.0, 0.0) == pytest.approx(np.sqrt(2.0))
    assert change_error(1.0, 1.0, 1.0) == 0.0
    assert change_error(1.0, 0.5, 0.5) < change_error(1.0, 0.5, 0.0)
    assert shared_part(0.0, 10.0, 5.0) == 0.0 and shared_part(5.0, 5.0, 50.0) == 1.0


def test_two_means_that_share_records_correlate_as_said() -> None:
    """Simulated: means of n and of n + m draws, the n in both; sd of their difference, and r by its name."""
    rng = np.random.default_rng(20261125)
    n, m = 60, 20
    draws = rng.normal(size=(20_000, n + m))
    old, new = draws[:, :n].mean(axis=1), draws.mean(axis=1)
    r = shared_part(n, n + m, n)
    assert np.corrcoef(old, new)[0, 1] == pytest.approx(r, abs=0.01)
    assert change_error(n**-0.5, (n + m) ** -0.5, r) == pytest.approx((new - old).std(), rel=0.02)


def test_a_file_beside_itself_holds_each_number_once_and_none_has_changed(shipped: Region) -> None:
    found = list(numbers(shipped, shipped, 1.0))
    assert len({each.key for each in found}) == len(found)
    assert all(each.log == pytest.approx(0.0, abs=1e-12) and np.isfinite(each.se) for each in found)
    kinds = {each.key.kind for each in found}
    assert {"slide", "discount", "season", "grade"} <= kinds


def test_a_discount_of_a_point_more_is_a_point_of_price(shipped: Region) -> None:
    heifer = shipped.sexes()["heifer"]
    more = heifer.model_copy(update={"discount_pct": heifer.discount_pct + 1.0})
    changed = [
        each for each in numbers(shipped, shipped.model_copy(update={"heifer": more}), 1.0) if each.log
    ]
    (discount,) = [each for each in changed if each.key.kind == "discount"]
    assert discount.log == pytest.approx(np.log1p(-0.01 / (1 - heifer.discount_pct / 100)))
    assert discount.worth > 0 > discount.log
