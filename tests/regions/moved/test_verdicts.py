"""Moved, steady, can't tell: how often each is right when the truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from slidefit.regions.moved.verdicts import (
    Difference,
    Windows,
    adjusted,
    difference,
    joint_p,
    margin_head,
    two_sided,
    verdicts,
)

YEARS, NUMBERS = 8, 4


def means(rng: np.random.Generator, *, moved: float = 0.0, size: np.ndarray | None = None) -> Windows:
    """Weighted means of yearly values, eight old years and one new; shares as the years' sizes."""
    size = np.ones(YEARS + 1) if size is None else size
    common = rng.normal(size=(YEARS + 1, 1))
    year = 0.6 * common + 0.8 * rng.normal(size=(YEARS + 1, NUMBERS))
    year[-1] += moved
    late = np.arange(YEARS + 1) == YEARS

    def mean(keep: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.average(year[keep], axis=0, weights=size[keep]), np.full(NUMBERS, 1e-6 / size[keep].sum())

    every = np.ones(YEARS + 1, dtype=bool)
    left = [every & (np.arange(YEARS + 1) != p) for p in range(YEARS + 1)]
    old, old_var = mean(~late)
    new, new_var = mean(every)
    old_left, old_left_var = zip(*(mean(keep & ~late) for keep in left), strict=True)
    new_left, new_left_var = zip(*(mean(keep) for keep in left), strict=True)
    return Windows(
        late, old, new, np.array(old_left), np.array(new_left), old_var, new_var, np.array(old_left_var),
        np.array(new_left_var),
    )  # fmt: skip


@pytest.mark.parametrize("last", [1.0, 2.0])
def test_a_change_that_is_none_is_rejected_one_time_in_twenty(last: float) -> None:
    """1,000 null numbers of eight even years; the new one as large, or twice as large, which is then as sure as one."""
    rng = np.random.default_rng(7)
    size = np.append(np.ones(YEARS), last)
    found = [difference(means(rng, size=size)) for _ in range(250)]
    p = np.array([two_sided(f.change / f.se, f.df) for f in found])
    assert 0.03 < (p < 0.05).mean() < 0.07
    assert found[0].df[0] == pytest.approx(YEARS - 1, abs=0.2)
    joint = np.array([joint_p(f, np.arange(NUMBERS)) for f in found])
    assert (joint < 0.05).mean() < 0.09


def test_the_error_of_a_difference_of_means_is_the_textbooks() -> None:
    """One new year beside G even ones moves a mean with variance s^2 / (G (G + 1)), s^2 the years' own."""
    rng = np.random.default_rng(3)
    windows = means(rng)
    found = difference(windows)
    years = windows.old - windows.old_left[:YEARS]
    s2 = ((years * (YEARS - 1)) ** 2).sum(axis=0) / (YEARS - 1)
    assert_allclose(found.se**2, s2 / (YEARS * (YEARS + 1)), rtol=1e-9)
    assert_allclose(found.influence[YEARS], found.change, rtol=1e-9)


def test_years_in_both_windows_cancel_but_lots_never_do() -> None:
    same = means(np.random.default_rng(1))
    still = Windows(
        np.zeros(YEARS + 1, dtype=bool), same.new, same.new, same.new_left, same.new_left, same.new_var,
        same.new_var, same.new_left_var, same.new_left_var,
    )  # fmt: skip
    assert_allclose(difference(still).se, 0.0, atol=1e-12)
    noisy = Windows(**{**vars(same), "old_var": same.old_var * 1e9, "old_left_var": same.old_left_var * 1e9})
    assert (difference(noisy).se ** 2 >= noisy.old_var - noisy.new_var - 1e-12).all()


def test_verdicts_hold_what_they_promise() -> None:
    """Rows of all truths: of the moved under 1 in 20 are still, of the steady 9 in 10 lie inside the margin."""
    rng = np.random.default_rng(11)
    margin, moved_wrong, moved, steady_right, steady, still_moved = 20.0, 0, 0, 0, 0, 0
    for _ in range(400):
        true = np.where(rng.random(60) < 0.7, 0.0, rng.normal(0.0, 40.0, 60))
        se = rng.uniform(2.0, 20.0, 60)
        df = np.full(60, 7.0)
        seen = true + se * rng.normal(size=60)
        estimated = se * np.sqrt(rng.chisquare(7, 60) / 7)
        told = np.array(verdicts(seen, estimated, df, margin))
        moved_wrong += ((told == "moved") & (true == 0.0)).sum()
        still_moved += (true == 0.0).sum()
        moved += (told == "moved").sum()
        steady_right += ((told == "steady") & (np.abs(true) < margin)).sum()
        steady += (told == "steady").sum()
    assert moved > 500 and steady > 5000
    assert moved_wrong / moved < 0.05 and moved_wrong / still_moved < 0.01
    assert steady_right / steady > 0.95


@pytest.mark.parametrize(
    ("head", "verdict"), [(0.0, "steady"), (8.0, "steady"), (12.0, "moved"), (-60.0, "moved")]
)
def test_both_sides_of_steady(head: float, verdict: str) -> None:
    """t at 95 percent with 1e6 degrees of freedom is 1.645: 8 + 1.645 x 7 = 19.5 lies inside 20, 12 + 11.5 does not."""
    assert verdicts([head], [7.0 if abs(head) < 10 else 5.0], [1e6], 20.0) == [verdict]
    assert verdicts([9.0], [7.0], [1e6], 20.0) == ["can't tell"]


def test_many_numbers_raise_the_bar_for_each() -> None:
    """One number of p .03 is found alone and lost among fifty."""
    assert verdicts([21.7], [10.0], [1e6], 5.0) == ["moved"]
    assert verdicts([21.7] + [1.0] * 49, [10.0] * 50, [1e6] * 50, 5.0)[0] == "can't tell"
    assert_allclose(adjusted([0.04, 0.01, 0.03]), [0.04, 0.03, 0.04])


def test_the_joint_test_sees_what_no_single_number_shows() -> None:
    rng = np.random.default_rng(5)
    powers = []
    for moved in (0.0, 9.0):
        found = [difference(means(rng, moved=moved)) for _ in range(40)]
        powers.append(np.mean([joint_p(f, np.arange(NUMBERS)) < 0.05 for f in found]))
    assert powers[0] < 0.2 < 0.9 < powers[1]
    none = Difference(np.zeros(1), np.zeros(1), np.ones(1), np.zeros((3, 1)), np.zeros((3, 1)))
    assert joint_p(none, np.array([0])) == 1.0


def test_the_margin_is_a_hundredth_of_the_check_in_steps_of_five() -> None:
    assert [margin_head(check) for check in (200.0, 1240.0, 1260.0, 1991.0)] == [5.0, 10.0, 15.0, 20.0]
