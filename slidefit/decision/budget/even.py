"""Where a gain changes sign along one input: the one rule of plans and the quick question; quick.js has it too."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from numpy.typing import NDArray

Points: TypeAlias = "Sequence[float] | NDArray[Any]"
STEPS, PASSES = 41, 3
"""Each pass cuts the cell that the last one found into forty; a straight line inside the last cell then leaves under a
thousandth of a cent (tested; our choice)."""


def crossings(at: Points, gains: Points) -> list[float]:
    """Return where gains change sign, read linearly between neighbors."""
    return [
        float(at[k] + gains[k] / (gains[k] - gains[k + 1]) * (at[k + 1] - at[k]))
        for k in range(len(at) - 1)
        if (gains[k] > 0.0) != (gains[k + 1] > 0.0)
    ]


def nearest_to(planned: float, found: Iterable[float]) -> float | None:
    """Return what lies nearest to the plan; None where nothing was found."""
    return min(found, key=lambda each: abs(each - planned), default=None)


def nearest_crossing(at: Points, gains: Points, planned: float) -> tuple[float, float] | None:
    """Return the two neighbors between which gains change sign, nearest to ``planned``; None if none."""
    cells = [(at[k], at[k + 1]) for k in range(len(at) - 1) if (gains[k] > 0.0) != (gains[k + 1] > 0.0)]
    return min(cells, key=lambda cell: abs(0.5 * (cell[0] + cell[1]) - planned), default=None)


def even_at(
    gain_at: Callable[[list[float]], Points], low: float, high: float, planned: float
) -> float | None:
    """Return where a gain comes out even, nearest to the plan: a grid, finer ones, a line; None if nowhere.

    ``gain_at`` goes from values of the input to as many gains.

    >>> round(even_at(lambda values: [x**2 - 2.0 for x in values], 0.0, 10.0, 1.0), 6)
    1.414214
    """
    for _ in range(PASSES):
        at = [low + (high - low) * k / (STEPS - 1) for k in range(STEPS)]
        gains = gain_at(at)
        cell = nearest_crossing(at, gains, planned)
        if cell is None:
            return None
        low, high = cell
    k = at.index(low)
    return crossings(at[k : k + 2], gains[k : k + 2])[0]
