"""The tables of an answer: for one group, and with up to three groups side by side as paper has room for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import chain
from typing import TYPE_CHECKING

from slidefit.report import answers, sentences
from slidefit.report import formatting as f
from slidefit.report.document import Cell, Column, Kind, Row, RowKind, TypedTable, table, written

if TYPE_CHECKING:
    from slidefit.decision.results import Alternative, BudgetLine, Comparison, GroupResult, KeepOption

LineKey = tuple[str, RowKind, int]
Written = tuple[RowKind, str, tuple[Cell, ...]]
GROUPS_A_SHEET = 3
OUTCOME = (
    Column("Weight", "expected_weight", spare=2), Column("Price/cwt", "expected_price", spare=1),
    Column("Bid to equal", "expected_price", spare=3), Column("Gain/head", "gain"),
    Column("8 in 10 between", "dollars"), Column("Odds", "chance"),
)  # fmt: skip


def month_table(group: GroupResult) -> TypedTable:
    """Return every program and sale month of a group against selling now."""
    options = sorted(group.keep, key=lambda option: option.sale_date)
    title = f"{group.group}, {f.count(group.head)} head: gain from keeping, by month of sale"
    return _outcomes(title, "Program", options, answers.best_option(group))


def best_by_date(group: GroupResult, options: Sequence[KeepOption]) -> TypedTable:
    """Return for each date of sale the program that brings a group most."""
    top = max(options, key=lambda option: option.gain_herd)
    return _outcomes(f"{group.group}: by date of sale", "Best program", options, top)


def _outcomes(title: str, program: str, options: Sequence[KeepOption], best: KeepOption | None) -> TypedTable:
    monthly = len({(o.program, o.sale_month) for o in options}) == len(options)
    rows = [
        (
            answers.sold_words(o, monthly=monthly) + (" *" if o is best else ""), o.program, o.weight_lb, o.price_cwt,
            o.later_bid_cwt, o.gain_per_head, (o.p10, o.p90), o.odds,
        )
        for o in options
    ]  # fmt: skip
    return table(title, (Column("Sold"), Column(program), *OUTCOME), rows, caption=sentences.MONTH_CAPTION)


def budget_table(title: str, lines: Sequence[BudgetLine]) -> TypedTable:
    """Return a budget line by line, each with its arithmetic, in dollars per head started."""
    return table(
        title,
        [Column("Line"), Column("How it is figured"), Column("$ a head", "cents")],
        [(line.label, line.arithmetic, line.amount_per_head) for line in lines],
        kinds={place: "total" for place, line in enumerate(lines) if line.kind == "total"},
    )


ALTERNATIVES_CAPTION = (
    "$ a head of all the calves, over selling all now. Bad year: the worst 1 in 10, averaged. "
    "Odds: of beating selling all now."
)


def fair_floor_line(cost_cwt: float) -> str:
    """Return what a price floor is worth, in a sentence."""
    return f"By these ranges that floor is worth {f.money_cents(cost_cwt)}/cwt; a higher quote costs you."


def alternatives_table(title: str, ways: Sequence[Alternative]) -> TypedTable:
    """Return the choices side by side, per head of all of the calves, against selling all now."""
    columns = (
        Column("Choice"), Column("How", spare=3), Column("On average", "gain"), Column("Bad year", "gain"),
        Column("Odds", "chance"), Column("Big loss", "chance", spare=2), Column("An acre", "gain", spare=4),
        Column("Cash, all", "dollars", spare=1),
    )  # fmt: skip
    rows = [
        (w.what, w.detail, w.expected, w.bad_year, w.odds, w.odds_big_loss, w.per_acre, w.cash_peak)
        for w in ways
    ]
    return table(title, columns, rows, caption=ALTERNATIVES_CAPTION)


def alternatives_side_by_side(groups: Sequence[GroupResult]) -> TypedTable:
    """Return the choices, the groups side by side, per head of all of each group against selling all now."""
    told = []
    for group in groups:
        rows: list[Written] = []
        for w in group.alternatives:
            label = w.what if ("line", w.what) not in [row[:2] for row in rows] else f"{w.what}, other feed"
            cells = (Cell(w.expected), Cell(w.bad_year), Cell(w.odds), Cell(w.cash_peak))
            rows.append(("line", label, cells))
        told.append((group.group, rows))
    columns = (
        Column("Mean", "gain", share=7.5), Column("Bad year", "gain", share=8.5),
        Column("Odds", "chance", share=6.5), Column("Cash, all", "dollars", share=9.0),
    )  # fmt: skip
    return _side_by_side("", told, columns, title=sentences.WAYS_TITLE)


def breakeven_table(option: KeepOption) -> TypedTable:
    """Return the values at which keeping and selling now come out even."""
    columns = [Column("What"), Column("Planned", "figure"), Column("Breakeven")]
    rows = []
    for each in option.breakevens:
        name, planned, even = answers.breakeven_row(each)
        rows.append((name, Cell(each.planned, planned), Cell(each.value, even)))
    return table(sentences.BREAKEVEN_TITLE, columns, rows)


def cash_table(option: KeepOption) -> TypedTable:
    """Return the cash that keeping calls for, month by month."""
    rows = [(f.sale_month(c.month), c.amount_herd, c.total_herd) for c in option.cash]
    columns = [Column("Month"), Column("Cash out", "dollars"), Column("Total so far", "dollars")]
    return table(f"Cash needed to keep {f.count(option.head_kept)} head", columns, rows)


def defaults_table(comparison: Comparison, *, named: bool = False) -> TypedTable:
    """Return the plan fields that were left out and the values taken for them."""
    rows = answers.default_rows(comparison, named=named)
    return table(sentences.DEFAULTS_TITLE, ["Field", "Used", "What it is"], rows)


def sheets_of(groups: Sequence[GroupResult]) -> tuple[tuple[GroupResult, ...], ...]:
    """Return the groups as many at a time as stand side by side."""
    return tuple(tuple(groups[at : at + GROUPS_A_SHEET]) for at in range(0, len(groups), GROUPS_A_SHEET))


def kept_of(groups: Iterable[GroupResult]) -> list[tuple[GroupResult, KeepOption]]:
    """Return each group that can be kept with the option whose budget is shown."""
    shown = ((group, answers.shown_option(group)) for group in groups)
    return [(group, option) for group, option in shown if option is not None]


def months_side_by_side(groups: Sequence[GroupResult]) -> TypedTable:
    """Return every program's months of sale, the groups side by side; a lone group's weights too."""
    alone = len(groups) == 1
    outcome = [
        *([Column("Weight", "expected_weight", share=9.0)] if alone else []),
        Column("$/cwt", "expected_price", share=7.0), Column("Gain", "gain", share=7.5),
        Column("Range", "dollars", share=15.0), Column("Odds", "chance", share=6.5),
    ]  # fmt: skip
    rows: list[Row] = []
    for program in dict.fromkeys(option.program for group in groups for option in group.keep):
        mine = [{o.sale_date: o for o in group.keep if o.program == program} for group in groups]
        days = sorted(set(chain.from_iterable(mine)))
        monthly = len({(day.year, day.month) for day in days}) == len(days)
        rows.append(Row((Cell(program),), "part"))
        for day in days:
            options = [options.get(day) for options in mine]
            best = [
                o is not None and o is answers.best_option(g) for o, g in zip(options, groups, strict=True)
            ]
            label = f.sale_month(day.isoformat(), short=True) if monthly else f.day(day)
            cells = [_month_cells(o, marked, len(outcome)) for o, marked in zip(options, best, strict=True)]
            kind: RowKind = "total" if alone and any(best) else "line"
            rows.append(Row((Cell(label), *chain.from_iterable(cells)), kind))
    columns = (Column("Sold", share=12.0), *_banded([group.group for group in groups], outcome))
    return TypedTable("", columns, tuple(rows))


def _month_cells(option: KeepOption | None, best: bool, wanted: int) -> tuple[Cell, ...]:
    if option is None:
        return (Cell(),) * wanted
    pounds, price, gain = option.weight_lb, option.price_cwt, option.gain_per_head
    spread, odds = (option.p10, option.p90), option.odds
    marked = f"{'* ' if best else ''}{answers.outcome_cells(option)[2]}"
    every = (Cell(pounds), Cell(price), Cell(gain, marked), Cell(spread), Cell(odds))
    return every[-wanted:]


def _banded(names: Sequence[str], columns: Sequence[Column]) -> tuple[Column, ...]:
    return tuple(replace(column, band=name) for name in names for column in columns)


def budgets_side_by_side(groups: Sequence[GroupResult]) -> tuple[TypedTable, ...]:
    """Return the budgets of selling now and of keeping, the groups side by side."""
    now = [(f"{g.group}: {f.day(g.sell_now.sale_date)}", _lines(g.sell_now.lines)) for g in groups]
    kept = [
        (f"{group.group}: {o.program}, {f.day(o.sale_date)}", _kept_lines(o)) for group, o in kept_of(groups)
    ]
    told = [_side_by_side(sentences.SELL_NOW_BUDGET, now, BUDGET_COLUMNS)]
    return tuple(told + ([_side_by_side(sentences.KEEP_BUDGET, kept, BUDGET_COLUMNS)] if kept else []))


BUDGET_COLUMNS = (Column("", share=23.0), Column("", "bare_cents", share=9.0))


def _lines(lines: Sequence[BudgetLine]) -> list[Written]:
    totals: dict[bool, RowKind] = {True: "total", False: "line"}
    return [
        (totals[line.kind == "total"], line.label, (Cell(line.arithmetic), Cell(line.amount_per_head)))
        for line in lines
    ]


def _kept_lines(option: KeepOption) -> list[Written]:
    worth = (("value of gain", option.value_of_gain_per_lb), ("cost of gain", option.cost_of_gain_per_lb))
    more: list[Written] = [
        ("line", name, (Cell("$ a pound gained"), Cell(value))) for name, value in worth if value is not None
    ]
    return [*_lines(option.lines), *more]


def breakevens_side_by_side(groups: Sequence[GroupResult]) -> TypedTable:
    """Return where keeping and selling now come out even, the groups side by side."""
    told = []
    for group, option in kept_of(groups):
        rows: list[Written] = []
        for each in option.breakevens:
            name, planned, even = answers.short_breakeven_row(each)
            rows.append(("line", name, (Cell(each.planned, planned), Cell(each.value, even))))
        told.append((group.group, rows))
    columns = (Column("Planned", "figure", share=9.5), Column("Breakeven", "figure", share=9.5))
    return _side_by_side("", told, columns, title=sentences.BREAKEVEN_TITLE)


def cash_side_by_side(groups: Sequence[GroupResult]) -> TypedTable:
    """Return the cash that keeping calls for by month, the groups side by side."""
    told = []
    for group, option in kept_of(groups):
        rows: list[Written] = [
            ("line", f.sale_month(c.month, short=True), (Cell(c.total_herd),)) for c in option.cash
        ]
        told.append((group.group, rows))
    columns = (Column("", "dollars", share=9.5),)
    return _side_by_side("By the end of", told, columns, title=sentences.CASH_TITLE)


def figures_side_by_side(groups: Sequence[GroupResult]) -> TypedTable:
    """Return what else a choice comes to: weights, the herd's dollars, dollars an acre, acres."""
    wanted: list[tuple[str, Kind, Callable[[GroupResult, KeepOption], float | None]]] = [
        ("Weight at weaning", "weight", lambda g, o: g.sell_now.weight_lb),
        ("Weight at sale", "expected_weight", lambda g, o: o.weight_lb),
        ("Head kept", "count", lambda g, o: o.head_kept),
        ("Gain, all kept", "gain", lambda g, o: o.gain_herd),
        ("Gain an acre", "gain", lambda g, o: o.gain_per_acre),
        ("Acres needed", "count", lambda g, o: o.pasture.acres_needed if o.pasture else None),
        ("Head-days an acre", "count", lambda g, o: o.pasture.head_days_per_acre if o.pasture else None),
        ("Pasture, per head per day", "cents", lambda g, o: o.pasture.cost_head_day if o.pasture else None),
    ]
    told = []
    for group, option in kept_of(groups):
        rows: list[Written] = []
        for name, kind, value in wanted:
            found = value(group, option)
            if found is not None:
                rows.append(("line", name, (Cell(found, written(Cell(found), Column("", kind))),)))
        told.append((group.group, rows))
    column = Column("", "figure", share=9.5)
    return _side_by_side("", told, (column,), title=sentences.FIGURES_TITLE, label_share=14.0)


def _side_by_side(
    label: str,
    told: Sequence[tuple[str, Sequence[Written]]],
    columns: Sequence[Column],
    *,
    title: str = "",
    label_share: float = 19.0,
) -> TypedTable:
    """Return rows of several groups as one table; a row that a group lacks is blank there."""
    each = [_named(rows) for _, rows in told]
    order: list[LineKey] = []
    for rows in each:
        at = 0
        for key in rows:
            if key not in order:
                order.insert(at, key)
            at = order.index(key) + 1
    blank = (Cell(),) * len(columns)
    first = Column(label, share=label_share if len(told) > 1 else 12.0)
    made = tuple(
        Row((Cell(name), *chain.from_iterable(rows.get((name, kind, n), blank) for rows in each)), kind)
        for name, kind, n in order
    )
    return TypedTable(title, (first, *_banded([name for name, _ in told], columns)), made)


def _named(rows: Sequence[Written]) -> dict[LineKey, tuple[Cell, ...]]:
    """Return a budget's cells by label, kind and how often that label came before."""
    out: dict[LineKey, tuple[Cell, ...]] = {}
    for kind, label, cells in rows:
        before = sum((label, kind) == key[:2] for key in out)
        out[label, kind, before] = cells
    return out
