"""One page about a region, to print and hand out: today's prices by weight and month, slide, discounts, season."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from slidefit.distributions import NORMAL_975
from slidefit.errors import SlidefitError
from slidefit.facts import Setting, Text
from slidefit.files import write_whole
from slidefit.market.outlook import STANDARD_WEIGHT_LB
from slidefit.regions.hand_edits import with_hand_edits
from slidefit.regions.moved.renewal import SeasonWork
from slidefit.regions.region import PRICE_STALE_DAYS, Region, SexTable, age_days
from slidefit.regions.region_outlook import (
    outlook_of_region,
    price_sheet,
    region_season,
    region_slides,
    slide_error,
)
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.charts.market_charts import region_change_chart, season_chart
from slidefit.report.charts.style import narrowed
from slidefit.report.document import Cell, Column, TypedTable, table
from slidefit.report.regions.change_content import edit_line
from slidefit.report.regions.region_hand_outs import brief_content
from slidefit.report.render.html import page_template, picture_address
from slidefit.report.render.pictures import write_picture

SEASON_HIGH_IN = 2.9
SHEET_SEXES = ("steer", "heifer")
SHEET_USE = (
    "Find your calf's weight and month: the price to expect at this price level. Nobody knows next month's level.",
    "Two rows 100 lb apart show what a pound loses with added weight; multiply weight by price before you judge.",
    "Trust your local bid over any table, and figure your own costs of keeping before you choose.",
)
SHEET_CAUTION = (
    "An estimate from past sales, not a promise: prices can go outside any range shown. Ask your lender and a market "
    "adviser before you act; for feed and drugs ask a vet and the local extension office."
)
MOST_GRADES = 6
"""Grades on the sheet: what one page holds; the rest stand in the file."""


def region_sheet_html(
    region: Region, today: date, *, office: str = "", old: bool = False, edits: Sequence[str] = ()
) -> str:
    """Return the sheet as the text of one HTML page that needs no other file and no network.

    Parameters
    ----------
    office : str. Who hands it out; stands in the head.
    old : bool. Whether a sheet of prices over 60 days old is wanted all the same; it is then stamped.
    edits : sequence of str. What was set by hand, in words.

    Raises
    ------
    SlidefitError. The prices are over 60 days old and an old sheet was not asked for.
    """
    days = age_days(region, today)
    if days > PRICE_STALE_DAYS and not old:
        raise SlidefitError(
            f"its prices are of {region.price.as_of}, {days:,} days old: too old for a sheet of today's prices",
            where=region.name,
            remedy=Text("Update the region first, or have it stamped as old with ", Setting("old"), "."),
        )
    age = "today's" if days == 0 else f"{days:,} {'day' if days == 1 else 'days'} old"
    outlook, season = outlook_of_region(region), region_season(region)
    source, standard = region.source, region.standard
    sexes = [sex for sex in SHEET_SEXES if sex in region.sexes()] or list(region.sexes())
    return page_template("region_sheet.html.j2").render(
        title=f"{region.name}: calf prices of {f.day(region.price.as_of)} ({age})",
        stamp=f"OLD PRICES: {days:,} days" if days > PRICE_STALE_DAYS else "",
        office=office,
        printed=f.day(today),
        prices=[_prices(region, sex) for sex in sexes],
        others=[_slides(region), _discounts(region)],
        season=picture_address(_low(season_chart(season, outlook.basis))),
        season_alt=sentences.season_picture_alt(season),
        use=SHEET_USE,
        basis=f"From {f.count(source.lots)} lots in {f.count(source.sales)} sales at "
        f"{f.listed(list(region.markets))}, {f.day(source.first_sale)} to {f.day(source.last_sale)}.",
        notes=[*_notes(region), *edits],
        caution=SHEET_CAUTION,
        standard=f"Standard calf: {standard.sex} of {f.weight_lb(standard.weight_lb)}, {standard.grade}, "
        f"{f.price_cwt(region.price.standard_cwt)} on {f.day(region.price.as_of)}.",
    )


def write_hand_outs(
    work: SeasonWork, folder: Path, today: date, tell: Callable[[str], None], *, office: str = ""
) -> list[Path]:
    """Write sheet, brief and picture of every region that was fitted anew into one folder; return the files.

    Parameters
    ----------
    tell : callable. Told how many regions are done.
    office : str. Who hands them out.

    Raises
    ------
    OutputError. A file can't be written.
    """
    from slidefit.report.render.terminal import document_text

    folder.mkdir(parents=True, exist_ok=True)
    files: list[Path] = []
    for place, (name, renewal) in enumerate(work.renewed.items(), start=1):
        tell(f"hand-outs: {place} of {len(work.renewed)}")
        region, stem = with_hand_edits(renewal.new, work.edits[name])[0], folder / Path(name).stem
        edits = [edit_line(edit) for edit in work.edits[name]]
        sheet = region_sheet_html(region, today, office=office, old=True, edits=edits)
        brief = document_text(brief_content(region, renewal.old, today))
        files += [write_whole(stem.with_suffix(".html"), sheet), write_whole(stem.with_suffix(".txt"), brief)]
        chart = region_change_chart(renewal.old, renewal.new, renewal.changes)
        files.append(write_picture(chart, stem.with_suffix(".png")))
    return files


def _notes(region: Region) -> list[str]:
    """Return what else the reader of a sheet must know: remarks, and what was borrowed."""
    told = [f"{remark}." for remark in region.remarks]
    if region.pool is not None and region.pool.name != region.name:
        told.append(f"This place has few sales of its own: slide and season draw on {region.pool.name}.")
    return told


def _low(figure: Figure) -> Figure:
    """Return a picture as wide as half the page and low enough to leave the tables their room."""
    narrow = narrowed(figure)
    narrow.set_size_inches(float(narrow.get_size_inches()[0]), SEASON_HIGH_IN)
    narrow.suptitle("")
    for axes in narrow.axes:  # the heading above says it, and so low an axis has no room for it
        axes.set_ylabel("")
    return narrow


def _prices(region: Region, sex: str) -> TypedTable:
    """Return a sex's prices by weight and month at today's level, and their range in the file's own month."""
    here = region.price.as_of.month
    index = [month[0] for month in region.season.months()]
    prices = price_sheet(region, sex, region.price.standard_cwt / index[here - 1] * 100.0)
    columns = [Column("lb", "count"), *(Column(f.month_name(m, short=True), "figure") for m in range(1, 13))]
    columns.append(Column(f"Range, {f.month_name(here, short=True)}", "figure"))
    table_of = dict(region.sexes().items())[sex]  # type: ignore[index]
    rows: list[tuple[Cell | float, ...]] = []
    for weight, row in zip(prices.index, prices.to_numpy(), strict=True):
        reach = NORMAL_975 * _error(region, table_of, float(weight))
        low, high = (float(row[here - 1]) * np.exp(side) for side in (-reach, reach))
        cells = [Cell(float(price), f"{price:.0f}") for price in row]
        rows.append((float(weight), *cells, Cell((low, high), f"{low:.0f}-{high:.0f}")))
    sure = [NORMAL_975 * np.hypot(region.price.se_pct, month[1]) for month in region.season.months()]
    rows.append((Cell(None, "\u00b1 %"), *(Cell(float(e), f"{e:.0f}") for e in sure), Cell(None, "")))
    caption = (
        f"{sex.capitalize()}s, {region.standard.grade}, price level of {f.day(region.price.as_of)}, $/cwt"
    )
    return table(caption, columns, rows)


def _error(region: Region, sex: SexTable, weight_lb: float) -> float:
    """Return one standard error of a price today [log points]: the level's, and the slide's from 550 lb on."""
    apart = abs(weight_lb - STANDARD_WEIGHT_LB) / 100.0
    middle = 0.5 * (weight_lb + STANDARD_WEIGHT_LB)
    parts = region.price.se_pct / 100.0, apart * slide_error(sex, middle), sex.discount_se / 100.0
    return float(np.sqrt(sum(part**2 for part in parts)))


def _slides(region: Region) -> TypedTable:
    slides = region_slides(region)
    names = ["sex", "from_lb", "to_lb", "percent_per_cwt", "percent_low", "percent_high"]
    rows = [
        (str(sex), Cell(None, f"{start:.0f}-{end:.0f}"), float(fall), Cell(None, f"{low:.1f} to {high:.1f}"))
        for sex, start, end, fall, low, high in slides[names].itertuples(index=False)
        if sex in SHEET_SEXES
    ]
    columns = [
        Column("Sex"),
        Column("lb", "figure"),
        Column("Falls by", "percent"),
        Column("Range", "figure"),
    ]
    return table("The slide: how far a pound's price falls for 100 lb more", columns, rows)


def _discounts(region: Region) -> TypedTable:
    found = [
        (f"{sex}s, {t.discount_at_lb:.0f} lb", t.discount_pct, t.discount_se)
        for sex, t in region.sexes().items()
        if sex != region.standard.sex
    ]
    others = [(name, grade) for name, grade in region.grades.items() if name != region.standard.grade]
    found += [
        (f"grade {name}", grade.discount_pct, grade.discount_se) for name, grade in others[:MOST_GRADES]
    ]
    rows = [
        (name, discount, Cell(None, f"\u00b1 {NORMAL_975 * error:.1f}" if error else "not known"))
        for name, discount, error in found
    ]
    columns = [Column("Against the standard calf"), Column("Lower by", "percent"), Column("Range", "figure")]
    return table("Discounts", columns, rows)
