"""What region commands print with --json."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from slidefit.regions.region_outlook import region_season_rows
from slidefit.report.json_documents import plain, rounded
from slidefit.report.regions.change_content import because

if TYPE_CHECKING:
    from slidefit.regions.compared import ComparedNumber
    from slidefit.regions.hand_edits import HandEdit
    from slidefit.regions.moved.renewal import Renewal, SeasonWork
    from slidefit.regions.pooling import PooledSlide
    from slidefit.regions.region import Region
    from slidefit.regions.region_folder import FolderEntry, Former, MarketFeed


def region_document(region: Region) -> dict[str, Any]:
    """Return the region's tables as they stand in the file, dates in ISO form."""
    return region.model_dump(mode="json", exclude_none=True)


def region_season_document(region: Region) -> dict[str, Any]:
    """Return ``{"months": [...]}`` (year mean = 100), in the form that a fit's season has."""
    rows = region_season_rows(region)
    months = [{**rounded(row), "month": row["month"]} for row in rows]
    return {"months": months, "harmonics": region.season.waves, "notes": []}


def changes_document(renewal: Renewal) -> dict[str, Any]:
    """Return ``{"changes": [...], "blocks": [...], "fed_by": [...], "kin": [...]}``.

    ``moved`` and ``verdict`` null is a price, which moves with the market; ``because`` says why in words, ``years``
    which crop years did it.
    """

    return {
        "changes": [
            {
                **rounded({k: v for k, v in asdict(change).items() if k != "because"}),
                "moved": change.moved,
                "because": because(change),
                "years": [rounded(asdict(one)) for one in change.because],
            }
            for change in renewal.changes
        ],
        "blocks": [rounded(asdict(block)) for block in renewal.judged.blocks],
        "fed_by": [plain(asdict(span)) for span in renewal.fed_by],
        "kin": [plain(asdict(span)) for span in renewal.kin],
    }


def refresh_document(work: SeasonWork) -> dict[str, Any]:
    """Return ``{"regions": [...], "unfed": [...], "faults": {...}}``; a region has its changes or its ``refused``.

    ``by_hand`` are the numbers set by hand that are kept, ``not_kept`` those that have no place in the new file.
    """
    regions = []
    for name, outcome in work.outcomes.items():
        renewal, refused = work.renewed.get(name), getattr(outcome, "fault", None)
        told: dict[str, Any] = {"file": name, "name": (renewal.new if renewal else outcome.old).name}
        told["refused"] = None if renewal else str(refused)
        if renewal:
            told["by_hand"] = edits_document(work.edits[name])
            told["not_kept"] = edits_document(work.lost[name])
            told |= changes_document(renewal)
        regions.append(told)
    return {"regions": regions, "unfed": [plain(asdict(s)) for s in work.unfed], "faults": dict(work.faults)}


def compared_document(regions: Sequence[Region], numbers: Sequence[ComparedNumber]) -> dict[str, Any]:
    """Return ``{"regions": [names], "numbers": [...]}`` with ``values``, ``errors`` (one standard error), ``apart``."""
    return {
        "regions": [region.name for region in regions],
        "numbers": [{**asdict(number), "apart": number.apart} for number in numbers],
    }


def pooled_document(slides: Sequence[PooledSlide]) -> dict[str, Any]:
    """Return ``{"slides": [...]}``: each market's slide at 550 lb, its own and pooled with the others."""
    names = {"pooled": "drawn", "pooled_se": "drawn_se"}
    return {"slides": [rounded({names.get(k, k): v for k, v in asdict(s).items()}) for s in slides]}


def folder_document(entries: Sequence[FolderEntry]) -> dict[str, Any]:
    """Return ``{"regions": [...]}``: file, name, age, staleness, records behind, and what is at fault."""
    return {
        "regions": [
            {
                "file": str(entry.path),
                "name": entry.region.name if entry.region else None,
                "markets": list(entry.region.markets) if entry.region else [],
                "last_sale": entry.region.source.last_sale.isoformat() if entry.region else None,
                "age_days": entry.age_days if entry.region else None,
                "stale": entry.stale,
                "records_behind": entry.behind,
                "fault": entry.fault or None,
            }
            for entry in entries
        ]
    }


def feeds_document(feeds: Sequence[MarketFeed]) -> dict[str, Any]:
    """Return ``{"markets": [...]}``: records in the book and the regions that a market feeds."""
    return {"markets": [{**asdict(feed), "regions": list(feed.regions)} for feed in feeds]}


def log_document(formers: Sequence[Former], now: Region) -> dict[str, Any]:
    """Return ``{"now": {...}, "former": [...]}``, oldest first."""
    return {
        "now": _version(now),
        "former": [
            {"number": f.number, "file": str(f.path), **(_version(f.region) if f.region else {"name": None})}
            for f in formers
        ],
    }


def _version(region: Region) -> dict[str, Any]:
    source, price = region.source, region.price.standard_cwt
    told = {"name": region.name, "made": source.made, "last_sale": source.last_sale, "lots": source.lots}
    return {**plain(told), "standard_cwt": price}


def edits_document(edits: Sequence[HandEdit]) -> list[dict[str, Any]]:
    """Return the numbers set by hand: where, value, the fitted one, and the day."""
    return [{**plain(asdict(e)), "where": ".".join(map(str, e.where))} for e in edits]
