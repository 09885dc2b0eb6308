"""Results as JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields, is_dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from slidefit.report.formatting import rows_of

if TYPE_CHECKING:
    import pandas as pd

    from slidefit.decision.replay import Replay
    from slidefit.decision.results import Comparison, GroupResult, KeepOption
    from slidefit.decision.risk.answer_changes import FlipGrid, FlipResult
    from slidefit.decision.risk.sorting import Sorting
    from slidefit.market.backtest import Backtest
    from slidefit.market.market_fit import MarketFit
    from slidefit.records.book.book_batches import AddResult
    from slidefit.records.result import ReadResult
    from slidefit.records.sale_book import BookSummary


def plain(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return a document with results as their fields, dates as ISO text and numbers that are not finite as None."""
    return {key: _plain(item) for key, item in document.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return plain(value)
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def keep_document(option: KeepOption) -> dict[str, Any]:
    """Return one keep option; ``breakeven`` maps names to numbers or null, with the reasons beside it."""
    body = {**asdict(replace(option, breakevens=())), "net_herd": option.net_herd}
    del body["breakevens"], body["later_bid_cwt"]
    body["breakeven"] = {each.name: each.value for each in option.breakevens}
    body["breakeven_planned"] = {each.name: each.planned for each in option.breakevens}
    body["breakeven_reasons"] = {each.name: each.reason for each in option.breakevens if each.reason}
    return body


def group_document(group: GroupResult) -> dict[str, Any]:
    """Return one group: sell now, every keep option, the best, and what could not be compared."""
    own = {**asdict(replace(group, keep=())), "keep": [keep_document(o) for o in group.keep]}
    best = {**own["best"], "program": group.best.program, "sale_month": group.best.sale_month}
    return {**own, "best": best}


def comparison_document(comparison: Comparison) -> dict[str, Any]:
    """Return the comparison as a document that ``json.dumps`` takes.

    Money is in dollars per head started unless a key says herd or acre; ``odds`` are shares from 0 to 1.
    """
    from slidefit.report.futures_content import market_facts

    names = (
        "herd",
        "currency",
        "as_of",
        "source",
        "draws",
        "seed",
        "left_out",
        "cautions",
        "notes",
        "verdict",
    )
    taken = ("field", "value", "unit", "meaning")
    return plain(
        {
            "groups": [group_document(group) for group in comparison.groups],
            **_named(comparison, names),
            "defaults_used": [_named(default, taken) for default in comparison.defaults_used],
            **market_facts(comparison.futures, comparison.record),
        }
    )


def _named(result: object, names: Sequence[str]) -> dict[str, Any]:
    return {name: getattr(result, name) for name in names}


MONTH_KEYS = (
    "program", "sale_month", "sale_date", "days", "weight_lb", "price_cwt", "later_bid_cwt", "gain_per_head",
    "gain_herd", "p10", "p50", "p90", "odds",
)  # fmt: skip


def months_document(comparison: Comparison) -> dict[str, Any]:
    """Return the view by month of sale as a document for JSON, with what it rests on in words."""
    from slidefit.decision.choices import months_of

    rows = []
    for group in comparison.groups:
        shown = months_of(group)
        top = max(shown, key=lambda option: option.gain_herd, default=None)
        rows += [{"group": group.group, **_named(each, MONTH_KEYS), "is_best": each is top} for each in shown]
    told = {group.group: group.notes for group in comparison.groups}
    return plain({"months": rows, "group_notes": told, **_named(comparison, ("notes", "verdict"))})


def option_document(option: KeepOption) -> dict[str, Any]:
    """Return one keep option with its whole budget as a document for JSON."""
    return plain(keep_document(option))


def flip_document(results: Sequence[FlipResult]) -> dict[str, Any]:
    """Return what would flip the answer as a document for JSON."""
    return plain({"flips": results})


def fields_document(result: FlipGrid | Sorting) -> dict[str, Any]:
    """Return a grid over two inputs (``gains`` has a row for each y value) or a sorting by weight, field by field."""
    return plain(asdict(result))


def replay_document(money: Replay, months_kept: int) -> dict[str, Any]:
    """Return what each rule made: by months kept, by year for one number of months, and what it says in words."""
    from slidefit.decision.replay import replay_notes

    kept = {name: value for name, value in vars(money.keeping).items() if name != "plan"}
    return plain(
        {
            "keeping": kept | {"program": money.keeping.program.name},
            "by_months_kept": money.by_months().to_dict(orient="records"),
            "months_kept": months_kept,
            "by_year": money.by_year(months_kept).to_dict(orient="records"),
            "notes": replay_notes(money),
        }
    )


DECIMALS = 4


def slide_document(slides: pd.DataFrame | Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return ``{"slides": [...]}``: a row for each sex, step and month; ``month`` null is the mean of the year.

    Parameters
    ----------
    slides : DataFrame, or list of dict
        From ``MarketFit.slide``.
    """
    return {"slides": _rows(slides)}


def season_document(fit: MarketFit) -> dict[str, Any]:
    """Return ``{"months": [...]}`` (year mean = 100) and what the season rests on."""
    from slidefit.market.season import season_rows

    return {
        "months": _rows(season_rows(fit.season_fit)),
        "harmonics": fit.season_fit.harmonics,
        "notes": list(fit.season_fit.notes),
    }


def fit_document(fit: MarketFit) -> dict[str, Any]:
    """Return what was fitted, to what, and what to know of it."""
    from slidefit.market.fit.slide_model import slide_rows
    from slidefit.report.futures_content import market_facts

    return plain(
        {
            **_named(fit.basis, ("lots", "head", "sales")),
            "markets": fit.markets,
            **_named(fit.basis, ("first_sale", "last_sale")),
            "currency": fit.currency,
            "model": fit.label,
            "clustered_by": fit.model.rule.kind,
            "clusters": fit.model.rule.groups,
            "left_out": fit.left_out,
            "verdict": _named(fit.verdict, ("word", "reasons", "add")),
            "crop_years": fit.years,
            "notes": fit.notes,
            "range_scale": fit.record.range_scale if fit.record else (),
            **market_facts(fit.outlook().futures, fit.record),
            **slide_document(slide_rows(fit.model)),
        }
    )


def backtest_document(test: Backtest) -> dict[str, Any]:
    """Return ``{"horizons": [...]}``, the record of past forecasts by months ahead, and what it says in words."""
    from slidefit.market.accuracy import accuracy_notes, accuracy_table
    from slidefit.market.backtest import month_day

    return {
        "forecasts_from": month_day(test.origins[0].month).strftime("%Y-%m"),
        "forecasts_to": month_day(test.origins[-1].month).strftime("%Y-%m"),
        "origins": len(test.origins),
        "horizons": _rows(accuracy_table(test)),
        "said_came": [asdict(row) for row in test.record.said_came],
        "futures_share": test.record.futures_share if test.has_futures else None,
        "notes": list(accuracy_notes(test)),
    }


def _rows(table: pd.DataFrame | Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    return [rounded(row) for row in rows_of(table)]


def add_document(read: ReadResult, added: AddResult | None) -> dict[str, Any]:
    """Return the account of an addition, or with ``added`` None of a reading that added nothing.

    ``added`` + ``already_there`` + ``set_aside`` is the number of rows seen; ``reasons`` counts the rows set aside.
    """
    counts: dict[str, Any] = (
        {"added": 0, "already_there": 0, "set_aside": read.set_aside_rows, "corrected": 0, "batch": None}
        if added is None
        else {name: getattr(added, name) for name in ("added", "already_there", "set_aside", "corrected")}
        | {"batch": added.batch or None}
    )
    return {
        **counts,
        "reasons": dict(added.reasons) if added else read.reasons,
        "rows_seen": read.rows_seen,
        "accepted": read.accepted,
        "files": [
            {
                "file": account.name,
                **_named(account, ("rows_seen", "accepted", "set_aside")),
                "columns": [asdict(column) for column in account.columns],
                "source": account.source or None,
                "words": [
                    {
                        "field": w.field,
                        "word": w.text,
                        "rows": w.rows,
                        "read_as": w.meaning or None,
                        "left": w.left,
                    }
                    for w in account.words
                ],
                "not_sales": account.not_sales,
                "not_understood": [{"line": line, "text": text} for line, text in account.not_understood],
            }
            for account in read.files
        ],
        "questions": [question.text() for question in read.questions],
        "notes": list(read.notes),
        "renamed": {} if added is None else dict(added.renamed),
        "sales_off": [asdict(sale) | {"day": sale.day.isoformat()} for sale in (added.off if added else ())],
    }


def book_document(summary: BookSummary) -> dict[str, Any]:
    """Return what a book holds: markets with their gaps, batches, and counts by market, year and sex."""
    counted = ("market", "currency", "records", "head", "sales")
    return {
        "book": str(summary.path),
        "records": summary.records,
        "markets": [
            {
                **_named(m, counted),
                "first_sale": m.first.isoformat(),
                "last_sale": m.last.isoformat(),
                "months_without_sales": list(m.gaps),
            }
            for m in summary.markets
        ],
        "batches": [
            {
                "batch": b.batch,
                "added_at": b.added_at.isoformat(timespec="seconds"),
                "files": list(b.files),
                **_named(b, ("records", "corrected", "set_aside")),
                "renamed": None if b.renamed is None else {"from": b.renamed[0], "to": b.renamed[1]},
            }
            for b in summary.batches
        ],
        "counts": list(summary.count_rows),
    }


def rounded(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with its numbers rounded as every document has them."""
    return {key: round(value, DECIMALS) if isinstance(value, float) else value for key, value in row.items()}
