"""Invented swings, a grid and a sorting, for pictures and tables."""

from datetime import date

import numpy as np

from slidefit.decision.risk.answer_changes import AnswerRange, FlipGrid, FlipResult
from slidefit.decision.risk.breakevens import FlipRange
from slidefit.decision.risk.sorting import Sorting, SortRow

SOLD = date(2027, 3, 15)
GAIN = FlipRange("gain", "daily gain", "lb/day", 1.0, 2.0, 3.0, "a rule")
FEED = FlipRange("feed_cost", "feed and pasture", "$/head-day", 0.0, 1.0, 2.0, "a rule")
SWINGS = (
    AnswerRange(
        "sale_price",
        "price at sale",
        "$/cwt",
        295.0,
        320.0,
        350.0,
        "a rule",
        -180.0,
        260.0,
        440.0,
        True,
        316.2,
    ),
    AnswerRange("death_loss", "death loss", "percent", 0.0, 2.0, 4.0, "a rule", 60.0, 5.0, 55.0, False, None),
    AnswerRange("days", "days kept", "days", 138.0, 152.0, 166.0, "a rule", 25.0, 42.0, 17.0, False, None),
)


def a_flip(*swings: AnswerRange) -> FlipResult:
    return FlipResult("Steers", "Dry lot", SOLD, 35.0, swings or SWINGS)


def a_grid(columns: int = 6, rows: int = 5, *, level: float = 1.5) -> FlipGrid:
    x, y = np.linspace(1.0, 3.0, columns), np.linspace(0.0, 2.0, rows)
    gain = 100.0 * (x[None, :] - level - 0.5 * y[:, None])
    line = tuple((float(at), float(2.0 * (at - level))) for at in x if 0.0 <= 2.0 * (at - level) <= 2.0)
    gains = tuple(tuple(float(g) for g in row) for row in gain)
    return FlipGrid(
        "Steers", "Dry lot", SOLD, GAIN, FEED, tuple(map(float, x)), tuple(map(float, y)), gains, line
    )


def a_sorting(threshold_lb: float | None = 563.0) -> Sorting:
    rows = (SortRow(500.0, "Dry lot", SOLD, 41.0), SortRow(600.0, "sell now", SOLD, -22.0))
    side = "" if threshold_lb is None else "lighter"
    return Sorting("Steers", rows, threshold_lb, side, 27.3, 12.0, 31.0, 19.4)
