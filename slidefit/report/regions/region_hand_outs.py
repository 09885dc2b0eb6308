"""What an adviser takes from regions: a season's table, three paragraphs for a newsletter, regions side by side."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from slidefit.distributions import NORMAL_975
from slidefit.regions.compared import ComparedNumber, compared
from slidefit.regions.moved.change import NumberChange, changes
from slidefit.regions.moved.renewal import Refusal, Renewal, SeasonWork
from slidefit.regions.region import PRICE_STALE_DAYS, Region, age_days, is_stale, spread_at
from slidefit.regions.region_outlook import region_season, region_slides
from slidefit.report import formatting as f
from slidefit.report import sentences
from slidefit.report.document import Cell, Column, Document, Heading, document, notes, table
from slidefit.report.regions.change_content import because, change_name, edit_line, verdicts_line

NEXT_MONTHS = 3
SEASON_TITLE = "A season's work: every region, old against new"
SEASON_CAPTION = (
    "Moved: at most about 1 in 20 of them by chance. Steady: within the dollars below. Can't tell: neither. Stale: "
    "over 365 days since the last sale."
)


def refresh_content(work: SeasonWork, today: date, *, written: bool) -> Document:
    """Return one table of all regions of a folder, what moved in each and why, and which markets feed none."""
    columns = [
        Column("Region"), Column("Last sale", "day", spare=2), Column("Markets", "count", spare=1),
        Column("Moved", "count"), Column("Steady", "count"), Column("Can't tell", "count"), Column("State"),
    ]  # fmt: skip
    rows: list[tuple[Any, ...]] = []
    details: list[Any] = []
    for name, outcome in work.outcomes.items():
        if isinstance(outcome, Refusal):
            rows.append((outcome.old.name, outcome.old.source.last_sale, 0, None, None, None, "not updated"))
            details.append(f"{name}: {outcome.fault}")
            continue
        told = [change.verdict for change in outcome.changes if change.verdict]
        rows.append(
            (
                outcome.new.name, outcome.new.source.last_sale, len(outcome.fed_by), told.count("moved"),
                told.count("steady"), sum(v == "can't tell" for v in told), _state(outcome, today),
            )
        )  # fmt: skip
        moved = outcome.judged.moved
        words = [f"{sentences.capital(change_name(c))} moved {because(c)}." for c in moved]
        words += [edit_line(edit) for edit in work.edits[name]]
        words += [f"Can't be kept: {edit_line(edit)}" for edit in work.lost[name]]
        details += [Heading(outcome.new.name, level=3), *words] if words else []
        if outcome.kin:
            details.append(_kin_line(outcome))
    none_fed = f.listed([f"{s.market or '(no name)'} ({f.count(s.records)})" for s in work.unfed])
    judged = list(work.renewed.values())
    return document(
        table(SEASON_TITLE, columns, rows, caption=SEASON_CAPTION),
        verdicts_line([c for o in judged for c in o.changes]) if judged else "",
        *details,
        f"Markets in no region: {none_fed}." if work.unfed else "Every market of the book is in a region.",
        *(f"{name}: left alone, since it has a fault: {fault}" for name, fault in work.faults.items()),
        "Written; every former version is kept." if written else "",
    )


def _state(outcome: Renewal, today: date) -> str:
    if is_stale(outcome.new, today):
        return "stale"
    if outcome.new.source.last_sale <= outcome.old.source.last_sale:
        return "nothing newer"
    return "old prices" if age_days(outcome.new, today) > PRICE_STALE_DAYS else "fresh"


def _kin_line(outcome: Renewal) -> str:
    names = f.listed([f"{span.market or '(no name)'} ({f.count(span.records)})" for span in outcome.kin])
    return f"{outcome.new.name} does not use {names}: newer, and perhaps the same barn under another name."


def brief_content(region: Region, former: Region | None, today: date) -> Document:
    """Return three paragraphs to paste and edit: where prices stand, what slide and season say, what moved.

    Every number is the file's, with its range; no advice.
    """
    return document(
        _level_words(region, former, today),
        _ahead_words(region),
        _moved_words(region, former),
        *notes(
            [
                "An estimate from past sales, not a promise or advice. Check the figures before you print them."
            ],
            "caution",
        ),
        title=f"{region.name}: for the newsletter",
        subtitle=f"Prices of {f.day(region.price.as_of)}, written {f.day(today)}",
    )


def _level_words(region: Region, former: Region | None, today: date) -> str:
    price, standard = region.price, region.standard
    reach = NORMAL_975 * price.se_pct / 100.0 * price.standard_cwt
    calf = f"{standard.weight_lb:.0f}-lb {standard.sex} ({standard.grade})"
    words = (
        f"On {f.day(price.as_of)}, a {calf} brought about {f.price_cwt(price.standard_cwt)} a hundredweight in "
        f"{region.name} (between {f.price_cwt(price.standard_cwt - reach)} and "
        f"{f.price_cwt(price.standard_cwt + reach)}), from {f.count(region.source.lots)} lots in "
        f"{f.count(region.source.sales)} sales."
    )
    for told, what in (
        (price.year_ago, "a year earlier"),
        (price.five_years, "the average of that month in the five years before"),
    ):
        if told is not None:
            share = 100.0 * (price.standard_cwt / told[0] - 1.0)
            error = NORMAL_975 * float((price.se_pct**2 + told[1] ** 2) ** 0.5) * (1.0 + share / 100.0)
            way = "above" if share > 0 else "below"
            words += (
                f" That is {f.percent(abs(share), decimals=0)} {way} {what} "
                f"({f.price_cwt(told[0])}; plus or minus {error:.0f} points)."
            )
    if former is not None and former.price.as_of < price.as_of:
        words += (
            f" The former file had {f.price_cwt(former.price.standard_cwt)} on {f.day(former.price.as_of)}."
        )
    low, high = price.seen_cwt
    words += f" The records hold prices from {f.price_cwt(low, forecast=True)} to {f.price_cwt(high, forecast=True)}."
    days = age_days(region, today)
    return f"{words} These prices are {days:,} days old." if days > PRICE_STALE_DAYS else words


def _ahead_words(region: Region) -> str:
    rows = region_season(region)[["month", "low", "index", "high"]].to_numpy(dtype=float)
    season = {int(month): (low, middle, high) for month, low, middle, high in rows}
    here = region.price.as_of.month
    ahead = [(here - 1 + step) % 12 + 1 for step in range(1, NEXT_MONTHS + 1)]
    base = season[here][1]
    parts = []
    for month in ahead:
        low, middle, high = (100.0 * (side / base - 1.0) for side in season[month])
        parts.append(f"{f.month_name(month)} {middle:+.0f}% ({low:+.0f} to {high:+.0f})")
    slides = region_slides(region, sexes=[region.standard.sex])
    falls = [
        f"{row.percent_per_cwt:.1f}% from {row.from_lb:.0f} to {row.to_lb:.0f} lb "
        f"({row.percent_low:.1f} to {row.percent_high:.1f})"
        for row in slides.itertuples()
    ]
    spread = spread_at(region.price, region.forecast, NEXT_MONTHS)
    return (
        f"In past years, compared with {f.month_name(here)}, the same calf brought {f.listed(parts)}. Heavier calves "
        f"bring less a pound: the price of {region.standard.sex}s falls by {f.listed(falls)}. Prices also wander from "
        f"the season: two years in three they are within about {spread:.0f}% of it {NEXT_MONTHS} months ahead."
    )


def _moved_words(region: Region, former: Region | None) -> str:
    if former is None:
        return "This is the region file's first version: there is nothing older to compare it with."
    shared = min(former.source.lots, region.source.lots)
    moved = changes(former, region, (shared, region.source.lots)).moved
    since = f"Since the file of {f.day(former.source.made)}"
    if not moved:
        return f"{since}, no number moved more than chance would explain."
    named = f.listed([_moved_part(change) for change in moved[:3]])
    more = f" ({len(moved)} numbers in all)" if len(moved) > 3 else ""
    return f"{since}, what moved most: {named}{more}. Dollars are for a typical calf at today's price."


def _moved_part(change: NumberChange) -> str:
    low, high = f.money(change.head_low, sign=True), f.money(change.head_high, sign=True)
    return f"{change_name(change)}, {f.money(change.head, sign=True)} a head ({low} to {high})"


def compare_content(regions: Sequence[Region]) -> Document:
    """Return regions side by side with 95 percent intervals, and which numbers can be told apart at all."""
    found = compared(regions)
    columns = [Column("Number"), *(Column(region.name, "figure") for region in regions), Column("Apart?")]
    rows: list[tuple[str | Cell, ...]] = [
        (
            compared_name(number),
            *(_interval(number, v, e) for v, e in zip(number.values, number.errors, strict=True)),
            Cell(number.p, "yes" if number.apart else "can't tell"),
        )
        for number in found
    ]
    days = f.listed([f"{region.name} {f.day(region.price.as_of)}" for region in regions])
    return document(
        table("Regions side by side", columns, rows, caption=COMPARE_CAPTION),
        f"Prices are of {days}. Prices of different days also differ because the market moved.",
    )


COMPARE_CAPTION = (
    "Plus or minus: 95 percent interval. Apart: the regions differ by more than chance (Cochran's Q, 1 in 20). Where "
    "it says can't tell, don't rank them."
)


def compared_name(number: ComparedNumber) -> str:
    """Return what a number of several regions is."""
    if number.kind == "level":
        return "price, $/cwt"
    if number.kind == "season":
        return f"season, {f.month_name(int(number.at))}"
    if number.kind == "slide":
        return f"{number.sex} slide, {number.at - 50:.0f}-{number.at + 50:.0f} lb"
    return f"{number.sex} discount"


def _interval(number: ComparedNumber, value: float | None, error: float | None) -> Cell:
    if value is None:
        return Cell(None, "")
    digits, unit = 0 if number.kind == "level" else 1, "" if number.kind in ("level", "season") else "%"
    return Cell(value, f"{value:.{digits}f} \u00b1 {NORMAL_975 * (error or 0.0):.{digits}f}{unit}")
