"""A region, a change, a folder: sentences and documents."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pandas as pd
from rich.console import RenderableType
from rich.table import Table

from slidefit.regions.change import Change
from slidefit.regions.pooling import PooledSlide
from slidefit.regions.region import Pool, Region, SellingTerms, age_notes
from slidefit.regions.region_file import odd_notes
from slidefit.regions.region_folder import FolderEntry, Former, MarketFeed
from slidefit.regions.region_outlook import outlook_of_region, region_season, region_slides
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.answer_tables import season_table, slide_table
from slidefit.report.terminal_tables import new_table, text_of

WEANING_MONTHS = (10, 1, 4)


def region_text(region: Region, today: date, *, width: int = 100) -> str:
    """Return a region's file as tables: its price, slide by season, season, spread, grades, and its age."""
    outlook = outlook_of_region(region)
    months = [None, *(month for month in WEANING_MONTHS if month not in outlook.unseen_months)]
    parts: list[RenderableType] = [
        heading(region),
        sentences.basis_line(outlook.basis),
        *_verdict(region),
        *_notes((*region.remarks, *region.source.notes, *age_notes(region, today), *odd_notes(region))),
        "",
        _slides(region, region_slides(region, months=months)),
        season_table(region_season(region)),
        new_table(
            SPREAD_TITLE,
            [("Months ahead", "right"), ("One standard error", "right")],
            [(ahead, f.percent(spread)) for ahead, spread in region.forecast.spread_pct.items()],
        ),
        new_table(
            GRADES_TITLE,
            [("Grade", "left"), ("Below the standard", "right"), ("Slide added", "right")],
            [(name, f.percent(g.discount_pct), f.percent(g.slide_more)) for name, g in region.grades.items()],
        ),
        selling_line(region.selling),
    ]
    if region.pool:
        parts.append(pool_line(region.pool))
    return text_of(*parts, width=width)


def region_slide_text(region: Region, slides: pd.DataFrame, *, width: int = 100) -> str:
    """Return the slide's table with the file that it is from."""
    return text_of(
        _slides(region, slides),
        sentences.basis_line(outlook_of_region(region).basis),
        *_verdict(region),
        INTERVALS,
        *_notes(region.source.notes),
        width=width,
    )


def region_season_text(region: Region, *, width: int = 100) -> str:
    """Return the season's table with the file that it is from."""
    told = f"Region: {region.name}."
    return text_of(
        season_table(region_season(region)),
        told,
        sentences.basis_line(outlook_of_region(region).basis),
        width=width,
    )


def check_text(region: Region, path: str, today: date, *, width: int = 100) -> str:
    """Return that a file holds, and what is worth a second look."""
    return text_of(
        sound_line(region, path), *_notes((*age_notes(region, today), *odd_notes(region))), width=width
    )


def changes_table(old: Region, new: Region, changes: Sequence[Change]) -> Table:
    """Return old against new, number by number, in dollars per head of a typical calf."""
    columns = [
        ("What", "left"), ("Old", "right"), ("Expected", "right"), ("New", "right"),
        ("$ a head", "right"), ("95% interval", "right"), ("", "left"),
    ]  # fmt: skip
    rows = [
        (
            change_name(c), change_value(c, c.old), change_value(c, c.old_now),
            change_value(c, c.new), f.money(c.head, sign=True), f.money_range(c.head_low, c.head_high)[5:],
            moved_word(c),
        )
        for c in changes
    ]  # fmt: skip
    return new_table(change_title(old, new), columns, rows, caption=CHANGE_CAPTION)


def changes_text(old: Region, new: Region, changes: Sequence[Change], *, width: int = 100) -> str:
    """Return old against new as text, with what moved beyond noise."""
    moved = [c for c in changes if c.moved]
    return text_of(changes_table(old, new, changes), moved_line(moved, len(changes) - 1), width=width)


def drawn_text(
    slides: Sequence[PooledSlide], written: Sequence[str], *, left_out: Sequence[str] = (), width: int = 100
) -> str:
    """Return each market's own slide and the one drawn toward the pool."""
    columns = [
        ("Market", "left"), ("Sex", "left"), ("Lots", "right"), ("Own, % per cwt", "right"),
        ("Drawn", "right"), ("Own share", "right"),
    ]  # fmt: skip
    rows = [
        (
            s.market, s.sex, f.count(s.lots), with_error(s.own, s.own_se), with_error(s.drawn, s.drawn_se),
            f.percent(100.0 * s.own_share, decimals=0),
        )
        for s in slides
    ]  # fmt: skip
    return text_of(
        new_table(DRAWN_TITLE, columns, rows, caption=DRAWN_CAPTION),
        *map(left_out_line, left_out), *map(written_line, written), width=width,
    )  # fmt: skip


def folder_text(entries: Sequence[FolderEntry], folder: str, *, width: int = 100) -> str:
    """Return the regions of a folder: age, records behind, and whether they are stale."""
    if not entries:
        return text_of(no_regions(folder), width=width)
    columns = [
        ("File", "left"), ("Region", "left"), ("Last sale", "left"), ("Age, days", "right"),
        ("Records behind", "right"), ("", "left"),
    ]  # fmt: skip
    rows = []
    for entry in entries:
        if entry.region is None:
            rows.append((entry.path.name, "", "", "", "", AT_FAULT))
            continue
        behind = NO_BOOK if entry.behind is None else f.count(entry.behind)
        rows.append(
            (
                entry.path.name, entry.region.name, f.day(entry.region.source.last_sale), f.count(entry.age_days),
                behind, STALE if entry.stale else "",
            )
        )  # fmt: skip
    faults = [entry.fault for entry in entries if entry.fault]
    return text_of(new_table(FOLDER_TITLE, columns, rows, caption=FOLDER_CAPTION), *faults, width=width)


def feeds_text(feeds: Sequence[MarketFeed], *, width: int = 100) -> str:
    """Return which markets feed which region, markets that feed none, and regions' markets without records."""
    rows = [(feed.market or NAMELESS, f.count(feed.records), fed(feed)) for feed in feeds]
    columns = [("Market", "left"), ("Records", "right"), ("Feeds", "left")]
    return text_of(new_table(FEEDS_TITLE, columns, rows), width=width)


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
        (str(former.number), *(_version(former.region) if former.region else (AT_FAULT, "", "", "")))
        for former in formers
    ]
    rows.append(("now", *_version(now)))
    return text_of(new_table(log_title(now), columns, rows, caption=LOG_CAPTION), width=width)


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
    table.caption = slide_caption(region)
    return table


def _verdict(region: Region) -> list[RenderableType]:
    return [sentences.verdict_line(region.source.verdict)] if region.source.verdict else []


def _notes(notes: Sequence[str]) -> list[RenderableType]:
    return [f"Note: {note}." for note in notes]


INTERVALS = "Intervals: from the file's standard errors, 1.96 of them."
SPREAD_TITLE = "How far the price may wander, season apart"
GRADES_TITLE = "Grades, against the standard one at 550 lb"
CHANGE_CAPTION = (
    "Expected: the old file at today's price level. Dollars per head of a typical calf, at today's price, for the "
    "change from expected to new. One row in twenty looks moved by chance."
)
CHANGE_CHART_SOURCE = (
    "Dollars per head of a typical calf at today's price; bars: 95% interval.\n"
    "Filled: moved beyond noise. Hollow: not. One in twenty looks moved by chance."
)
CHANGE_AXIS = "New defaults against old, dollars per head"
DRAWN_TITLE = "The slide of each market at 550 lb: its own, and drawn toward the pool"
DRAWN_CAPTION = (
    "Plus or minus one standard error. The fewer sales a market has, the more it takes from the others."
)
DRAWN_AXIS = "Fall in price for 100 lb more, at 550 lb, percent"
DRAWN_SOURCE = "Hollow: own records. Filled: drawn toward all. Dashed: all together. Bars: 95% interval."
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
    "Take the table nearest to today's price level; your calf's weight and month give the price to expect.",
    "Two rows 100 lb apart show what added weight gives up a pound; multiply weight by price before you judge.",
    "Take your local bid over any table, and let slidefit compare keeping with selling for your own costs.",
)
SHEET_CAUTION = (
    "An estimate from past sales, no promise: prices can leave any range shown. Ask your lender and a market adviser "
    "before you act; for feed and medicine ask a veterinarian and the local extension office."
)
SHEET_LEVELS = ("Low", "Today's", "High")


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
        f"on {f.day(region.price.as_of)}); minus means that heavier is dearer."
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
    """Return what a market's slide was drawn toward."""
    between = ", ".join(f"{sex}s {value:.1f}" for sex, value in pool.between_pct.items())
    return f"Slide drawn toward {pool.name} ({pool.markets} markets, which differ by about {between} points per cwt)."


def sound_line(region: Region, path: str) -> str:
    """Return that a file holds."""
    return f"{path}: {region.name}, version {region.version}, sound."


def change_title(old: Region, new: Region) -> str:
    """Return the title of old against new."""
    return f"{new.name}: records to {f.day(old.source.last_sale)} against records to {f.day(new.source.last_sale)}"


def change_name(change: Change) -> str:
    """Return what a change is of."""
    if change.kind == "slide":
        return f"{change.sex} slide, {change.at - 50:,.0f}-{change.at + 50:,.0f} lb"
    if change.kind == "discount":
        return f"{change.sex} discount, {change.at:,.0f} lb"
    if change.kind == "season":
        return f"season, {f.month_name(int(change.at))}"
    return f"spread, {change.at:.0f} months ahead" if change.kind == "spread" else "price, standard calf"


def change_value(change: Change, value: float) -> str:
    """Return a value of a change in its unit."""
    if change.kind == "price":
        return f.price_cwt(value)
    return f"{value:.1f}" if change.kind == "season" else f.percent(value)


def moved_word(change: Change) -> str:
    """Return whether it moved."""
    return "the market" if change.moved is None else "moved" if change.moved else "not moved"


def moved_line(moved: Sequence[Change], judged: int) -> str:
    """Return how many moved, and the largest."""
    if not moved:
        return f"Nothing of {judged} numbers moved beyond noise."
    largest = max(moved, key=lambda change: abs(change.head))
    return (
        f"{len(moved)} of {judged} numbers moved beyond noise; the largest: {change_name(largest)}, "
        f"{f.money(largest.head, sign=True)} a head."
    )


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


def sheet_title(region: Region) -> str:
    """Return the title of the sheet."""
    return f"{region.name}: calf prices by weight and month"


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


def level_caption(sex: str, level: str, standard_cwt: float) -> str:
    """Return the caption of one table of the sheet."""
    price = f.price_cwt(standard_cwt, forecast=True)
    return f"{sex.capitalize()}s, {level.lower()} prices: standard calf {price}/cwt over the year"
