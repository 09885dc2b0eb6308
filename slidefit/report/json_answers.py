"""Results as JSON: the fields of their types, the few keys that differ from them in one table, one rounding rule."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

from slidefit.report.formatting import rows_of

if TYPE_CHECKING:
    from slidefit.decision.replay import Replay
    from slidefit.decision.results import Comparison, KeepOption
    from slidefit.futures_contracts import FuturesQuote
    from slidefit.market.backtest import Backtest
    from slidefit.market.futures import FuturesView
    from slidefit.market.market_fit import MarketFit
    from slidefit.records.book.book_batches import AddResult
    from slidefit.records.futures_book import QuotesAdded
    from slidefit.records.futures_quotes import QuoteFile
    from slidefit.records.result import ReadResult
    from slidefit.regions.hand_edits import HandEdit
    from slidefit.regions.moved.change import NumberChange
    from slidefit.regions.moved.renewal import Renewal, SeasonWork
    from slidefit.regions.region import Region

DIGITS = 9
"""Significant digits of every number: dollars of a large herd to the cent, and sums still add up; the rest is noise of
binary fractions."""
USUAL_MONTHS_KEPT = 4


def json_of(answer: object) -> Any:
    """Return an answer as plain values that ``json.dumps`` takes: a result by its fields, a table by its rows.

    Days are text in ISO form. Numbers keep nine digits; those that are not finite are None.

    >>> json_of({"gain": 0.1 + 0.2, "herd": 1234567.891234, "worst": float("nan"), "years": (2024, 2025)})
    {'gain': 0.3, 'herd': 1234567.89, 'worst': None, 'years': [2024, 2025]}
    """
    shape = SHAPES.get(type(answer).__name__)
    value = shape(answer) if shape else answer
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None
    if is_dataclass(value):
        return {each.name: json_of(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): json_of(item) for key, item in value.items()}
    if hasattr(value, "notna"):
        return [json_of(row) for row in rows_of(value)]
    if hasattr(value, "tolist"):
        return json_of(value.tolist())
    if isinstance(value, Iterable):
        return [json_of(item) for item in value]
    # TypeAdapter's own writer: an adapter takes .15 s to load and build (measured) and has no schema for arrays
    from pydantic_core import to_jsonable_python

    return to_jsonable_python(value)


def _of(result: object, names: str) -> dict[str, Any]:
    return {name: getattr(result, name) for name in names.split()}


def _but(result: Any, *left_out: str) -> dict[str, Any]:
    return {each.name: getattr(result, each.name) for each in fields(result) if each.name not in left_out}


def _keep(option: KeepOption) -> dict[str, Any]:
    return {
        **_but(option, "breakevens", "later_bid_cwt"),
        "net_herd": option.net_herd,
        "breakeven": {each.name: each.value for each in option.breakevens},
        "breakeven_planned": {each.name: each.planned for each in option.breakevens},
        "breakeven_reasons": {each.name: each.reason for each in option.breakevens if each.reason},
    }


MONTH_KEYS = """
    program sale_month sale_date days weight_lb price_cwt later_bid_cwt gain_per_head gain_herd p10 p50 p90 odds
"""


def months_answer(comparison: Comparison) -> dict[str, Any]:
    """Return the view by month of sale, with what it rests on in words."""
    from slidefit.decision.choices import months_of

    rows = []
    for group in comparison.groups:
        shown = months_of(group)
        top = max(shown, key=lambda option: option.gain_herd, default=None)
        rows += [{"group": group.group, **_of(each, MONTH_KEYS), "is_best": each is top} for each in shown]
    told = {group.group: group.notes for group in comparison.groups}
    return {"months": rows, "group_notes": told, **_of(comparison, "notes verdict")}


def backtest_answer(test: Backtest, money: Replay, months_kept: int = USUAL_MONTHS_KEPT) -> dict[str, Any]:
    """Return the record of past forecasts by months ahead, and what each rule made, by months kept and by year."""
    from slidefit.decision.replay import replay_notes
    from slidefit.market.accuracy import accuracy_notes, accuracy_rows
    from slidefit.market.backtest import month_day

    return {
        "forecasts_from": month_day(test.origins[0].month).strftime("%Y-%m"),
        "forecasts_to": month_day(test.origins[-1].month).strftime("%Y-%m"),
        "origins": len(test.origins),
        "horizons": accuracy_rows(test),
        "said_came": test.record.said_came,
        "futures_share": test.record.futures_share if test.has_futures else None,
        "notes": accuracy_notes(test),
        "money": {
            "keeping": {**_but(money.keeping, "plan"), "program": money.keeping.program.name},
            "by_months_kept": money.by_months(),
            "months_kept": months_kept,
            "by_year": money.by_year(months_kept),
            "notes": replay_notes(money),
        },
    }


def _backtest(test: Backtest) -> dict[str, Any]:
    from slidefit.decision.replay import replay

    return backtest_answer(test, replay(test))


def season_answer(fit: MarketFit) -> dict[str, Any]:
    """Return the season by month (mean of the year = 100) and what it rests on."""
    from slidefit.market.season import season_rows

    return {"months": season_rows(fit.season_fit), **_of(fit.season_fit, "harmonics notes")}


def region_season_answer(region: Region) -> dict[str, Any]:
    """Return the same of a region."""
    from slidefit.regions.region_outlook import region_season_rows

    return {"months": region_season_rows(region), "harmonics": region.season.waves, "notes": []}


def _fit(fit: MarketFit) -> dict[str, Any]:
    from slidefit.market.fit.slide_model import slide_rows

    return {
        **_of(fit.basis, "lots head sales markets first_sale last_sale"),
        **_of(fit, "currency notes"),
        "left_out": fit.slide_fit.left_out,
        "model": fit.label,
        "clustered_by": fit.model.rule.kind,
        "clusters": fit.model.rule.groups,
        "verdict": _of(fit.verdict, "word reasons add"),
        "crop_years": fit.years,
        "range_scale": fit.record.range_scale if fit.record else (),
        "futures": fit.outlook().futures,
        "said_came": fit.record,
        "slides": slide_rows(fit.model),
    }


def _futures(view: FuturesView) -> dict[str, Any]:
    percent = [round(100.0 * math.expm1(each), 2) for each in view.basis_log]
    contracts = [{"contract": name, "settlement": price} for name, price in view.contracts]
    told = {"contracts": contracts, "basis_pct": percent, "set_aside": view.set_aside or None}
    return {**_of(view, "as_of share weight_lb"), **told}


def quotes_answer(quotes: Sequence[FuturesQuote], newest: Sequence[FuturesQuote]) -> dict[str, Any]:
    """Return the newest contracts of the book, and how many quotes of what days it holds."""
    first, last = (quotes[0].as_of, quotes[-1].as_of) if quotes else (None, None)
    return {"quotes": len(quotes), "first": first, "last": last, "contracts": newest}


def quotes_added_answer(read: QuoteFile, added: QuotesAdded) -> dict[str, Any]:
    """Return the account of an addition of quotes."""
    batch = added.batch or None
    return {**_but(added, "batch", "rejected"), "batch": batch, **_of(read, "repeated unit rejected")}


def add_answer(read: ReadResult, added: AddResult | None = None) -> dict[str, Any]:
    """Return the account of an addition, or of a reading that added nothing.

    ``added`` + ``already_there`` + ``set_aside`` is the number of rows seen; ``reasons`` counts the rows set aside.
    """
    counts = (
        {"added": 0, "already_there": 0, "set_aside": read.set_aside_rows, "corrected": 0, "batch": None}
        if added is None
        else {**_of(added, "added already_there set_aside corrected"), "batch": added.batch or None}
    )
    return {
        **counts,
        **_of(read, "rows_seen accepted files notes"),
        "reasons": added.reasons if added else read.reasons,
        "questions": [question.text() for question in read.questions],
        "renamed": added.renamed if added else {},
        "sales_off": added.off if added else (),
    }


def _account(account: Any) -> dict[str, Any]:
    return {
        "file": account.name,
        **_of(account, "rows_seen accepted set_aside columns words not_sales"),
        "source": account.source or None,
        "not_understood": [{"line": line, "text": text} for line, text in account.not_understood],
    }


def _batch(batch: Any) -> dict[str, Any]:
    renamed = None if batch.renamed is None else dict(zip(("from", "to"), batch.renamed, strict=True))
    added_at = batch.added_at.isoformat(timespec="seconds")
    return {**_of(batch, "batch files records corrected set_aside"), "added_at": added_at, "renamed": renamed}


def _change(change: NumberChange) -> dict[str, Any]:
    from slidefit.report.regions.change_content import because

    return {**_but(change), "moved": change.moved, "because": because(change), "years": change.because}


def _renewal(renewal: Renewal) -> dict[str, Any]:
    """``moved`` and ``verdict`` null is a price, which moves with the market; ``because`` says why in words."""
    judged = renewal.judged
    return {"changes": judged.rows, "blocks": judged.blocks, **_of(renewal, "fed_by kin")}


def _refresh(work: SeasonWork) -> dict[str, Any]:
    """A region has its changes or its ``refused``; ``not_kept`` are numbers set by hand without a place any more."""
    regions = []
    for name, outcome in work.outcomes.items():
        renewal, refused = work.renewed.get(name), getattr(outcome, "fault", None)
        told: dict[str, Any] = {"file": name, "name": (renewal.new if renewal else outcome.old).name}
        told["refused"] = None if renewal else str(refused)
        if renewal:
            told |= {"by_hand": work.edits[name], "not_kept": work.lost[name], **_renewal(renewal)}
        regions.append(told)
    return {"regions": regions, "unfed": work.unfed, "faults": work.faults}


def _entry(entry: Any) -> dict[str, Any]:
    region = entry.region
    return {
        "file": entry.path,
        "name": region.name if region else None,
        "markets": region.markets if region else [],
        "last_sale": region.source.last_sale if region else None,
        "age_days": entry.age_days if region else None,
        "stale": entry.stale,
        "records_behind": entry.behind,
        "fault": entry.fault or None,
    }


def version_answer(region: Region | None) -> dict[str, Any]:
    """Return what tells one version of a region from the next."""
    if region is None:
        return {"name": None}
    told = {"name": region.name, "standard_cwt": region.price.standard_cwt}
    return told | _of(region.source, "made last_sale lots")


def _edit(edit: HandEdit) -> dict[str, Any]:
    return {**_but(edit), "where": ".".join(map(str, edit.where))}


def _quick(answer: Any) -> dict[str, Any]:
    from slidefit.report.quick_content import SOURCE

    return {**_but(answer), "source": SOURCE}


# where the keys are not the fields: types by name, since a command loads only what it answers with
SHAPES: dict[str, Callable[[Any], Any]] = {
    "Backtest": _backtest,
    "BatchInfo": _batch,
    "Best": lambda best: {**_but(best), **_of(best, "program sale_month")},
    "BookCopy": lambda c: {"book": c.path, **_of(c, "records batches former"), "last_sale": c.last},
    "BookSummary": lambda s: {"book": s.path, **_of(s, "records markets batches"), "counts": s.count_rows},
    "Checkup": lambda c: {
        "folder": c.folder,
        "files": [{"file": file, "kind": kind} for file, kind in c.files],
        "findings": c.findings,
    },
    "ComparedNumber": lambda number: {**_but(number), "apart": number.apart},
    "Comparison": lambda c: {**_but(c, "typed_prices", "record"), "said_came": c.record},
    "DefaultUsed": lambda default: _of(default, "field value unit meaning"),
    "FileAccount": _account,
    "FolderEntry": _entry,
    "Former": lambda f: {"number": f.number, "file": f.path, **version_answer(f.region)},
    "FuturesQuote": lambda q: {**_of(q, "contract as_of"), "settlement": q.settlement_cwt},
    "FuturesView": _futures,
    "HandEdit": _edit,
    "KeepOption": _keep,
    "MarketFit": _fit,
    "MarketInfo": lambda m: {
        **_but(m, "first", "last", "gaps"),
        "first_sale": m.first,
        "last_sale": m.last,
        "months_without_sales": m.gaps,
    },
    "NumberChange": _change,
    "PastRecord": lambda r: {
        **_of(r, "source first_month last_month"),
        "forecasts": r.origins,
        "rows": r.said_came,
    },
    "PooledSlide": lambda s: {
        **_but(s, "pooled", "pooled_se"),
        "drawn": s.pooled,
        "drawn_se": s.pooled_se,
    },
    "QuickAnswer": _quick,
    "ReadResult": add_answer,
    "Region": lambda region: region.model_dump(exclude_none=True),
    "Renewal": _renewal,
    "SeasonWork": _refresh,
    "SourceCard": lambda c: {**_of(c, "name headings taught values"), "columns": c.mapping},
    "Text": str,
    "WordMeaning": lambda w: {
        **_of(w, "field rows left"),
        "word": w.text,
        "read_as": w.meaning or None,
    },
}
