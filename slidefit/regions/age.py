"""When a region's file is too old to be used without a word."""

from __future__ import annotations

from datetime import date

from slidefit.regions.region import Region

PRICE_STALE_DAYS = 60
SLIDE_STALE_DAYS = 365


def age_days(region: Region, today: date) -> int:
    """Return the days since the last sale behind the file; zero when that lies ahead."""
    return max((today - region.source.last_sale).days, 0)


def is_stale(region: Region, today: date) -> bool:
    """Return whether a crop year has gone by since the last sale: slide and season then want an update."""
    return age_days(region, today) > SLIDE_STALE_DAYS


def age_notes(region: Region, today: date) -> tuple[str, ...]:
    """Return what to say of the file's age: its price after 60 days, the whole file after a year.

    Notes
    -----
    A year is one more crop of calves; in an outlook the price's own spread grows with every day since ``as_of``.
    """
    days = age_days(region, today)
    last = region.source.last_sale
    if days > SLIDE_STALE_DAYS:
        return (
            f"the region file {region.name} is old: its last sale was on {last}, {days:,} days before {today}; "
            f"update it before you lean on it",
        )
    if days > PRICE_STALE_DAYS:
        return (
            f"the region file {region.name} has prices of {last}, {days} days old: a bid in the plan is better",
        )
    return ()
