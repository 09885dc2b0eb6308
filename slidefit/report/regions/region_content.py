"""A region, a change, a folder: sentences and documents."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from slidefit.regions.region import Pool, Region, SellingTerms, age_notes
from slidefit.regions.region_file import odd_notes
from slidefit.regions.region_outlook import outlook_of_region, region_season_rows, region_slide_rows
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.document import Cell, Column, Document, document, table
from slidefit.report.market_content import Rows, noted, season_table, slide_table

if TYPE_CHECKING:
    from pathlib import Path

    from slidefit.regions.pooling import PooledSlide
    from slidefit.regions.region_folder import FolderEntry, Former, MarketFeed


WEANING_MONTHS = (10, 1, 4)


def region_content(region: Region, today: date) -> Document:
    """Return a region's file as tables: its price, slide by season, season, spread, grades, and its age."""
    outlook = outlook_of_region(region)
    months = [None, *(month for month in WEANING_MONTHS if month not in outlook.unseen_months)]
    spread = [(Cell(str(ahead)), sd) for ahead, sd in region.forecast.spread_pct.items()]
    grades = [(name, g.discount_pct, g.slide_more) for name, g in region.grades.items()]
    return document(
        heading(region),
        sentences.basis_line(outlook.basis),
        *_verdict(region),
        *noted((*region.remarks, *region.source.notes, *age_notes(region, today), *odd_notes(region))),
        slide_table(region_slide_rows(region, months=months), slide_caption(region)),
        season_table(region_season_rows(region)),
        table(
            SPREAD_TITLE, [Column("Months ahead", "count"), Column("One standard error", "percent")], spread
        ),
        table(
            GRADES_TITLE,
            [Column("Grade"), Column("Below the standard", "percent"), Column("Slide added", "percent")],
            grades,
        ),
        _selling_line(region.selling),
        _pool_line(region.pool) if region.pool else "",
    )


def region_slide_content(region: Region, slides: Rows) -> Document:
    """Return the slide's table with the file that it is from."""
    return document(
        slide_table(slides, slide_caption(region)),
        sentences.basis_line(outlook_of_region(region).basis),
        *_verdict(region),
        INTERVALS,
        *noted(region.source.notes),
    )


def region_season_content(region: Region) -> Document:
    """Return the season's table with the file that it is from."""
    basis = sentences.basis_line(outlook_of_region(region).basis)
    return document(season_table(region_season_rows(region)), f"Region: {region.name}.", basis)


def check_content(region: Region, path: str, today: date) -> Document:
    """Return that a file holds, and what is worth a second look."""
    sound = f"{path}: {region.name}, version {region.version}, sound."
    return document(sound, *noted((*age_notes(region, today), *odd_notes(region))))


def pooled_content(
    slides: Sequence[PooledSlide], written: Sequence[str], *, left_out: Sequence[str] = ()
) -> Document:
    """Return each market's own slide and the one pooled with the others."""
    columns = [
        Column("Market"), Column("Sex"), Column("Lots", "count", spare=1), Column("Own, % per cwt", "figure"),
        Column("Pooled", "figure"), Column("Own share", "whole_percent"),
    ]  # fmt: skip
    rows = [
        (
            s.market, s.sex, s.lots, Cell(s.own, f"{s.own:.1f} \u00b1 {s.own_se:.1f}"),
            Cell(s.pooled, f"{s.pooled:.1f} \u00b1 {s.pooled_se:.1f}"), 100.0 * s.own_share,
        )
        for s in slides
    ]  # fmt: skip
    made = table(POOLED_TITLE, columns, rows, caption=POOLED_CAPTION)
    unfit = "no sale with two lots that the region can price, so no file of its own."
    without = [f"{market or NAMELESS}: {unfit}" for market in left_out]
    return document(made, *without, *map(written_line, written))


def folder_content(entries: Sequence[FolderEntry], folder: str) -> Document:
    """Return the regions of a folder: age, records behind, and whether they are stale."""
    if not entries:
        return document(f"{folder} holds no region file. Make one with: slidefit region make NAME")
    columns = [
        Column("File"), Column("Region"), Column("Last sale", "day"), Column("Age, days", "count"),
        Column("Records behind", "count"), Column(""),
    ]  # fmt: skip
    rows: list[tuple[Any, ...]] = []
    for entry in entries:
        if entry.region is None:
            rows.append((entry.path.name, None, None, None, None, AT_FAULT))
            continue
        behind = Cell(entry.behind, NO_BOOK if entry.behind is None else f.count(entry.behind))
        last = entry.region.source.last_sale
        rows.append(
            (entry.path.name, entry.region.name, last, entry.age_days, behind, STALE if entry.stale else "")
        )
    made = table(FOLDER_TITLE, columns, rows, caption=FOLDER_CAPTION)
    return document(made, *(entry.fault for entry in entries if entry.fault))


def feeds_content(feeds: Sequence[MarketFeed]) -> Document:
    """Return which markets feed which region, markets that feed none, and regions' markets without records."""
    rows = [(feed.market or NAMELESS, feed.records, fed(feed)) for feed in feeds]
    return document(table(FEEDS_TITLE, [Column("Market"), Column("Records", "count"), Column("Feeds")], rows))


def log_content(formers: Sequence[Former], now: Region) -> Document:
    """Return the former versions of a file and the present one."""
    columns = [
        Column("Version", "figure"), Column("Made", "day"), Column("Last sale", "day"), Column("Lots", "count"),
        Column("$/cwt", "price"),
    ]  # fmt: skip
    rows: list[tuple[Any, ...]] = [
        (
            Cell(str(former.number)),
            *(_version(former.region) if former.region else (AT_FAULT, None, None, None)),
        )
        for former in formers
    ]
    rows.append((Cell("now"), *_version(now)))
    return document(table(f"{now.name}: versions", columns, rows, caption=LOG_CAPTION))


def _version(region: Region) -> tuple[date, date, int, float]:
    source = region.source
    return source.made, source.last_sale, source.lots, region.price.standard_cwt


def _verdict(region: Region) -> tuple[str, ...]:
    return (sentences.verdict_line(region.source.verdict),) if region.source.verdict else ()


INTERVALS = "Intervals: 1.96 of the file's standard errors."
SPREAD_TITLE = "How far the price may wander from the season"
GRADES_TITLE = "Grades, compared with the standard one at 550 lb"
POOLED_TITLE = "The slide of each market at 550 lb: its own, and pooled with the others"
POOLED_CAPTION = (
    "Plus or minus one standard error. The fewer sales a market has, the more it borrows from the others."
)
POOLED_AXIS = "Fall in price for 100 lb more, at 550 lb, percent"
POOLED_SOURCE = "Hollow: own records. Filled: pooled with all. Dashed: all together. Bars: 95% interval."
FOLDER_TITLE = "Regions in this folder"
FOLDER_CAPTION = "Stale: over 365 days since the last sale. Records behind: newer ones in the book."
FEEDS_TITLE = "Which market is in which region"
LOG_CAPTION = "slidefit region back FILE VERSION brings one back; the present file is kept too."
AT_FAULT = "at fault"
STALE, FRESH = "stale", "fresh"
BY_SEASON = "The slide in autumn, winter and spring"
NO_BOOK = "no book"
NAMELESS = "(no name)"


def heading(region: Region) -> str:
    """Return name, day and price in one line."""
    standard = region.standard
    return (
        f"{region.name}: {f.day(region.price.as_of)}, {standard.sex}s of {f.weight_lb(standard.weight_lb)}, "
        f"{standard.grade}, at {f.price_cwt(region.price.standard_cwt)}/cwt"
    )


def slide_caption(region: Region) -> str:
    """Return at what price level the slide holds."""
    return (
        f"Fall in price for 100 lb more, at the price level of the file ({f.price_cwt(region.price.standard_cwt)}/cwt "
        f"on {f.day(region.price.as_of)}). Minus: heavier calves bring more a pound."
    )


def _selling_line(selling: SellingTerms) -> str:
    """Return the typical costs of selling in one sentence."""
    given = []
    for name, value in selling.model_dump(exclude_none=True).items():
        what, unit = name.rsplit("_", 1)
        given.append(f"{what} " + (f.percent(value) if unit == "pct" else f"{f.money_cents(value)} a head"))
    return f"Typical costs of selling: {', '.join(given) or 'none given'}."


def _pool_line(pool: Pool) -> str:
    between = ", ".join(f"{sex}s {value:.1f}" for sex, value in pool.between_pct.items())
    return f"The slide is pooled with {pool.name} ({pool.markets} markets, about {between} points per cwt apart)."


def written_line(path: Path | str) -> str:
    """Return that a file was written."""
    return f"Written: {path}"


def kept_line(path: Path | str) -> str:
    """Return where the former version is."""
    return f"Former version kept: {path}"


def fed(feed: MarketFeed) -> str:
    """Return the regions that a market feeds, or what is amiss."""
    if not feed.regions:
        return "no region"
    told = f.listed(list(feed.regions))
    return told if feed.records else f"{told} (no record in the book)"


def back_line(path: str, number: int) -> str:
    """Return that a former version is in place again."""
    return f"{path}: version {number} is back; the one it replaces is kept."
