"""Regions and their changes as JSON documents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from slidefit.regions.change import Change
from slidefit.regions.drawn import DrawnSlide
from slidefit.regions.folder import FolderEntry, MarketFeed
from slidefit.regions.history import Former
from slidefit.regions.region import Region
from slidefit.regions.tables import region_season

DECIMALS = 4


def region_document(region: Region) -> dict[str, Any]:
    """Return the region's tables as they stand in the file, dates in ISO form."""
    return region.model_dump(mode="json", exclude_none=True)


def season_document(region: Region) -> dict[str, Any]:
    """Return ``{"months": [...]}`` (year mean = 100), in the form that a fit's season has."""
    rows = region_season(region).to_dict(orient="records")
    months = [{**_rounded({str(k): v for k, v in row.items()}), "month": int(row["month"])} for row in rows]
    return {"months": months, "harmonics": region.season.waves, "notes": []}


def changes_document(changes: Sequence[Change]) -> dict[str, Any]:
    """Return ``{"changes": [...]}``; ``moved`` null is a price, which moves with the market."""
    return {"changes": [_rounded(asdict(change)) for change in changes]}


def drawn_document(slides: Sequence[DrawnSlide]) -> dict[str, Any]:
    """Return ``{"slides": [...]}``: each market's slide at 550 lb, its own and drawn toward the pool."""
    return {"slides": [_rounded(asdict(slide)) for slide in slides]}


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
    source = region.source
    return {
        "name": region.name,
        "made": source.made.isoformat(),
        "last_sale": source.last_sale.isoformat(),
        "lots": source.lots,
        "standard_cwt": region.price.standard_cwt,
    }


def _rounded(row: dict[str, Any]) -> dict[str, Any]:
    return {key: round(value, DECIMALS) if isinstance(value, float) else value for key, value in row.items()}
