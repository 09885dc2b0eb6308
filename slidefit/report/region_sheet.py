"""One page about a region, to print and hand out: prices by weight and month at three levels, and the season."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from matplotlib.figure import Figure

from slidefit.regions.region import Region, age_notes
from slidefit.regions.region_outlook import outlook_of_region, price_sheet, region_season
from slidefit.report import formatting as f
from slidefit.report import region_content as words
from slidefit.report import sentences
from slidefit.report.charts.market_charts import season_chart
from slidefit.report.charts.style import narrowed
from slidefit.report.render.html import page_template, picture_address

LEVELS = (0.8, 1.0, 1.2)
LEVEL_STEP_CWT = 10.0
SEASON_HIGH_IN = 2.3
SHEET_SEXES = ("steer", "heifer")


@dataclass(frozen=True)
class SheetTable:
    """One table of the sheet, all of it text."""

    caption: str
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def region_sheet_html(region: Region, today: date) -> str:
    """Return the sheet as the text of one HTML page that needs no other file and no network.

    Three price levels: 80, 100 and 120 percent of the file's own (mean of the year), to the nearest $10/cwt; the
    slide of each is that of its level, as far as the file knows.
    """
    outlook = outlook_of_region(region)
    season = region_season(region)
    sexes = [sex for sex in SHEET_SEXES if sex in region.sexes()] or list(region.sexes())
    groups = [[_table(region, sex, name, level) for name, level in _levels(region)] for sex in sexes]
    return page_template("region_sheet.html.j2").render(
        title=words.sheet_title(region),
        as_of=f.day(region.price.as_of),
        printed=f.day(today),
        groups=groups,
        months=[f.month_name(month, short=True) for month in range(1, 13)],
        season=picture_address(_low(season_chart(season, outlook.basis))),
        season_alt=sentences.season_picture_alt(season),
        use=words.SHEET_USE,
        basis=words.sheet_basis(region),
        notes=[f"{note}." for note in (*region.remarks, *age_notes(region, today))],
        caution=words.SHEET_CAUTION,
        standard=words.sheet_standard(region),
    )


def _low(figure: Figure) -> Figure:
    """Return a picture as wide as half the page and low enough to leave the tables their room."""
    narrow = narrowed(figure)
    narrow.set_size_inches(float(narrow.get_size_inches()[0]), SEASON_HIGH_IN)
    return narrow


def _levels(region: Region) -> list[tuple[str, float]]:
    mean_cwt = region.price.standard_cwt / region.season.months()[region.price.as_of.month - 1][0] * 100.0
    return [
        (name, max(round(share * mean_cwt / LEVEL_STEP_CWT), 1) * LEVEL_STEP_CWT)
        for name, share in zip(words.SHEET_LEVELS, LEVELS, strict=True)
    ]


def _table(region: Region, sex: str, level: str, standard_cwt: float) -> SheetTable:
    prices = price_sheet(region, sex, standard_cwt)
    rows = tuple(
        (f.count(float(weight)), tuple(f"{price:.0f}" for price in row))
        for weight, row in zip(prices.index, prices.to_numpy(), strict=True)
    )
    return SheetTable(words.level_caption(sex, level, standard_cwt), rows)
