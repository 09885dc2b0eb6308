"""What the terminal says of regions: a file, old against new, a folder, the markets behind them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import pandas as pd
from rich.console import RenderableType
from rich.table import Table

from slidefit.regions.age import age_notes
from slidefit.regions.change import Change
from slidefit.regions.checks import odd_notes
from slidefit.regions.drawn import DrawnSlide
from slidefit.regions.folder import FolderEntry, MarketFeed
from slidefit.regions.history import Former
from slidefit.regions.region import Region
from slidefit.regions.tables import region_season, region_slides
from slidefit.regions.to_outlook import outlook_of_region
from slidefit.show import formatting as f
from slidefit.show import region_wording as words
from slidefit.show import wording
from slidefit.show.tables import new_table, season_table, slide_table, text_of

WEANING_MONTHS = (10, 1, 4)


def region_text(region: Region, today: date, *, width: int = 100) -> str:
    """Return a region's file as tables: its price, slide by season, season, spread, grades, and its age."""
    outlook = outlook_of_region(region)
    months = [None, *(month for month in WEANING_MONTHS if month not in outlook.unseen_months)]
    parts: list[RenderableType] = [
        words.heading(region),
        wording.basis_line(outlook.basis),
        *_verdict(region),
        *_notes((*region.remarks, *region.source.notes, *age_notes(region, today), *odd_notes(region))),
        "",
        _slides(region, region_slides(region, months=months)),
        season_table(region_season(region)),
        new_table(
            words.SPREAD_TITLE,
            [("Months ahead", "right"), ("One standard error", "right")],
            [(ahead, f.percent(spread)) for ahead, spread in region.forecast.spread_pct.items()],
        ),
        new_table(
            words.GRADES_TITLE,
            [("Grade", "left"), ("Below the standard", "right"), ("Slide added", "right")],
            [(name, f.percent(g.discount_pct), f.percent(g.slide_more)) for name, g in region.grades.items()],
        ),
        words.selling_line(region.selling),
    ]
    if region.pool:
        parts.append(words.pool_line(region.pool))
    return text_of(*parts, width=width)


def region_slide_text(region: Region, slides: pd.DataFrame, *, width: int = 100) -> str:
    """Return the slide's table with the file that it is from."""
    return text_of(
        _slides(region, slides),
        wording.basis_line(outlook_of_region(region).basis),
        *_verdict(region),
        words.INTERVALS,
        *_notes(region.source.notes),
        width=width,
    )


def region_season_text(region: Region, *, width: int = 100) -> str:
    """Return the season's table with the file that it is from."""
    told = f"Region: {region.name}."
    return text_of(
        season_table(region_season(region)),
        told,
        wording.basis_line(outlook_of_region(region).basis),
        width=width,
    )


def check_text(region: Region, path: str, today: date, *, width: int = 100) -> str:
    """Return that a file holds, and what is worth a second look."""
    return text_of(
        words.sound_line(region, path), *_notes((*age_notes(region, today), *odd_notes(region))), width=width
    )


def changes_table(old: Region, new: Region, changes: Sequence[Change]) -> Table:
    """Return old against new, number by number, in dollars per head of a typical calf."""
    columns = [
        ("What", "left"), ("Old", "right"), ("Expected", "right"), ("New", "right"),
        ("$ a head", "right"), ("95% interval", "right"), ("", "left"),
    ]  # fmt: skip
    rows = [
        (
            words.change_name(c), words.change_value(c, c.old), words.change_value(c, c.old_now),
            words.change_value(c, c.new), f.money(c.head, sign=True), f.money_range(c.head_low, c.head_high)[5:],
            words.moved_word(c),
        )
        for c in changes
    ]  # fmt: skip
    return new_table(words.change_title(old, new), columns, rows, caption=words.CHANGE_CAPTION)


def changes_text(old: Region, new: Region, changes: Sequence[Change], *, width: int = 100) -> str:
    """Return old against new as text, with what moved beyond noise."""
    moved = [c for c in changes if c.moved]
    return text_of(changes_table(old, new, changes), words.moved_line(moved, len(changes) - 1), width=width)


def drawn_text(
    slides: Sequence[DrawnSlide], written: Sequence[str], *, left_out: Sequence[str] = (), width: int = 100
) -> str:
    """Return each market's own slide and the one drawn toward the pool."""
    columns = [
        ("Market", "left"), ("Sex", "left"), ("Lots", "right"), ("Own, % per cwt", "right"),
        ("Drawn", "right"), ("Own share", "right"),
    ]  # fmt: skip
    rows = [
        (
            s.market, s.sex, f.count(s.lots), words.with_error(s.own, s.own_se), words.with_error(s.drawn, s.drawn_se),
            f.percent(100.0 * s.own_share, decimals=0),
        )
        for s in slides
    ]  # fmt: skip
    return text_of(
        new_table(words.DRAWN_TITLE, columns, rows, caption=words.DRAWN_CAPTION),
        *map(words.left_out_line, left_out), *map(words.written_line, written), width=width,
    )  # fmt: skip


def folder_text(entries: Sequence[FolderEntry], folder: str, *, width: int = 100) -> str:
    """Return the regions of a folder: age, records behind, and whether they are stale."""
    if not entries:
        return text_of(words.no_regions(folder), width=width)
    columns = [
        ("File", "left"), ("Region", "left"), ("Last sale", "left"), ("Age, days", "right"),
        ("Records behind", "right"), ("", "left"),
    ]  # fmt: skip
    rows = []
    for entry in entries:
        if entry.region is None:
            rows.append((entry.path.name, "", "", "", "", words.AT_FAULT))
            continue
        behind = words.NO_BOOK if entry.behind is None else f.count(entry.behind)
        rows.append(
            (
                entry.path.name, entry.region.name, f.day(entry.region.source.last_sale), f.count(entry.age_days),
                behind, words.STALE if entry.stale else "",
            )
        )  # fmt: skip
    faults = [entry.fault for entry in entries if entry.fault]
    return text_of(
        new_table(words.FOLDER_TITLE, columns, rows, caption=words.FOLDER_CAPTION), *faults, width=width
    )


def feeds_text(feeds: Sequence[MarketFeed], *, width: int = 100) -> str:
    """Return which markets feed which region, markets that feed none, and regions' markets without records."""
    rows = [(feed.market or words.NAMELESS, f.count(feed.records), words.fed(feed)) for feed in feeds]
    columns = [("Market", "left"), ("Records", "right"), ("Feeds", "left")]
    return text_of(new_table(words.FEEDS_TITLE, columns, rows), width=width)


def log_text(formers: Sequence[Former], now: Region, *, width: int = 100) -> str:
    """Return the former versions of a file and the present one."""
    columns = [
        ("Version", "right"),
        ("Made", "left"),
        ("Last sale", "left"),
        ("Lots", "right"),
        ("$/cwt", "right"),
    ]
    rows = [
        (str(former.number), *(_version(former.region) if former.region else (words.AT_FAULT, "", "", "")))
        for former in formers
    ]
    rows.append(("now", *_version(now)))
    return text_of(new_table(words.log_title(now), columns, rows, caption=words.LOG_CAPTION), width=width)


def _version(region: Region) -> tuple[str, str, str, str]:
    source = region.source
    return (
        f.day(source.made),
        f.day(source.last_sale),
        f.count(source.lots),
        f.price_cwt(region.price.standard_cwt),
    )


def _slides(region: Region, slides: pd.DataFrame) -> RenderableType:
    table = slide_table(slides)
    table.caption = words.slide_caption(region)
    return table


def _verdict(region: Region) -> list[RenderableType]:
    return [wording.verdict_line(region.source.verdict)] if region.source.verdict else []


def _notes(notes: Sequence[str]) -> list[RenderableType]:
    return [f"Note: {note}." for note in notes]
