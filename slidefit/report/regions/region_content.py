"""A region, a change, a folder: sentences and documents."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from slidefit.regions.pooling import PooledSlide
from slidefit.regions.region import Pool, Region, SellingTerms, age_notes
from slidefit.regions.region_file import odd_notes
from slidefit.regions.region_folder import FolderEntry, Former, MarketFeed
from slidefit.regions.region_outlook import outlook_of_region, region_season, region_slides
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.document import Cell, Column, Document, document, table
from slidefit.report.market_content import Rows, noted, season_table, slide_table

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
        slide_table(region_slides(region, months=months), slide_caption(region)),
        season_table(region_season(region)),
        table(
            SPREAD_TITLE, [Column("Months ahead", "count"), Column("One standard error", "percent")], spread
        ),
        table(
            GRADES_TITLE,
            [Column("Grade"), Column("Below the standard", "percent"), Column("Slide added", "percent")],
            grades,
        ),
        selling_line(region.selling),
        pool_line(region.pool) if region.pool else "",
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
    return document(season_table(region_season(region)), f"Region: {region.name}.", basis)


def check_content(region: Region, path: str, today: date) -> Document:
    """Return that a file holds, and what is worth a second look."""
    return document(sound_line(region, path), *noted((*age_notes(region, today), *odd_notes(region))))


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
            s.market, s.sex, s.lots, Cell(s.own, with_error(s.own, s.own_se)),
            Cell(s.pooled, with_error(s.pooled, s.pooled_se)), 100.0 * s.own_share,
        )
        for s in slides
    ]  # fmt: skip
    made = table(POOLED_TITLE, columns, rows, caption=POOLED_CAPTION)
    return document(made, *map(left_out_line, left_out), *map(written_line, written))


def folder_content(entries: Sequence[FolderEntry], folder: str) -> Document:
    """Return the regions of a folder: age, records behind, and whether they are stale."""
    if not entries:
        return document(no_regions(folder))
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
    return document(table(log_title(now), columns, rows, caption=LOG_CAPTION))


def _version(region: Region) -> tuple[date, date, int, float]:
    source = region.source
    return source.made, source.last_sale, source.lots, region.price.standard_cwt


def _verdict(region: Region) -> tuple[str, ...]:
    return (sentences.verdict_line(region.source.verdict),) if region.source.verdict else ()


INTERVALS = "Intervals: from the file's standard errors, 1.96 of them."
SPREAD_TITLE = "How far the price may wander, season apart"
GRADES_TITLE = "Grades, against the standard one at 550 lb"
POOLED_TITLE = "The slide of each market at 550 lb: its own, and pooled with the others"
POOLED_CAPTION = (
    "Plus or minus one standard error. The fewer sales a market has, the more it takes from the others."
)
POOLED_AXIS = "Fall in price for 100 lb more, at 550 lb, percent"
POOLED_SOURCE = "Hollow: own records. Filled: pooled with all. Dashed: all together. Bars: 95% interval."
FOLDER_TITLE = "Regions in this folder"
FOLDER_CAPTION = "Stale: over 365 days since the last sale. Records behind: sold since, in the book."
FEEDS_TITLE = "Which market feeds which region"
LOG_CAPTION = "slidefit region back FILE VERSION puts one in place again; what stands there now is kept too."
AT_FAULT = "at fault"
STALE, FRESH = "stale", "fresh"
BY_SEASON = "The slide in autumn, winter and spring"
NO_BOOK = "no book"
NAMELESS = "(no name)"
SHEET_USE = (
    "Find your calf's weight and month: the price to expect at this price level. Nobody knows next month's level.",
    "Two rows 100 lb apart show what added weight gives up a pound; multiply weight by price before you judge.",
    "Take your local bid over any table, and figure your own costs of keeping before you choose.",
)
SHEET_CAUTION = (
    "An estimate from past sales, no promise: prices can leave any range shown. Ask your lender and a market adviser "
    "before you act; for feed and drugs ask a vet and the local extension office."
)


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
        f"on {f.day(region.price.as_of)}); minus means that heavier is higher priced."
    )


def selling_line(selling: SellingTerms) -> str:
    """Return the typical costs of selling in one sentence."""
    parts = [
        (selling.commission_pct, f"commission {f.percent(selling.commission_pct)}"),
        (selling.commission_head, f"commission {f.money_cents(selling.commission_head)} a head"),
        (selling.yardage_head, f"yardage {f.money_cents(selling.yardage_head)} a head"),
        (selling.checkoff_head, f"checkoff {f.money_cents(selling.checkoff_head)} a head"),
        (selling.freight_head, f"freight {f.money_cents(selling.freight_head)} a head"),
        (selling.shrink_pct, f"shrink {f.percent(selling.shrink_pct)}"),
    ]
    given = [text for value, text in parts if value is not None]
    return (
        f"Typical costs of selling: {', '.join(given)}." if given else "Typical costs of selling: none given."
    )


def pool_line(pool: Pool) -> str:
    """Return what a market's slide leans on."""
    between = ", ".join(f"{sex}s {value:.1f}" for sex, value in pool.between_pct.items())
    return f"The slide leans on {pool.name} ({pool.markets} markets, which differ by about {between} points per cwt)."


def sound_line(region: Region, path: str) -> str:
    """Return that a file holds."""
    return f"{path}: {region.name}, version {region.version}, sound."


def with_error(value: float, error: float) -> str:
    """Return a percentage with its standard error."""
    return f"{value:.1f} \u00b1 {error:.1f}"


def written_line(path: Path | str) -> str:
    """Return that a file was written."""
    return f"Written: {path}"


def left_out_line(market: str) -> str:
    """Return that a market got no file."""
    return f"{market or NAMELESS}: no sale with two lots that the region can price, so no file of its own."


def kept_line(path: Path | str) -> str:
    """Return where the former version is."""
    return f"Former version kept: {path}"


def no_regions(folder: str) -> str:
    """Return that a folder holds no region."""
    return f"{folder} holds no region file. Make one with: slidefit region make NAME"


def fed(feed: MarketFeed) -> str:
    """Return the regions that a market feeds, or what is amiss."""
    if not feed.regions:
        return "no region"
    told = f.listed(list(feed.regions))
    return told if feed.records else f"{told} (no record in the book)"


def log_title(region: Region) -> str:
    """Return the title of the versions."""
    return f"{region.name}: versions"


def back_line(path: str, number: int) -> str:
    """Return that a former version is in place again."""
    return f"{path}: version {number} is in place again; the one it replaces is kept."


def sheet_title(region: Region, days: int) -> str:
    """Return the title of the sheet, the age of its prices in it."""
    age = "today's" if days == 0 else f"{days:,} {'day' if days == 1 else 'days'} old"
    return f"{region.name}: calf prices of {f.day(region.price.as_of)} ({age})"


def old_stamp(days: int) -> str:
    """Return the stamp of a sheet of old prices."""
    return f"OLD PRICES: {days:,} days"


def sheet_standard(region: Region) -> str:
    """Return what the standard calf is and what it brings."""
    standard = region.standard
    return (
        f"Standard calf: {standard.sex} of {f.weight_lb(standard.weight_lb)}, {standard.grade}, "
        f"{f.price_cwt(region.price.standard_cwt)} on {f.day(region.price.as_of)}."
    )


def sheet_basis(region: Region) -> str:
    """Return what the sheet rests on."""
    source = region.source
    return (
        f"From {f.count(source.lots)} lots in {f.count(source.sales)} sales at {f.listed(list(region.markets))}, "
        f"{f.day(source.first_sale)} to {f.day(source.last_sale)}."
    )


def sheet_notes(region: Region) -> tuple[str, ...]:
    """Return what else the reader of a sheet must know: remarks, what was borrowed, what was set by hand."""
    pooled = region.pool is not None and region.pool.name != region.name
    borrowed = (
        f"This place has few sales of its own: slide and season lean on {region.pool.name}."
        if pooled and region.pool is not None
        else ""
    )
    return tuple(note for note in (*(f"{remark}." for remark in region.remarks), borrowed) if note)


def sheet_caption(region: Region, sex: str) -> str:
    """Return the caption of a sex's prices."""
    return f"{sex.capitalize()}s, {region.standard.grade}, price level of {f.day(region.price.as_of)}, $/cwt"


def plus_minus(points: float) -> str:
    """Return half a range in points, or that it is not known."""
    return f"\u00b1 {points:.1f}" if points else "not known"


SHEET_SLIDES = "The slide: how far a pound's price falls for 100 lb more"
SHEET_DISCOUNTS = "Discounts"
