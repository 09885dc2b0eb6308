"""Sheets of the live workbook that move one number or two: breakevens and the two-way table."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from slidefit.report.take_home.plan_cells import Choice
from slidefit.report.take_home.workbook_cells import (
    CENTS,
    LABELS,
    NUMBER,
    Book,
    Change,
    Formula,
    budget_column,
    budget_labels,
    put,
)  # fmt: skip

SECANT_STEPS = 8
"""Eight steps from a tenth of a pound bring every plan of the tests to even within a cent."""
GRID_PRICE_CWT, GRID_GAIN_LB_DAY, GRID_SIDE = 10.0, 0.2, 5


def _work(made: Book) -> Callable[[Choice, Change], Callable[[str], str]]:
    """Return a function that adds a changed budget to the sheet Work and says where its cells are."""
    sheet = made.book["Work"]
    if sheet.max_row <= 1:
        budget_labels(made, sheet)

    def add(choice: Choice, change: Change) -> Callable[[str], str]:
        return budget_column(made, sheet, max(sheet.max_column, LABELS) + 1, choice, change)

    return add


def breakevens(made: Book, best: Sequence[Choice]) -> None:
    """Write where keeping and selling now come out even, one number at a time, for each group's best choice."""
    sheet, work = made.book["Breakevens"], _work(made)
    for column, heading in enumerate(("Calves", "What", "Planned", "Even at"), start=1):
        put(sheet, 1, column, heading, bold=True)
    row = 2
    for choice in best:
        plain = work(choice, Change())
        name = f"{made.cells.plan.groups[choice.group].name}: {made.cells.plan.programs[choice.program].name}"
        deaths = plain("death_loss_pct")
        linear = (
            ("Price at sale, $/cwt", plain("price_cwt"), Change(add_cwt="1")),
            ("Price today, $/cwt", plain("start_price_cwt"), Change(add_start_cwt="+1")),
            (
                "Cost added, $ a head and day",
                plain("cost_add_head_day"),
                Change(inputs={"cost_add_head_day": "1"}),
            ),
            (
                "Death loss, percent",
                deaths,
                Change(inputs={"death_loss_pct": f"{deaths}+1"}),
            ),
        )
        for what, planned, change in linear:
            gain, moved = plain("gain_per_head"), work(choice, change)("gain_per_head")
            even = f"{planned}-{gain}/({moved}-{gain})"
            _even_row(made, row, (name, what), planned, f'IF({moved}={gain},"nowhere",{even})')
            row += 1
        gain_day, even = _secant(made, choice, work)
        _even_row(made, row, (name, "Daily gain added, lb"), gain_day, even)
        row += 2
    for letter, width in zip("ABCD", (40, 30, 12, 12), strict=True):
        sheet.column_dimensions[letter].width = width


def _even_row(made: Book, row: int, words: tuple[str, str], planned: str, even: str) -> None:
    sheet = made.book["Breakevens"]
    for column, word in enumerate(words, start=1):
        put(sheet, row, column, word)
    put(sheet, row, 3, Formula(planned), CENTS)
    put(sheet, row, 4, Formula(even), CENTS)


def _secant(
    made: Book, choice: Choice, work: Callable[[Choice, Change], Callable[[str], str]]
) -> tuple[str, str]:
    """Return the planned change of the daily gain (none) and the one that comes out even: secant steps in cells."""
    points = [work(choice, Change(inputs={"gain_change": text})) for text in ("0", "-0.1")]
    for _ in range(SECANT_STEPS):
        (x0, g0), (x1, g1) = [(each("gain_change"), each("gain_per_head")) for each in points[-2:]]
        step = f"IF({g1}={g0},{x1},MAX(MIN({x1}-{g1}*({x1}-{x0})/({g1}-{g0}),3),-3))"
        points.append(work(choice, Change(inputs={"gain_change": step})))
    last = points[-1]
    return points[0](
        "gain_change"
    ), f'IF(ABS({last("gain_per_head")})<0.01,{last("gain_change")},"nowhere near")'


def two_ways(made: Book, best: Sequence[Choice]) -> None:
    """Write the gain over the price at sale and the daily gain, both as changes from the plan."""
    sheet, work, row = made.book["Two ways"], _work(made), 1
    half = GRID_SIDE // 2
    put(sheet, row, 1, "Step across, $/cwt")
    put(sheet, row, 2, GRID_PRICE_CWT, NUMBER)
    put(sheet, row + 1, 1, "Step down, lb a day")
    put(sheet, row + 1, 2, GRID_GAIN_LB_DAY, NUMBER)
    row += 3
    for choice in best[:1]:
        name = f"{made.cells.plan.groups[choice.group].name}: {made.cells.plan.programs[choice.program].name}"
        put(
            sheet,
            row,
            1,
            f"{name}: gain a head; price at sale across, daily gain down, as changes",
            bold=True,
        )
        for k in range(GRID_SIDE):
            put(sheet, row + 1, k + 2, Formula(f"{k - half}*$B$1"), NUMBER, bold=True)
            put(sheet, row + 2 + k, 1, Formula(f"{k - half}*$B$2"), NUMBER, bold=True)
        for down in range(GRID_SIDE):
            for across in range(GRID_SIDE):
                letter = sheet.cell(1, across + 2).column_letter
                change = Change(
                    inputs={"gain_change": f"'Two ways'!$A${row + 2 + down}"},
                    add_cwt=f"'Two ways'!${letter}${row + 1}",
                )
                put(sheet, row + 2 + down, across + 2, Formula(work(choice, change)("gain_per_head")), CENTS)
    sheet.column_dimensions["A"].width = 24
