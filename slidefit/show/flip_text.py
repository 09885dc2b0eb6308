"""What the terminal says of what would flip an answer, and of sorting a group by weight."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from slidefit.decision.flips import FlipGrid, FlipResult
from slidefit.decision.results import SELL_NOW
from slidefit.decision.sorting import Sorting
from slidefit.show import formatting as f
from slidefit.show import wording
from slidefit.show.tables import new_table, text_of

GRID_COLUMNS = 5


def swings_table(result: FlipResult) -> Table:
    """Return each input's swing over its own range, the widest first."""
    columns = [
        ("Input", "left"), ("From", "right"), ("to", "right"), ("Gain/head from", "right"), ("to", "right"),
        ("Flips at", "left"),
    ]  # fmt: skip
    rows = [
        (
            wording.capital(s.label), f.measure(s.low, s.unit), f.measure(s.high, s.unit),
            f.money(s.gain_low, sign=True), f.money(s.gain_high, sign=True),
            f.measure(s.flip_at, s.unit) if s.flips else "",
        )
        for s in result.swings
    ]  # fmt: skip
    title = f"{wording.swings_title(result)} ({f.money(result.gain_per_head, sign=True)} a head as planned)"
    return new_table(title, columns, rows, caption=wording.SWINGS_CAPTION)


def flips_text(results: Sequence[FlipResult], *, width: int = 100) -> str:
    """Return the swings of every option asked for, each with the sentence on what flips it."""
    parts: list[RenderableType] = []
    for result in results:
        parts += [swings_table(result), wording.flip_line(result)]
    return text_of(*parts, width=width)


def grid_text(grid: FlipGrid, *, width: int = 100) -> str:
    """Return the gain from keeping over two inputs, five values a side at most, the ends included."""
    across, down = _ends_and_between(len(grid.x_values)), _ends_and_between(len(grid.y_values))
    columns = [
        (wording.capital(grid.y.label), "left"),
        *((f.measure(grid.x_values[k], grid.x.unit), "right") for k in across),
    ]
    rows = [
        [
            f.measure(grid.y_values[row], grid.y.unit),
            *(f.money(grid.gains[row][column], sign=True) for column in across),
        ]
        for row in down
    ]
    even = [
        f"Even at {f.measure(x, grid.x.unit)} with {grid.y.label} {f.measure(y, grid.y.unit)}."
        for x, y in grid.flip_line[:: max(len(grid.flip_line) - 1, 1)]
    ]
    return text_of(
        new_table(f"{wording.grid_title(grid)}; {grid.x.label} across", columns, rows), *even, width=width
    )


def _ends_and_between(count: int) -> list[int]:
    steps = min(count, GRID_COLUMNS)
    return sorted({round(k * (count - 1) / max(steps - 1, 1)) for k in range(steps)})


def sorting_text(sorting: Sorting, *, width: int = 100) -> str:
    """Return the best choice at each weight, and what sorting is worth."""
    columns = [("Weight", "right"), ("Best choice", "left"), ("Best gain/head from keeping", "right")]
    rows = [
        (
            f.weight_lb(row.weight_lb),
            SELL_NOW if row.choice == SELL_NOW else f"{row.choice}, sold {f.day(row.sale_date)}",
            f.money(row.gain_per_head, sign=True),
        )
        for row in sorting.rows
    ]
    table = new_table(wording.sorting_title(sorting), columns, rows)
    return text_of(wording.sorting_line(sorting), "", table, width=width)
