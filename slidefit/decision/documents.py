"""Results as plain documents for JSON: names, units and order are a contract with other programs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from slidefit.decision.flips import FlipGrid, FlipResult
from slidefit.decision.lookup import months_of
from slidefit.decision.replay import Replay, replay_notes
from slidefit.decision.results import Comparison, GroupResult, KeepOption
from slidefit.decision.sorting import Sorting


def plain(value: Any) -> Any:
    """Return a value with dates as ISO text, tuples as lists and numbers that are not finite as None."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def keep_document(option: KeepOption) -> dict[str, Any]:
    """Return one keep option; ``breakeven`` maps names to numbers or null, with the reasons beside it."""
    body = {**asdict(option), "net_herd": option.net_herd}
    breakevens = body.pop("breakevens")
    body["breakeven"] = {each["name"]: each["value"] for each in breakevens}
    body["breakeven_planned"] = {each["name"]: each["planned"] for each in breakevens}
    body["breakeven_reasons"] = {each["name"]: each["reason"] for each in breakevens if each["reason"]}
    return body


def group_document(group: GroupResult) -> dict[str, Any]:
    """Return one group: sell now, every keep option, the best, and what could not be compared."""
    return {
        "group": group.group,
        "sex": group.sex,
        "head": group.head,
        "sell_now": asdict(group.sell_now),
        "keep": [keep_document(option) for option in group.keep],
        "best": {**asdict(group.best), "program": group.best.program, "sale_month": group.best.sale_month},
        "unavailable": [asdict(each) for each in group.unavailable],
        "notes": group.notes,
    }


def comparison_document(comparison: Comparison) -> dict[str, Any]:
    """Return the comparison as a document that ``json.dumps`` takes.

    Money is in dollars per head started unless a key says herd or acre; ``odds`` are shares from 0 to 1.
    """
    document = {
        "groups": [group_document(group) for group in comparison.groups],
        "herd": asdict(comparison.herd),
        "currency": comparison.currency,
        "as_of": comparison.as_of,
        "source": comparison.source,
        "draws": comparison.draws,
        "seed": comparison.seed,
        "defaults_used": [asdict(each) for each in comparison.defaults_used],
        "left_out": comparison.left_out,
        "cautions": comparison.cautions,
        "notes": comparison.notes,
        "verdict": comparison.verdict,
    }
    out: dict[str, Any] = plain(document)
    return out


def months_document(comparison: Comparison) -> dict[str, Any]:
    """Return the view by month of sale as a document for JSON, with what it rests on in words."""
    document = {
        "months": [asdict(row) for row in months_of(comparison)],
        "group_notes": {group.group: group.notes for group in comparison.groups},
        "notes": comparison.notes,
        "verdict": comparison.verdict,
    }
    out: dict[str, Any] = plain(document)
    return out


def option_document(option: KeepOption) -> dict[str, Any]:
    """Return one keep option with its whole budget as a document for JSON."""
    out: dict[str, Any] = plain(keep_document(option))
    return out


def flip_document(results: Sequence[FlipResult]) -> dict[str, Any]:
    """Return what would flip the answer as a document for JSON."""
    out: dict[str, Any] = plain({"flips": [asdict(result) for result in results]})
    return out


def grid_document(grid: FlipGrid) -> dict[str, Any]:
    """Return a grid over two inputs as a document for JSON; ``gains`` has a row for each y value."""
    out: dict[str, Any] = plain(asdict(grid))
    return out


def sorting_document(sorting: Sorting) -> dict[str, Any]:
    """Return the sorting of a group by weight as a document for JSON."""
    out: dict[str, Any] = plain(asdict(sorting))
    return out


def replay_document(money: Replay, months_kept: int) -> dict[str, Any]:
    """Return what each rule made: by months kept, by year for one number of months, and what it says in words."""
    out: dict[str, Any] = plain(
        {
            "keeping": asdict(money.keeping),
            "by_months_kept": money.by_months().to_dict(orient="records"),
            "months_kept": months_kept,
            "by_year": money.by_year(months_kept).to_dict(orient="records"),
            "notes": replay_notes(money),
        }
    )
    return out
