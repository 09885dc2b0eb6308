"""Where a gain changes sign along one input."""

from __future__ import annotations

import numpy as np
import pytest

from slidefit.decision.budget.even import crossings, even_at, nearest_crossing


def test_crossings() -> None:
    at = np.arange(5.0)
    assert nearest_crossing(at, [-1, 1, 1, -1, -1], 4) == (2.0, 3.0)
    assert nearest_crossing(at, [-1, 1, 1, -1, -1], 0) == (0.0, 1.0)
    assert nearest_crossing([0, 1], [1, 2], 0) is None
    assert crossings(at, np.array([-1.0, 3.0, 1.0, -1.0, -1.0])) == [0.25, 2.5]


@pytest.mark.parametrize(
    ("planned", "root"), [(180.0, 200.0), (420.0, 400.0), (299.0, 200.0), (301.0, 400.0)]
)
def test_of_two_breakevens_the_plans_own_side_is_told(planned: float, root: float) -> None:
    found = even_at(lambda each: [(x - 200.0) * (400.0 - x) for x in each], 0.0, 1000.0, planned)
    assert found == pytest.approx(root, abs=1e-4)


def test_a_breakeven_is_exact_to_a_thousandth_of_a_cent_even_over_a_corner() -> None:
    """A contract's price has a corner at its base weight; the gain left at the answer is nothing that counts."""

    def gain(each: list[float]) -> np.ndarray:
        x = np.array(each)
        return 3.7 * x - 0.05 * np.maximum(x - 612.3, 0.0) ** 1.5 - 2266.0

    found = even_at(gain, 150.0, 1400.0, 600.0)
    assert found is not None and abs(gain([found])[0]) < 1e-5


def test_an_input_that_changes_nothing_has_no_breakeven() -> None:
    assert even_at(lambda each: [5.0] * len(each), 0.0, 10.0, 5.0) is None
    assert even_at(lambda each: [x - 11.0 for x in each], 0.0, 10.0, 5.0) is None
    assert even_at(lambda each: [x - 9.99 for x in each], 0.0, 10.0, 5.0) == pytest.approx(9.99)
