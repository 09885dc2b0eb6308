"""Every sentence that a person reads, in one place."""

from __future__ import annotations

from datetime import date

from slidefit.market.outlook import OutlookBasis
from slidefit.show import formatting as f

SEASON_TITLE = "Prices through the year, for the same calf"
SLIDE_TITLE = "The slide: what heavier calves give up"
ZERO_LINE = "selling now"
GAIN_SOURCE = "Marks: the budget at the expected price. Bars: eight outcomes in ten lie inside."


def gain_title(group: str) -> str:
    """Return the title of the picture of sale months."""
    return f"Gain from keeping {group}, by month of sale"


def basis_line(basis: OutlookBasis) -> str:
    """Return what an outlook rests on, in one line."""
    where = f.listed(list(basis.markets)) if 0 < len(basis.markets) <= 3 else f"{len(basis.markets)} markets"
    return (
        f"{f.count(basis.lots)} lots ({f.count(basis.head)} head) in {f.count(basis.sales)} sales "
        f"at {where}, {f.day(basis.first_sale)} to {f.day(basis.last_sale)}"
    )


def chart_source(basis: OutlookBasis) -> str:
    """Return the short source line under a picture."""
    return (
        f"Source: {f.count(basis.lots)} lots in {f.count(basis.sales)} sales, "
        f"{f.day(basis.first_sale)} to {f.day(basis.last_sale)}."
    )


def price_by_weight_title(as_of: date) -> str:
    """Return the title of the price picture."""
    return f"Price by weight on {f.day(as_of)}"


def price_by_weight_source(basis: OutlookBasis, dots: int) -> str:
    """Return what the curve, the band and the dots are."""
    shown = (
        f"\nDots: {f.count(dots)} lots of the last year at this day's level, month, grade and lot size."
        if dots
        else ""
    )
    return f"Band: 95% interval of the mean price.{shown}\n{chart_source(basis)}"


def season_source(basis: OutlookBasis) -> str:
    """Return what the season's points and bars are."""
    return f"Bars: 95% interval. A season repeats on average, not every year.\n{chart_source(basis)}"


def slide_source(basis: OutlookBasis) -> str:
    """Return what the slide's points and bands are."""
    return f"Standard grade, mean of the year; bands: 95% interval.\n{chart_source(basis)}"


def lots_outside(number: int) -> str:
    """Return how many lots a picture doesn't show."""
    return (
        "1 lot lies outside the picture" if number == 1 else f"{f.count(number)} lots lie outside the picture"
    )
