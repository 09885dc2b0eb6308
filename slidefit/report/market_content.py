"""Records read, the book, a fit, past forecasts: as documents."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd
from rich.console import RenderableType
from rich.table import Table

from slidefit.decision.replay import Replay, replay_notes
from slidefit.market.backtest import Backtest, accuracy_notes, accuracy_table
from slidefit.market.market_fit import MarketFit
from slidefit.records.result import ReadResult
from slidefit.records.sale_book import AddResult, BookSummary
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.answer_tables import season_table, slide_table
from slidefit.report.terminal_tables import new_table, text_of

SHOWN_CANDIDATES = 6


def fit_text(fit: MarketFit, path: str, *, width: int = 100) -> str:
    """Return what was fitted to what, the choice of model, the slide, and what to know of it."""
    parts: list[RenderableType] = [*_basis(fit), ""]
    if fit.candidates:
        shown = sorted(fit.candidates, key=lambda c: (not c.chosen, c.excess))[:SHOWN_CANDIDATES]
        rows = [
            (
                c.label + (" (chosen)" if c.chosen else ""),
                str(c.columns),
                f.percent(100.0 * c.error, decimals=2),
                f"{c.excess:.1f}% \u00b1 {c.excess_se:.1f}",
            )
            for c in shown
        ]
        columns = [
            ("Slide", "left"),
            ("Terms", "right"),
            ("Error of a lot", "right"),
            ("Worse than the best by", "right"),
        ]
        parts.append(
            new_table(sentences.CANDIDATES_TITLE, columns, rows, caption=sentences.CANDIDATES_CAPTION)
        )
    parts += [slide_table(fit.slide()), *_notes(fit.notes), f"Saved: {path}"]
    return text_of(*parts, width=width)


def slide_text(fit: MarketFit, slides: pd.DataFrame, *, width: int = 100) -> str:
    """Return the slide's table with what it rests on, and what thin records made the fit do without."""
    return text_of(slide_table(slides), *_basis(fit), *_notes(fit.notes), width=width)


def season_text(fit: MarketFit, *, width: int = 100) -> str:
    """Return the season's table with what it rests on."""
    return text_of(
        season_table(fit.season()),
        sentences.basis_line(fit.basis),
        *_notes(fit.season_fit.notes),
        width=width,
    )


def _basis(fit: MarketFit) -> list[RenderableType]:
    return [
        sentences.basis_line(fit.basis),
        sentences.verdict_line(fit.basis.verdict),
        sentences.errors_line(fit.model.rule),
    ]


def _notes(notes: tuple[str, ...]) -> list[RenderableType]:
    return [f"Note: {note}." for note in notes]


def backtest_text(test: Backtest, money: Replay, months_kept: int, *, width: int = 100) -> str:
    """Return the record of past forecasts, the money by months kept and by year, and what both say in words."""
    parts: list[RenderableType] = [
        sentences.backtest_line(test),
        _accuracy(accuracy_table(test)),
        *(f"Note: {note}." for note in accuracy_notes(test)),
        "",
        sentences.keeping_line(money.keeping),
        _money(money.by_months(), "Months kept", sentences.REPLAY_TITLE),
        _money(money.by_year(months_kept), "Year", sentences.replay_year_title(months_kept)),
        *(f"Note: {note}." for note in replay_notes(money)),
    ]
    return text_of(*parts, width=width)


def _accuracy(table: pd.DataFrame) -> Table:
    columns = [
        ("Ahead", "right"), ("Count", "right"), ("Bias", "right"), ("Error", "right"),
        ("In 50%", "right"), ("In 80%", "right"), ("In 95%", "right"),
        ("No change", "right"), ("Last year", "right"),
    ]  # fmt: skip
    names = (
        "bias_pct", "rmse_pct", "covered_50_pct", "covered_80_pct", "covered_95_pct", "skill_no_change_pct",
        "skill_last_year_pct",
    )  # fmt: skip
    rows = [
        [str(row["months_ahead"]), f.count(row["forecasts"])]
        + [f.percent(float(row[name]), decimals=1 if place < 2 else 0) for place, name in enumerate(names)]
        for row in table.to_dict(orient="records")
    ]
    return new_table(sentences.ACCURACY_TITLE, columns, rows, caption=sentences.ACCURACY_CAPTION)


def _money(table: pd.DataFrame, heading: str, title: str) -> Table:
    columns = [
        (heading, "right"), ("Decisions", "right"), ("Advice kept", "right"), ("Always keep", "right"),
        ("The advice", "right"), ("Hindsight", "right"), ("Advice right", "right"),
    ]  # fmt: skip
    rows = [
        (
            str(row[table.columns[0]]), f.count(row["decisions"]), f.count(row["kept"]),
            f.money(row["always_keep"], sign=True), f.money(row["advice"], sign=True),
            f.money(row["hindsight"], sign=True), f.percent(100.0 * row["right"], decimals=0),
        )
        for row in table.to_dict(orient="records")
    ]  # fmt: skip
    return new_table(title, columns, rows, caption=sentences.REPLAY_CAPTION)


def add_account(added: int, already_there: int, set_aside: int, reasons: Mapping[str, int]) -> Table:
    """Return the account of an addition; its lines add up to the rows read.

    Parameters
    ----------
    reasons : mapping of reason to rows
        For the rows set aside, the most frequent first in the table.
    """
    rows = [("rows read", f.count(added + already_there + set_aside)), ("added", f.count(added))]
    rows += [("already there", f.count(already_there)), ("set aside", f.count(set_aside))]
    rows += [(f"  {reason_words(reason)}", f.count(n)) for reason, n in _ranked(reasons)]
    return new_table("What was read", [("Rows", "left"), ("Count", "right")], rows)


def reasons_table(reasons: Mapping[str, int]) -> Table:
    """Return the rows set aside by reason, the most frequent first."""
    rows = [(reason_words(reason), f.count(n)) for reason, n in _ranked(reasons)]
    return new_table("Set aside", [("Reason", "left"), ("Rows", "right")], rows)


def reason_words(reason: str) -> str:
    """Return a reason's name as words.

    Examples
    --------
    >>> reason_words("missing_price")
    'missing price'
    """
    return reason.replace("_", " ")


def _ranked(reasons: Mapping[str, int]) -> list[tuple[str, int]]:
    return sorted(reasons.items(), key=lambda item: (-item[1], item[0]))


def counts_table(counts: pd.DataFrame, *, title: str = "Records in the book") -> Table:
    """Return counts of records: every column of numbers right and with thousands marked, the rest as text.

    Parameters
    ----------
    counts : DataFrame
        Such as ``market``, ``year``, ``sex``, ``lots``, ``head``; a column named ``year`` is not grouped.
    """
    numeric = [pd.api.types.is_numeric_dtype(counts[name]) for name in counts.columns]
    columns = [
        (str(name).replace("_", " ").capitalize(), "right" if number else "left")
        for name, number in zip(counts.columns, numeric, strict=True)
    ]
    rows = [
        [
            f.count(float(value)) if number and name != "year" else _plain(value)
            for name, number, value in zip(counts.columns, numeric, row, strict=True)
        ]
        for row in counts.itertuples(index=False, name=None)
    ]
    return new_table(title, columns, rows)


def _plain(value: object) -> str:
    if isinstance(value, pd.Timestamp):
        return f.day(value.date())
    if isinstance(value, float):
        return f"{value:.0f}"
    return str(value)


def preview_table(records: pd.DataFrame, columns: Sequence[str]) -> Table:
    """Return the first rows of tidy records as they were understood, for a look before adding."""
    rows = [
        [_cell(value) for value in row] for row in records[list(columns)].itertuples(index=False, name=None)
    ]
    return new_table("As understood", [(name, "left") for name in columns], rows)


def _cell(value: object) -> str:
    if value is None or value is pd.NaT or (isinstance(value, float) and pd.isna(value)):
        return ""
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    return f"{value:g}" if isinstance(value, float) else str(value)


PREVIEW_COLUMNS = (
    "sale_date",
    "market",
    "sex",
    "frame",
    "muscle",
    "head",
    "weight_lb",
    "price_cwt",
    "traits",
    "flags",
)
MOST_FILES = 20
MOST_GAPS = 8


def add_text(read: ReadResult, added: AddResult, *, width: int = 100) -> str:
    """Return the account of an addition: counts, reasons, notes, and how to undo it."""
    parts: list[RenderableType] = [
        add_account(added.added, added.already_there, added.set_aside, added.reasons)
    ]
    if len(read.files) > 1:
        parts.append(_files_table(read))
    if added.corrected:
        parts.append(f"{f.count(added.corrected)} records came again with another price and were corrected.")
    parts += [f"Note: {note}" for note in read.notes]
    if added.batch:
        parts.append(f"Batch {added.batch}; to take it out again: slidefit undo {added.batch}")
    else:
        parts.append("Nothing new: the book is as it was.")
    return text_of(*parts, width=width)


def dry_run_text(read: ReadResult, *, width: int = 100) -> str:
    """Return how the files would be read: each column's meaning, the first rows, the rows set aside."""
    parts: list[RenderableType] = []
    for account in read.files[:MOST_FILES]:
        rows = [(c.heading, c.field, c.unit, c.how) for c in account.columns]
        columns = [("Heading", "left"), ("Read as", "left"), ("Unit", "left"), ("How it was decided", "left")]
        parts.append(new_table(account.name, columns, rows))
    parts.append(preview_table(read.first_rows(), list(PREVIEW_COLUMNS)))
    if read.reasons:
        parts.append(reasons_table(read.reasons))
    parts += [f"Note: {note}" for note in read.notes]
    parts.append(
        f"{f.count(read.rows_seen)} rows seen, {f.count(read.accepted)} would be read, "
        f"{f.count(read.set_aside_rows)} set aside. Nothing was added."
    )
    return text_of(*parts, width=width)


def book_text(summary: BookSummary, *, width: int = 100) -> str:
    """Return what the book holds: markets and their gaps, counts by year and sex, batches."""
    markets = [
        (
            m.market or "(no name)",
            m.currency,
            f.count(m.records),
            f.count(m.head),
            f.count(m.sales),
            f.day(m.first),
            f.day(m.last),
        )
        for m in summary.markets
    ]
    columns = [
        ("Market", "left"), ("Currency", "left"), ("Lots", "right"), ("Head", "right"), ("Sales", "right"),
        ("First", "left"), ("Last", "left"),
    ]  # fmt: skip
    parts: list[RenderableType] = [
        new_table(f"{summary.path}: {f.count(summary.records)} records", columns, markets),
        counts_table(summary.counts, title="By market, year and sex"),
    ]
    for market in summary.markets:
        if market.gaps:
            more = f" and {len(market.gaps) - MOST_GAPS} more" if len(market.gaps) > MOST_GAPS else ""
            months = ", ".join(market.gaps[:MOST_GAPS])
            parts.append(f"{market.market or '(no name)'}: no sale in {months}{more}")
    batches = [
        (
            b.batch,
            b.added_at.strftime("%Y-%m-%d %H:%M"),
            f.count(b.records),
            f.count(b.set_aside),
            ", ".join(b.files),
        )
        for b in summary.batches
    ]
    headings = [
        ("Batch", "left"),
        ("Added", "left"),
        ("Lots", "right"),
        ("Set aside", "right"),
        ("Files", "left"),
    ]
    parts.append(new_table("Batches", headings, batches))
    return text_of(*parts, width=width)


def _files_table(read: ReadResult) -> RenderableType:
    rows = [
        (account.name, f.count(account.rows_seen), f.count(account.accepted), f.count(account.set_aside))
        for account in read.files[:MOST_FILES]
    ]
    if len(read.files) > MOST_FILES:
        rows.append((f"and {len(read.files) - MOST_FILES} more files", "", "", ""))
    columns = [("File", "left"), ("Rows", "right"), ("Read", "right"), ("Set aside", "right")]
    return new_table("File by file", columns, rows)
