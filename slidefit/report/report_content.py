"""What a comparison says, as documents: the answer, one option in full, what would change it, the report."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from slidefit.decision.results import SELL_NOW
from slidefit.report import answer_tables as tables
from slidefit.report import answers, sentences
from slidefit.report import formatting as f
from slidefit.report.document import (
    Block,
    Cell,
    Column,
    Document,
    Heading,
    Part,
    Picture,
    Sentence,
    Simple,
    TypedTable,
    document,
    notes,
    table,
)  # fmt: skip
from slidefit.report.futures_content import futures_line, past_and_futures
from slidefit.report.take_home.banker import cautions_block, most_out

if TYPE_CHECKING:
    import pandas as pd

    from slidefit.decision.results import Alternative, Comparison, GroupResult, KeepOption
    from slidefit.decision.risk.answer_changes import FlipGrid, FlipResult
    from slidefit.decision.risk.sorting import Sorting, SortRow
    from slidefit.market.fit.coding import RecordTable
    from slidefit.market.outlook import Outlook

GRID_COLUMNS = 5


def comparison_content(comparison: Comparison) -> Document:
    """Return the whole answer: each group's answer and months, what is left out, cautions."""
    parts: list[Part | str] = []
    if comparison.typed_prices:
        parts.append(f"{sentences.capital(comparison.source)}.")
    axis = answers.shared_axis(comparison.groups)
    for group in comparison.groups:
        parts.append(answer_block(group, axis))
        parts += [tables.month_table(group)] if group.keep else []
        parts += alternatives_of(f"{group.group}: choices side by side", group.alternatives)
        parts += [*(sentences.unavailable_line(each) for each in group.unavailable), *group.notes]
    if len(comparison.groups) > 1:
        parts.append(answers.herd_answer(comparison))
        parts += alternatives_of("Whole herd: choices side by side", comparison.herd.alternatives)
    parts += [tables.defaults_table(comparison, named=True)] if comparison.defaults_used else []
    return document(*parts, sentences.left_out_line(comparison.left_out), *_with_every_answer(comparison))


def alternatives_of(title: str, ways: Sequence[Alternative]) -> list[Part | str]:
    """Return the choices side by side, and what a floor is worth; nothing where there is no other choice."""
    if len(ways) < 2:
        return []
    fair = [tables.fair_floor_line(way.fair_cost_cwt) for way in ways if way.fair_cost_cwt is not None]
    return [tables.alternatives_table(title, ways), *fair]


def answer_block(group: GroupResult, axis: tuple[float, float], *more: str, drawn: bool = False) -> Block:
    """Return a group's answer in words, with its range as a bar and how sure it is.

    ``drawn``: the bar itself says the range.
    """
    bars, told = answers.bars(group, axis), answers.how_sure(group)
    if drawn and bars:
        told = told[:1] + told[answers.SAID_BY_BAR :]
    sure = (Sentence(line) for line in (*told, *more) if line)
    return Block("answer", (Sentence(answers.answer(group), strong=True), *bars, *sure))


def futures_content(comparison: Comparison) -> Document:
    """Return what futures make of the answers: their sentence, and each group's answer with them."""
    view = comparison.futures
    told = [answers.answer(group) for group in comparison.groups]
    return document(Heading(sentences.WITH_FUTURES), futures_line(view) if view else "", *told)


def _with_every_answer(comparison: Comparison) -> tuple[str, ...]:
    """Return what goes with every answer: whether the records are enough, futures, past odds, notes and cautions."""
    verdict = sentences.verdict_line(comparison.verdict)
    past = past_and_futures(comparison.record, comparison.futures)
    return (verdict, *past, *map(sentences.sentence, comparison.notes), *comparison.cautions)


def months_content(comparison: Comparison) -> Document:
    """Return the view by month of sale: for each group and date the program that brings most, notes and cautions."""
    from slidefit.decision.choices import months_of

    made = [tables.best_by_date(group, months_of(group)) for group in comparison.groups if group.keep]
    told = [f"{group.group}: {note}" for group in comparison.groups for note in group.notes]
    return document(*made, *told, *_with_every_answer(comparison))


def option_content(group: GroupResult, option: KeepOption) -> Document:
    """Return the whole budget of one option: both budgets, breakevens, cash needs."""
    return document(
        tables.budget_table(sentences.sell_now_title(group), group.sell_now.lines),
        tables.budget_table(sentences.keep_title(group, option), option.lines),
        sentences.gain_line(option),
        tables.breakeven_table(option),
        *([tables.cash_table(option)] if option.cash else []),
        *feed_lines(option),
        *option.notes,
    )


def feed_lines(option: KeepOption | None) -> list[str]:
    """Return what an option asks of the pasture, and the gain that its ration supports."""
    if option is None:
        return []
    pasture = [sentences.pasture_line(option.pasture)] if option.pasture else []
    doubtful = option.energy is None or option.energy.too_hopeful
    return pasture + ([] if doubtful or option.energy is None else [sentences.energy_line(option.energy)])


def flips_content(results: Sequence[FlipResult]) -> Document:
    """Return what would change the answer of every option asked for, each with its sentence."""
    return document(
        *(part for result in results for part in (swings_table(result), sentences.flip_line(result)))
    )


def swings_table(result: FlipResult) -> TypedTable:
    """Return how far each input moves the answer over its own range, the widest first."""
    columns = [
        Column("Input"), Column("From", "figure"), Column("to", "figure"), Column("Gain/head from", "gain"),
        Column("to", "gain"), Column("Changes at", "figure"),
    ]  # fmt: skip
    rows = [
        (
            sentences.capital(s.label), Cell(s.low, f.measure(s.low, s.unit)), Cell(s.high, f.measure(s.high, s.unit)),
            s.gain_low, s.gain_high,
            Cell(s.flip_at, f.measure(s.flip_at, s.unit)) if s.flips else Cell(),
        )
        for s in result.swings
    ]  # fmt: skip
    title = f"{sentences.swings_title(result)} ({f.money(result.gain_per_head, sign=True)} a head as planned)"
    return table(title, columns, rows, caption=sentences.SWINGS_CAPTION)


def grid_content(grid: FlipGrid) -> Document:
    """Return the gain from keeping over two inputs, five values a side at most, the ends included."""
    across, down = _ends_and_between(len(grid.x_values)), _ends_and_between(len(grid.y_values))
    columns = [
        Column(sentences.capital(grid.y.label)),
        *(Column(f.measure(grid.x_values[k], grid.x.unit), "gain") for k in across),
    ]
    rows = [
        (
            Cell(grid.y_values[row], f.measure(grid.y_values[row], grid.y.unit)),
            *(Cell(grid.gains[row][column]) for column in across),
        )
        for row in down
    ]
    even = [
        f"Breakeven: {f.measure(x, grid.x.unit)} with {grid.y.label} {f.measure(y, grid.y.unit)}."
        for x, y in grid.flip_line[:: max(len(grid.flip_line) - 1, 1)]
    ]
    return document(table(f"{sentences.grid_title(grid)}; {grid.x.label} across", columns, rows), *even)


def _ends_and_between(count: int) -> list[int]:
    steps = min(count, GRID_COLUMNS)
    return sorted({round(k * (count - 1) / max(steps - 1, 1)) for k in range(steps)})


def sorting_content(sorting: Sorting) -> Document:
    """Return the best choice at each weight, and what sorting is worth."""
    columns = [
        Column("Weight", "weight"),
        Column("Best choice"),
        Column("Best gain/head from keeping", "gain"),
    ]
    rows = [(row.weight_lb, _sorted_choice(row), row.gain_per_head) for row in sorting.rows]
    return document(
        sentences.sorting_line(sorting),
        table(f"{sorting.group}: the best choice by weight at weaning", columns, rows),
    )


def _sorted_choice(row: SortRow) -> str:
    return row.choice if row.choice == SELL_NOW else f"{row.choice}, sold {f.day(row.sale_date)}"


def report_of(
    comparison: Comparison,
    outlook: Outlook,
    *,
    records: pd.DataFrame | RecordTable | None = None,
    season: pd.DataFrame | None = None,
    flips: Sequence[FlipResult] = (),
    title: str = "",
    code: Picture | None = None,
) -> Document:
    """Return the report of a comparison, one document for the page and the PDF.

    Parameters
    ----------
    records : DataFrame, RecordTable or None
        Tidy sale records, to be shown behind the price curve.
    season : DataFrame or None
        ``month``, ``index``, ``low``, ``high``; its picture is left out without it.
    flips : sequence of FlipResult
        What would change each answer, one option a group; told beside it.
    title : str
        The plan's name; "Keep or sell" without one.
    code : Picture or None
        What opens the plan again when it is scanned.
    """
    sheets = tables.sheets_of(comparison.groups)
    changes = {flip.group: sentences.flip_line(flip) for flip in flips}
    herd = answers.herd_answer(comparison) if len(comparison.groups) > 1 else ""
    axis = answers.shared_axis(comparison.groups)
    told = [sentences.sentence(note) for note in comparison.notes if note not in outlook.notes]
    of_the_fit = notes(map(sentences.sentence, outlook.notes), "source")
    return document(
        Heading(sentences.ANSWER_HEADING),
        *(answer_block(group, axis, changes.get(group.group, ""), drawn=True) for group in comparison.groups),
        sentences.BAR_KEY,
        herd,
        *_ways(comparison.groups),
        Heading(sentences.MONTHS_HEADING),
        sentences.MONTHS_EXPLAINED,
        *_months(comparison.groups),
        *_changes(flips),
        cautions_block(comparison),
        Heading(sentences.RESTS_HEADING),
        *notes((*answers.rests_on(comparison, outlook.basis), *told, *_taken(comparison)), "source"),
        Block("screen", (*of_the_fit, *_market_pictures(outlook, records, season))),
        Heading(sentences.BUDGETS_HEADING),
        *(part for groups in sheets for part in _budgets(groups, code if groups is sheets[-1] else None)),
        sentences.CODE_WORDS if code else "",
        title=title or sentences.REPORT_TITLE,
        subtitle=sentences.report_date(f.day(comparison.as_of)),
        as_of=f.day(comparison.as_of),
    )


def _taken(comparison: Comparison) -> tuple[str, ...]:
    """Return the groups' notes, and what was taken for fields that the plan leaves out."""
    defaults = sentences.defaults_line(answers.default_rows(comparison))
    told = shared_notes([(group.group, _group_notes(group)) for group in comparison.groups])
    return (*told, *([defaults] if defaults else []))


def _ways(groups: Sequence[GroupResult]) -> Iterable[Part | str]:
    """Return the choices, up to three groups side by side, and what their floors are worth."""
    for sheet in tables.sheets_of(groups):
        kept = [group for group in sheet if len(group.alternatives) > 1]
        if kept:
            yield tables.alternatives_side_by_side(kept)
            worth = {
                g.group: w.fair_cost_cwt for g in kept for w in g.alternatives if w.fair_cost_cwt is not None
            }
            yield answers.floors_worth(worth) if worth else ""


def _months(groups: Sequence[GroupResult]) -> Iterable[Part]:
    """Return the months of sale, up to three groups side by side: the table, and the picture where there is room."""
    from slidefit.report.charts.answer_charts import gains_side_by_side

    for sheet in tables.sheets_of(groups):
        kept = [group for group in sheet if group.keep]
        if kept:
            drawn = Picture(
                partial(gains_side_by_side, kept), " ".join(map(sentences.gain_picture_alt, kept))
            )
            yield drawn if len(groups) == 1 else Block("screen", (drawn,))
            yield tables.months_side_by_side(kept)


def _changes(flips: Sequence[FlipResult]) -> list[Part]:
    """Return what would change each answer, as pictures for the screen: paper has the breakevens in their place."""
    from slidefit.report.charts.answer_charts import swings_chart

    drawn = (
        Picture(partial(swings_chart, flip, printed=True), sentences.swings_picture_alt(flip))
        for flip in flips
    )
    told: list[Simple] = [Heading(sentences.FLIPS_HEADING), *drawn]
    return [Block("screen", tuple(told))] if flips else []


def _market_pictures(
    outlook: Outlook, records: pd.DataFrame | RecordTable | None, season: pd.DataFrame | None
) -> list[Picture]:
    from slidefit.report.charts.market_charts import price_by_weight, season_chart

    made = [Picture(partial(price_by_weight, outlook, records), sentences.price_picture_alt(outlook))]
    if season is not None:
        draw = partial(season_chart, season, outlook.basis)
        made.append(Picture(draw, sentences.season_picture_alt(season)))
    return made


def _budgets(groups: Sequence[GroupResult], code: Picture | None) -> Iterable[Part | str]:
    yield from tables.budgets_side_by_side(groups)
    kept = tables.kept_of(groups)
    beside: list[Simple] = []
    if kept:
        yield tables.breakevens_side_by_side(groups)
        beside += [tables.figures_side_by_side(groups)]
        beside += [tables.cash_side_by_side(groups)] if any(option.cash for _, option in kept) else []
    beside += [code] if code else []
    yield Block("pair", tuple(beside)) if beside else ""
    yield most_out(kept) if any(option.cash for _, option in kept) else ""


def _group_notes(group: GroupResult) -> tuple[str, ...]:
    shown = answers.shown_option(group)
    own = () if shown is None else shown.notes
    refused = (sentences.unavailable_line(each) for each in group.unavailable)
    feed = () if shown is None or shown.energy is None else (sentences.energy_line(shown.energy),)
    return (*feed, *group.notes, *own, *refused)


def shared_notes(noted: Sequence[tuple[str, Sequence[str]]]) -> tuple[str, ...]:
    """Return the groups' notes, those that all groups have said once, the others with their group's name.

    >>> shared_notes([("Steers", ["No bid.", "Mind the feed."]), ("Heifers", ["No bid."])])
    ('No bid.', 'Steers: Mind the feed.')
    """
    first = noted[0][1] if noted else ()
    common = [note for note in dict.fromkeys(first) if all(note in notes for _, notes in noted)]
    own = [
        note if note.startswith(f"{name}: ") or len(noted) == 1 else f"{name}: {note}"
        for name, notes in noted
        for note in dict.fromkeys(notes)
        if note not in common
    ]
    return (*common, *own)
