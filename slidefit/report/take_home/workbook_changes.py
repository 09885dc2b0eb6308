"""Sheets of the live workbook that move one number or two: breakevens and the two-way table."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from itertools import pairwise

from slidefit.report.take_home.plan_cells import Choice
from slidefit.report.take_home.workbook_cells import (
    CENTS,
    LABELS,
    NUMBER,
    SLIDE,
    Book,
    Change,
    Formula,
    budget_column,
    budget_labels,
    gain_name,
    price_formula,
    put,
    put_heads,
)  # fmt: skip

SECANT_STEPS = 8
"""Eight steps from a tenth of a pound bring every plan of the tests to even within a cent."""
MOST_GAIN, MOST_SLIDE = 3.0, 0.5
"""How far the steps may go: pounds a day, and log points of price for 100 lb."""
GRID_PRICE_CWT, GRID_GAIN_LB_DAY, GRID_SIDE = 10.0, 0.2, 5


Work = Callable[[Choice, Change], Callable[[str], str]]
Even = tuple[str, str, str]
"""What, and formulas of its planned value and of where it comes out even."""


def _work(made: Book) -> Work:
    """Return a function that adds a changed budget to the sheet Work and says where its cells are."""
    sheet = made.book["Work"]
    if sheet.max_row <= 1:
        budget_labels(made, sheet)

    def add(choice: Choice, change: Change) -> Callable[[str], str]:
        return budget_column(made, sheet, max(sheet.max_column, LABELS) + 1, choice, change)

    return add


def breakevens(made: Book, columns: Mapping[tuple[int, int, date], int], best: Sequence[Choice]) -> None:
    """Write where keeping and selling now come out even, one number at a time, for each group's best choice."""
    sheet, work = made.book["Breakevens"], _work(made)
    put_heads(sheet, 1, ("Calves", "What", "Planned", "Breakeven"), (40, 36, 12, 12))
    row = 2
    for choice in best:
        name = ": ".join(made.called(choice))
        rows = [*_straight(choice, work), _gain(choice, work), _days(made, columns, choice)]
        rows += [] if choice.option.is_contract else [_slide(made, choice, work)]
        for what, planned, even in rows:
            put(sheet, row, 1, name)
            put(sheet, row, 2, what)
            put(sheet, row, 3, Formula(planned), CENTS)
            put(sheet, row, 4, Formula(even), CENTS)
            row += 1
        row += 1


def _straight(choice: Choice, work: Work) -> list[Even]:
    """Return what the gain moves in proportion with: a second column one unit on says how far it must go."""
    plain = work(choice, Change())
    gain, deaths = plain("gain_per_head"), plain("death_loss_pct")
    cash = f"{plain('cash_head')}/{plain('days_all')}"
    wanted = (
        ("Price at sale, $/cwt", plain("price_cwt"), Change(add_cwt="1")),
        ("Price today, $/cwt", plain("start_price_cwt"), Change(add_start_cwt="+1")),
        ("Keeping cost, $ per head per day", cash, Change(inputs={"cost_add_head_day": "1"})),
        ("Death loss, percent", deaths, Change(inputs={"death_loss_pct": f"{deaths}+1"})),
    )
    out = []
    for what, planned, change in wanted:
        moved = work(choice, change)("gain_per_head")
        out.append((what, planned, f'IF({moved}={gain},"nowhere",{planned}-{gain}/({moved}-{gain}))'))
    forage = next((key for key in choice.option.budget.by_key if key.startswith("forage_lb_acre")), "")
    if forage:  # the cost of grass goes with one over the forage
        moved = work(choice, Change(inputs={"forage_ratio": "1/1.1"}))("gain_per_head")
        times = f"(1-{gain}/(10*({moved}-{gain})))"
        even = f'IF({moved}={gain},"nowhere",IF({times}>0,{plain(forage)}/{times},"nowhere"))'
        out.append(("Forage grown, lb dry matter an acre", plain(forage), even))
    return out


def _secant(
    choice: Choice, work: Work, key: str, change: Callable[[str], Change], step: float, most: float
) -> Callable[[str], str]:
    """Return the last column of secant steps toward a gain of zero; what moves stands in the row ``key``."""
    points = [work(choice, change(repr(start))) for start in (0.0, step)]
    for _ in range(SECANT_STEPS):
        (x0, g0), (x1, g1) = [(each(key), each("gain_per_head")) for each in points[-2:]]
        moved = f"MAX(MIN({x1}-{g1}*({x1}-{x0})/({g1}-{g0}),{most!r}),{-most!r})"
        points.append(work(choice, change(f"IF({g1}={g0},{x1},{moved})")))
    return points[-1]


def _gain(choice: Choice, work: Work) -> Even:
    last = _secant(
        choice, work, "gain_change", lambda text: Change(inputs={"gain_change": text}), -0.1, MOST_GAIN
    )
    found = f'IF(ABS({last("gain_per_head")})<0.01,{last("gain_change")},"nowhere near")'
    return "Daily gain added, lb", "0", found


def _slide(made: Book, choice: Choice, work: Work) -> Even:
    """Return the slide from the weight now to the weight at sale, as planned and where it comes out even."""
    last = _secant(choice, work, SLIDE, lambda text: Change(slide=text), 0.01, MOST_SLIDE)
    then = (choice.group, choice.sale_date)
    now, later = (
        price_formula(made, then, last(lb), last(place))
        for lb, place in (("start_lb", "place_now"), ("sale_lb", "place_sale"))
    )
    fall = f"LN({now}/{later})*100/({last('sale_lb')}-{last('start_lb')})"
    even = f"100*(1-EXP(-({fall}+{last(SLIDE)})))"
    found = f'IF(ABS({last("gain_per_head")})<0.01,{even},"nowhere near")'
    return "Slide, percent per cwt", f"100*(1-EXP(-({fall})))", found


def _days(made: Book, columns: Mapping[tuple[int, int, date], int], choice: Choice) -> Even:
    """Return the days kept, and about where they come out even: read straight between the sale days around it."""
    start = made.cells.cases[choice.group].start
    days = sorted(day for g, p, day in columns if (g, p) == (choice.group, choice.program))
    told = {day: gain_name(choice.group, choice.program, day) for day in days}
    text = '"nowhere"'
    for early, late in sorted(
        pairwise(days),
        key=lambda pair: -abs((pair[0] - choice.sale_date).days + (pair[1] - pair[0]).days / 2),
    ):
        before, after, first = told[early], told[late], (early - start).days
        between = f"{first}+{(late - early).days}*{before}/({before}-{after})"
        text = f"IF({before}*{after}<0,{between},{text})"
    return "Days kept, approximate", repr((choice.sale_date - start).days), text


def two_ways(made: Book, best: Sequence[Choice]) -> None:
    """Write each group's gain over the price at sale and the daily gain, both as changes from the plan."""
    sheet, work, row = made.book["Two ways"], _work(made), 4
    half = GRID_SIDE // 2
    for at, words, step in (
        (1, "Step across, $/cwt", GRID_PRICE_CWT),
        (2, "Step down, lb a day", GRID_GAIN_LB_DAY),
    ):
        put(sheet, at, 1, words)
        put(sheet, at, 2, step, NUMBER)
    for choice in best:
        name = ": ".join(made.called(choice))
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
        row += GRID_SIDE + 4
    sheet.column_dimensions["A"].width = 24
