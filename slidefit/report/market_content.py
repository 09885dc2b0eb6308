"""What is said of records, of the sale book, of a fit and of past forecasts, as documents."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeAlias

from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.document import Cell, Column, Document, Kind, Note, TypedTable, document, notes, table
from slidefit.report.futures_content import past_and_futures, said_came_table
from slidefit.report.sources_content import price_lines, questions_of, words_tables

if TYPE_CHECKING:
    import pandas as pd

    from slidefit.decision.replay import Replay
    from slidefit.market.backtest import Backtest
    from slidefit.market.market_fit import MarketFit
    from slidefit.records.book.book_batches import AddResult
    from slidefit.records.result import ReadResult
    from slidefit.records.sale_book import BookSummary
    from slidefit.records.sale_levels import WeightPrices

Rows: TypeAlias = "pd.DataFrame | Sequence[Mapping[str, Any]]"
SHOWN_CANDIDATES = 6
PREVIEW_COLUMNS = (
    "sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "price_cwt", "traits", "flags",
)  # fmt: skip
MOST_FILES, MOST_GAPS = 20, 8
NAMELESS = "(no name)"


def slide_table(slides: Rows, caption: str = "") -> TypedTable:
    """Return the slide by sex, step of weight and month, with its interval: today's first, where it is known.

    Parameters
    ----------
    slides : DataFrame, or list of dict
        ``sex``, ``from_lb``, ``to_lb``, ``month``, ``percent_per_cwt``, ``percent_low``, ``percent_high``,
        ``dollars_per_cwt_per_cwt``; and of today's slide ``percent_today``, ``percent_today_low``,
        ``percent_today_high``, ``dollars_today``.
    """
    found = f.rows_of(slides)
    today = "percent_today_low" in found[0]
    first = (
        ("percent_today", "percent_today_low", "percent_today_high", "dollars_today")
        if today
        else ("percent_per_cwt", "percent_low", "percent_high", "dollars_per_cwt_per_cwt")
    )
    columns = [
        Column("Sex"), Column("From, lb", "count"), Column("To, lb", "count"), Column("Month"),
        Column("Slide today, % per cwt" if today else "Slide, % per cwt", "percent"), Column("95% interval", "percent"),
        Column("$/cwt per cwt", "cents", spare=2), *([Column("All records, %", "percent", spare=1)] if today else []),
    ]  # fmt: skip
    rows = []
    for row in found:
        percent, low, high, dollars = (float(row[name]) for name in first)
        month = "year" if row["month"] is None else f.month_name(int(row["month"]), short=True)
        steps = (row["sex"], float(row["from_lb"]), float(row["to_lb"]), month)
        beside = [float(row["percent_per_cwt"])] if today else []
        rows.append((*steps, percent, (low, high), dollars, *beside))
    usual = sentences.SLIDE_TODAY_CAPTION if today else sentences.SLIDE_CAPTION
    return table(sentences.SLIDE_TITLE, columns, rows, caption=caption or usual)


def season_table(season: Rows) -> TypedTable:
    """Return the season by month, with its interval.

    Parameters
    ----------
    season : DataFrame, or list of dict
        ``month``, ``index``, ``low``, ``high``.
    """
    rows = [
        (
            f.month_name(int(row["month"])),
            Cell(row["index"], f"{row['index']:.1f}"),
            Cell((row["low"], row["high"]), f"{row['low']:.1f} to {row['high']:.1f}"),
        )
        for row in f.rows_of(season)
    ]
    columns = [Column("Month"), Column("Index", "figure"), Column("95% interval", "figure")]
    return table(sentences.SEASON_TITLE, columns, rows, caption=sentences.SEASON_CAPTION)


def fit_content(fit: MarketFit, path: str = "") -> Document:
    """Return what was fitted to what, the choice of model, the slide, and what to know of it."""
    from slidefit.market.fit.slide_model import slide_rows

    return document(
        *_basis(fit),
        *([_candidates(fit)] if fit.slide_fit.candidates else []),
        slide_table(slide_rows(fit.model)),
        *past_and_futures(fit.record, fit.outlook().futures),
        *noted(fit.notes),
        f"Saved: {path}" if path else "",
    )


def _candidates(fit: MarketFit) -> TypedTable:
    shown = sorted(fit.slide_fit.candidates, key=lambda c: (not c.chosen, c.excess))[:SHOWN_CANDIDATES]
    rows = [
        (
            c.label + (" (chosen)" if c.chosen else ""), c.columns,
            Cell(c.error, f.percent(100.0 * c.error, decimals=2)),
            Cell(c.excess, f"{c.excess:.1f}% \u00b1 {c.excess_se:.1f}"),
        )
        for c in shown
    ]  # fmt: skip
    columns = [
        Column("Slide"), Column("Terms", "count"), Column("Error of a lot", "figure"),
        Column("Worse than the best by", "figure"),
    ]  # fmt: skip
    return table(sentences.CANDIDATES_TITLE, columns, rows, caption=sentences.CANDIDATES_CAPTION)


def slide_content(fit: MarketFit, slides: Rows) -> Document:
    """Return the slide's table with what it rests on, and what thin records made the fit do without."""
    return document(slide_table(slides), *_basis(fit), *noted(fit.notes))


def season_content(fit: MarketFit) -> Document:
    """Return the season's table with what it rests on."""
    from slidefit.market.season import season_rows

    return document(
        season_table(season_rows(fit.season_fit)),
        sentences.basis_line(fit.basis),
        *noted(fit.season_fit.notes),
    )


def _basis(fit: MarketFit) -> tuple[str, str, str]:
    return (
        sentences.basis_line(fit.basis),
        sentences.verdict_line(fit.basis.verdict),
        sentences.errors_line(fit.model.rule),
    )


def noted(told: Sequence[str]) -> tuple[Note, ...]:
    """Return notes that were written without their full stop."""
    return notes(f"{note}." for note in told)


def backtest_content(test: Backtest, money: Replay, months_kept: int) -> Document:
    """Return the record of past forecasts, the money by months kept and by year, and what both say in words."""
    from slidefit.decision.replay import replay_notes

    return forecasts_content(test) + document(
        sentences.keeping_line(money.keeping),
        _money(money.by_months(), "Months kept", sentences.REPLAY_TITLE),
        _money(money.by_year(months_kept), "Year", sentences.replay_year_title(months_kept)),
        *noted(replay_notes(money)),
    )


def forecasts_content(test: Backtest) -> Document:
    """Return the record of past forecasts, and what it says in words."""
    from slidefit.market.accuracy import accuracy_notes, accuracy_rows

    return document(
        sentences.backtest_line(test),
        _accuracy(accuracy_rows(test)),
        said_came_table(test.record),
        *noted(accuracy_notes(test)),
    )


def _accuracy(accuracy: Sequence[Mapping[str, Any]]) -> TypedTable:
    futures = any(row["walk_ratio"] == row["walk_ratio"] for row in accuracy)
    columns = [
        Column("Ahead", "count"), Column("Count", "count"), Column("Bias", "percent"), Column("Error", "percent"),
        Column("In 50%", "whole_percent", spare=1), Column("In 80%", "whole_percent"),
        Column("In 95%", "whole_percent", spare=2), Column("CRPS", "percent", spare=4),
        *([Column("With futures", "bare_cents")] if futures else []), Column("No change", "whole_percent"),
        Column("Last year", "whole_percent", spare=3),
    ]  # fmt: skip
    names = (
        "months_ahead", "forecasts", "bias_pct", "rmse_pct", "covered_50_pct", "covered_80_pct", "covered_95_pct",
        "crps_pct", *(["walk_ratio"] if futures else []), "skill_no_change_pct", "skill_last_year_pct",
    )  # fmt: skip
    rows = [[float(row[name]) for name in names] for row in accuracy]
    return table(sentences.ACCURACY_TITLE, columns, rows, caption=sentences.ACCURACY_CAPTION)


def _money(made: Sequence[Mapping[str, Any]], heading: str, title: str) -> TypedTable:
    columns = [
        Column(heading, "figure"), Column("Decisions", "count", spare=1), Column("Advice kept", "count"),
        Column("Always keep", "gain"), Column("The advice", "gain"), Column("Hindsight", "gain", spare=2),
        Column("Advice right", "whole_percent"), Column("Keep, bad tenth", "gain", spare=3),
        Column("Advice, bad tenth", "gain", spare=3), Column("Keep, log", "percent", spare=4),
        Column("Advice, log", "percent", spare=4),
    ]  # fmt: skip
    names = (
        "decisions", "kept", "always_keep", "advice", "hindsight", "right", "always_keep_worst_tenth",
        "advice_worst_tenth", "always_keep_log_pct", "advice_log_pct",
    )  # fmt: skip
    rows: list[list[Cell | float]] = [
        [
            Cell(str(next(iter(row.values())))),
            *((100.0 if name == "right" else 1.0) * row[name] for name in names),
        ]
        for row in made
    ]
    return table(title, columns, rows, caption=sentences.REPLAY_CAPTION)


def add_account(added: int, already_there: int, set_aside: int, reasons: Mapping[str, int]) -> TypedTable:
    """Return the account of an addition; its lines add up to the rows read.

    Parameters
    ----------
    reasons : mapping of reason to rows
        For the rows set aside, the most frequent first in the table.
    """
    rows = [
        ("rows read", added + already_there + set_aside),
        ("added", added),
        ("already there", already_there),
        ("set aside", set_aside),
        *((f"  {reason}", n) for reason, n in _ranked(reasons)),
    ]
    return table("What was read", ["Rows", ("Count", "count")], rows)


def reason_words(reason: str) -> str:
    """Return a reason's name as words.

    >>> reason_words("missing_price")
    'missing price'
    """
    return reason.replace("_", " ")


def _ranked(reasons: Mapping[str, int]) -> list[tuple[str, int]]:
    ranked = sorted(reasons.items(), key=lambda item: (-item[1], item[0]))
    return [(reason_words(reason), count) for reason, count in ranked]


def counts_table(counts: Rows, *, title: str = "Records in the book") -> TypedTable:
    """Return counts of records: every column of numbers right and with thousands marked, the rest as text.

    Parameters
    ----------
    counts : DataFrame, or sequence of dict
        Such as ``market``, ``year``, ``sex``, ``lots``, ``head``; a column named ``year`` is not grouped.
    """
    found = f.rows_of(counts)
    kinds: dict[str, Kind] = {
        name: "count" if any(isinstance(row[name], int | float) for row in found) else "text"
        for name in (found[0] if found else ("market", "year", "sex", "records", "head"))
    }
    columns = [Column(name.replace("_", " ").capitalize(), kind) for name, kind in kinds.items()]
    rows = [
        [
            float("nan" if row[name] is None else row[name])
            if kind == "count" and name != "year"
            else Cell(_plain(row[name]))
            for name, kind in kinds.items()
        ]
        for row in found
    ]
    return table(title, columns, rows)


def _plain(value: object) -> str:
    if isinstance(value, datetime):
        return f.day(value.date())
    return f"{value:.0f}" if isinstance(value, float) else str(value)


def preview_table(
    records: pd.DataFrame, columns: Sequence[str], texts: Mapping[int, str] | None = None
) -> TypedTable:
    """Return the first rows of tidy records as they were understood, for a look before adding.

    ``texts``: the source's text of a row by its number, to stand beside the record.
    """
    rows = [
        [_blank(value) for value in row] for row in records[list(columns)].itertuples(index=False, name=None)
    ]
    if texts is None:
        return table("As understood", list(columns), rows)
    told = [f"{number}: {texts[number]}" if number in texts else "" for number in records["source_row"]]
    beside = [[text, *row] for text, row in zip(told, rows, strict=True)]
    return table("", ["row and text of the file", *columns], beside)


def _blank(value: object) -> str:
    if value is None or value != value:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat()
    return f"{value:g}" if isinstance(value, float) else str(value)


def add_content(read: ReadResult, added: AddResult) -> Document:
    """Return the account of an addition: counts, reasons, notes, and how to undo it."""
    corrected = f"{f.count(added.corrected)} records came again with another price and were corrected."
    return document(
        add_account(added.added, added.already_there, added.set_aside, added.reasons),
        *([_files_table(read)] if len(read.files) > 1 else []),
        corrected if added.corrected else "",
        *notes(read.notes),
        *notes(
            f"{read_as or NAMELESS} was entered as {name}, by an earlier renaming"
            for read_as, name in sorted(added.renamed.items())
        ),
        *notes(f"set aside whole, beside the book: {sale.told()}" for sale in added.off),
        *notes(
            f"{gap.market or NAMELESS}: no sale from {f.day(gap.last)} to {f.day(gap.next)}, where sales are "
            f"{gap.usual_days} days apart"
            for gap in added.gaps[:MOST_GAPS]
        ),
        *questions_of(read),
        f"Batch {added.batch}; to take it out: slidefit undo {added.batch}"
        if added.batch
        else "Nothing new: the book is as it was.",
    )


def dry_run_content(read: ReadResult, prices: Sequence[WeightPrices] = ()) -> Document:
    """Return how the files would be read: each column's meaning, the first rows, prices by weight, rows set aside."""
    return document(
        *(
            table(
                account.name,
                ["Heading", "Read as", "Unit", "How it was decided"],
                [(c.heading, c.field, c.unit, c.how) for c in account.columns],
            )
            for account in read.files[:MOST_FILES]
        ),
        *(part for account in read.files[:MOST_FILES] for part in words_tables(account)),
        preview_table(read.first_rows(), PREVIEW_COLUMNS),
        *(f"Row {row} of the file: {text}" for account in read.files[:1] for row, text in account.samples),
        *price_lines(prices),
        *([table("Set aside", ["Reason", ("Rows", "count")], _ranked(read.reasons))] if read.reasons else []),
        *notes(read.notes),
        *questions_of(read),
        f"{f.count(read.rows_seen)} rows seen, {f.count(read.accepted)} would be read, "
        f"{f.count(read.set_aside_rows)} set aside. Nothing was added.",
    )


def book_content(summary: BookSummary) -> Document:
    """Return what the book holds: markets and their gaps, counts by year and sex, batches."""
    columns = [
        Column("Market"), Column("Currency", spare=2), Column("Lots", "count"), Column("Head", "count", spare=1),
        Column("Sales", "count"), Column("First", "day"), Column("Last", "day"),
    ]  # fmt: skip
    markets = [
        (m.market or NAMELESS, m.currency, m.records, m.head, m.sales, m.first, m.last)
        for m in summary.markets
    ]
    batches = [
        (
            b.batch,
            b.added_at.strftime("%Y-%m-%d %H:%M"),
            b.records,
            b.set_aside,
            f"{b.renamed[0] or NAMELESS} renamed {b.renamed[1]}" if b.renamed else ", ".join(b.files),
        )
        for b in summary.batches
    ]
    gaps = [
        f"{market.market or NAMELESS}: no sale in {', '.join(market.gaps[:MOST_GAPS])}"
        + (f" and {len(market.gaps) - MOST_GAPS} more" if len(market.gaps) > MOST_GAPS else "")
        for market in summary.markets
        if market.gaps
    ]
    return document(
        table(f"{summary.path}: {f.count(summary.records)} records", columns, markets),
        counts_table(summary.count_rows, title="By market, year and sex"),
        *gaps,
        table("Batches", ["Batch", "Added", ("Lots", "count"), ("Set aside", "count"), "Files"], batches),
    )


def _files_table(read: ReadResult) -> TypedTable:
    rows: list[tuple[Any, ...]] = [
        (account.name, account.rows_seen, account.accepted, account.set_aside)
        for account in read.files[:MOST_FILES]
    ]
    if len(read.files) > MOST_FILES:
        rows.append((f"and {len(read.files) - MOST_FILES} more files", None, None, None))
    return table("File by file", ["File", ("Rows", "count"), ("Read", "count"), ("Set aside", "count")], rows)
