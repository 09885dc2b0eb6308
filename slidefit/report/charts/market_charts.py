"""Price, slide, season, pooling, change of a region."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from slidefit.distributions import NORMAL_975
from slidefit.market.fit.coding import RecordTable
from slidefit.market.months import MONTHS
from slidefit.market.outlook import STANDARD_WEIGHT_LB, Outlook, OutlookBasis
from slidefit.market.to_outlook import comparable_prices
from slidefit.regions.compared import ComparedNumber
from slidefit.regions.moved.change import NumberChange
from slidefit.regions.pooling import PooledSlide
from slidefit.regions.region import Region
from slidefit.report import formatting, sentences
from slidefit.report.charts.style import (
    ACCENT,
    FAINT,
    GRID,
    INK,
    LINE_PT,
    SEX_LOOKS,
    SMALL_PT,
    interval,
    label,
    legend,
    literal,
    new_figure,
    row_figure,
    short_label,
)
from slidefit.report.regions import change_content as changed
from slidefit.report.regions import region_content as words
from slidefit.report.regions.region_hand_outs import compared_name

FloatArray = NDArray[np.float64]

CURVE_POINTS = 120
DOT_AREA_PT2 = 7.0


def price_by_weight(outlook: Outlook, records: pd.DataFrame | RecordTable | None = None) -> Figure:
    """Return the picture of price by weight on the outlook's day.

    Parameters
    ----------
    records : DataFrame, RecordTable or None
        Tidy sale records; the last year's lots are shown, moved to the outlook's day, or whole sales drawn from them.
    """
    figure, axes = new_figure()
    found = None if records is None else comparable_prices(outlook, records)
    points = None if found is None else found.lots
    reach = []
    for sex in (name for name in SEX_LOOKS if name in outlook.curves):
        if points is not None:
            _scatter(axes, sex, points[points["sex"] == sex])
        reach.append(_curve(axes, outlook, sex))
    _frame(axes, reach, np.empty(0) if points is None else points["price_cwt"].to_numpy(dtype=float))
    legend(axes)
    label(
        axes,
        title=f"Price by weight on {formatting.day(outlook.as_of)}",
        x="Weight of the calf, lb",
        y="Price, dollars per hundredweight",
        source=sentences.price_by_weight_source(
            outlook.basis, 0 if points is None else len(points), drawn=found is not None and found.drawn
        ),
    )
    return figure


def _scatter(axes: Axes, sex: str, points: pd.DataFrame) -> None:
    look = SEX_LOOKS[sex]
    axes.scatter(
        points["weight_lb"], points["price_cwt"], s=DOT_AREA_PT2, marker=look.marker, color=look.color,
        alpha=0.28, linewidths=0, rasterized=True, gid=f"lots-{sex}", zorder=1,
    )  # fmt: skip


def _curve(axes: Axes, outlook: Outlook, sex: str) -> tuple[float, float]:
    """Draw a curve and its band; return the band's lowest and highest price."""
    look, curve = SEX_LOOKS[sex], outlook.curves[sex]
    weights = np.linspace(curve.low_lb, curve.high_lb, CURVE_POINTS)
    price = outlook.price_cwt(sex, weights, outlook.as_of)
    spread = np.hypot(outlook.level_sd, outlook.slide_sd(sex, STANDARD_WEIGHT_LB, weights))
    low, high = price * np.exp(-NORMAL_975 * spread), price * np.exp(NORMAL_975 * spread)
    axes.fill_between(
        weights, low, high, color=look.color, alpha=0.22, linewidth=0, gid=f"band-{sex}", zorder=2
    )
    axes.plot(
        weights, price, color=look.color, linestyle=look.dash, linewidth=LINE_PT,
        label=f"{sex}s", gid=f"curve-{sex}", zorder=3,
    )  # fmt: skip
    return float(low.min()), float(high.max())


def _frame(axes: Axes, reach: list[tuple[float, float]], prices: FloatArray) -> None:
    """Keep the curves and the bulk of the lots in view, and say how many lots lie outside."""
    low, high = min(low for low, _ in reach), max(high for _, high in reach)
    if len(prices):
        low = min(low, float(np.quantile(prices, 0.005)))
        high = max(high, float(np.quantile(prices, 0.995)))
    margin = 0.04 * (high - low)
    bottom, top = low - margin, high + margin
    hidden = int(np.sum((prices < bottom) | (prices > top)))
    axes.set_ylim(bottom, top)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"${value:,.0f}"))
    if hidden:
        told = f"{formatting.count(hidden)} {'lot lies' if hidden == 1 else 'lots lie'} outside the picture"
        axes.annotate(told, (0.02, 0.02), xycoords="axes fraction", fontsize=SMALL_PT, color=FAINT)


def slide_by_weight(slides: pd.DataFrame, basis: OutlookBasis) -> Figure:
    """Return the picture of the slide by weight over the whole year.

    Parameters
    ----------
    slides : DataFrame
        ``sex``, ``from_lb``, ``to_lb``, ``month`` (missing for the year), ``percent_per_cwt``,
        ``percent_low``, ``percent_high``; rows of single months are left out.
    """
    figure, axes = new_figure()
    whole_year = slides[slides["month"].isna()]
    axes.axhline(0.0, color=INK, linewidth=1.0, gid="no-slide")
    for sex in (name for name in SEX_LOOKS if name in set(whole_year["sex"])):
        look = SEX_LOOKS[sex]
        rows = whole_year[whole_year["sex"] == sex].sort_values("from_lb")
        middle = (rows["from_lb"] + rows["to_lb"]).to_numpy(dtype=float) / 2.0
        low, high = rows["percent_low"].to_numpy(dtype=float), rows["percent_high"].to_numpy(dtype=float)
        axes.fill_between(middle, low, high, color=look.color, alpha=0.20, linewidth=0, gid=f"band-{sex}")
        axes.plot(
            middle, rows["percent_per_cwt"].to_numpy(dtype=float), color=look.color, linestyle=look.dash,
            linewidth=LINE_PT, marker=look.marker, markersize=5, label=f"{sex}s", gid=f"slide-{sex}",
        )  # fmt: skip
    axes.set_ylim(min(axes.get_ylim()[0], 0.0), max(axes.get_ylim()[1], 1.0))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f}%"))
    legend(axes)
    label(
        axes,
        title=sentences.SLIDE_TITLE,
        x="Weight at the middle of the step, lb",
        y="Fall in price for 100 lb more, percent",
        source="Standard grade, mean of the year, mean price level of the records; bands: 95% interval.\n"
        f"{sentences.chart_source(basis)}",
    )
    return figure


FLAT = 0.05


def season_chart(season: pd.DataFrame, basis: OutlookBasis) -> Figure:
    """Return the picture of the season.

    Parameters
    ----------
    season : DataFrame
        ``month`` (1 to 12), ``index`` (year mean = 100), ``low``, ``high`` (95 percent interval).
    """
    figure, axes = new_figure()
    month = season["month"].to_numpy(dtype=float)
    index, low, high = (season[name].to_numpy(dtype=float) for name in ("index", "low", "high"))
    axes.axhline(100.0, color=INK, linewidth=1.0, gid="year-mean")
    axes.vlines(month, low, high, color=ACCENT, linewidth=6.0, alpha=0.30, gid="intervals")
    axes.plot(month, index, color=ACCENT, linewidth=LINE_PT, marker="o", markersize=6, gid="index")
    ends = (int(np.argmax(index)), int(np.argmin(index))) if np.ptp(index) >= FLAT else ()
    for at in ends:
        up = index[at] >= 100.0
        axes.annotate(
            f"{formatting.month_name(int(month[at]), short=True)} {index[at]:.1f}",
            (month[at], high[at] if up else low[at]), xytext=(0, 5 if up else -5), textcoords="offset points",
            ha="center", va="bottom" if up else "top", fontsize=SMALL_PT, color=INK,
        )  # fmt: skip
    axes.set_xlim(0.5, MONTHS + 0.5)
    axes.set_xticks(
        range(1, MONTHS + 1), [formatting.month_name(m, short=True) for m in range(1, MONTHS + 1)]
    )
    reach = 1.25 * max(float(np.max(np.abs(np.array([low, high]) - 100.0))), 1.0)
    axes.set_ylim(100.0 - reach, 100.0 + reach)
    axes.yaxis.set_major_locator(MaxNLocator(nbins=8, integer=True, steps=[1, 2, 5, 10]))
    axes.annotate(
        "mean of the year", (MONTHS + 0.45, 100.0), xytext=(0, 3), textcoords="offset points",
        ha="right", fontsize=SMALL_PT, color=FAINT,
    )  # fmt: skip
    label(
        axes,
        title=sentences.SEASON_TITLE,
        y="Price index, mean of the year = 100",
        source=f"Bars: 95% interval. A season repeats on average, not every year.\n{sentences.chart_source(basis)}",
    )
    return figure


POOL_ROW_IN = 0.42
APART = 0.16


def pooling_chart(slides: Sequence[PooledSlide], pool: dict[str, float]) -> Figure:
    """Return the picture of own and pooled slides at 550 lb.

    Parameters
    ----------
    pool : mapping of sex to the pool's own slide at 550 lb [percent per cwt]
    """
    rows = list(slides)[::-1]
    names = [
        f"{short_label(slide.market or words.NAMELESS)}\n{slide.sex}s, {slide.lots:,} lots" for slide in rows
    ]
    figure, axes = row_figure([*map(sentences.capital, names)], POOL_ROW_IN)
    for row, slide in enumerate(rows):
        look = SEX_LOOKS[slide.sex]
        for value, se, side, kind in (
            (slide.own, slide.own_se, APART, "own"),
            (slide.pooled, slide.pooled_se, -APART, "pooled"),
        ):
            ends = (value - NORMAL_975 * se, value + NORMAL_975 * se)
            interval(
                axes, row + side, value, ends, filled=kind == "pooled", gid=f"{kind}-{row}", color=look.color,
                marker=look.marker,
            )  # fmt: skip
        if slide.sex in pool:
            axes.vlines(
                pool[slide.sex], row - 0.45, row + 0.45, color=look.color, linewidth=1.2, linestyle="--"
            )
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f}%"))
    label(axes, title=words.POOLED_TITLE, x=words.POOLED_AXIS, source=words.POOLED_SOURCE)
    return figure


CHANGE_ROW_IN = 0.27


def region_change_chart(old: Region, new: Region, changes: Sequence[NumberChange]) -> Figure:
    """Return the picture of what changed, the price itself apart; filled marks moved."""
    shown = changed.shown([change for change in changes if change.moved is not None])[::-1]
    figure, axes = row_figure([sentences.capital(changed.change_name(c)) for c in shown], CHANGE_ROW_IN)
    axes.axvline(0.0, color=INK, linewidth=1.2, gid="no-change")
    for row, change in enumerate(shown):
        ends, gid = (change.head_low, change.head_high), f"{'moved' if change.moved else 'same'}-{row}"
        interval(axes, row, change.head, ends, filled=bool(change.moved), gid=gid)
        told = f"{changed.change_value(change, change.old_now)} to {changed.change_value(change, change.new)}"
        axes.annotate(
            literal(told), (1.0, row), xycoords=("axes fraction", "data"), xytext=(6, 0),
            textcoords="offset points", va="center", fontsize=SMALL_PT, color=INK if change.moved else FAINT,
        )  # fmt: skip
    axes.xaxis.set_major_locator(MaxNLocator(nbins=6))
    axes.xaxis.set_major_formatter(
        FuncFormatter(lambda value, _: literal(formatting.money(value, sign=True)))
    )
    label(
        axes, title=changed.change_title(old, new), x=changed.CHANGE_AXIS, source=changed.CHANGE_CHART_SOURCE
    )
    return figure


REGION_ROW_IN = 0.3


def regions_chart(regions: Sequence[Region], numbers: Sequence[ComparedNumber]) -> Figure:
    """Return the picture of several regions side by side: each slide and season with its 95 percent interval."""
    shown = [number for number in numbers if number.kind in ("slide", "season")]
    told = [
        (number, region, value, error, line)
        for number in shown
        for line, (region, value, error) in enumerate(zip(regions, number.values, number.errors, strict=True))
    ][::-1]
    names = [
        f"{f'{compared_name(n)}: ' if not line else ''}{short_label(r.name)}" for n, r, _, _, line in told
    ]
    figure, axes = row_figure([*map(sentences.capital, names)], REGION_ROW_IN)
    for row, (number, _, value, error, line) in enumerate(told):
        if line == 0:
            axes.axhline(row + 0.5, color=GRID, linewidth=0.8)
        if value is not None:
            middle = value - (100.0 if number.kind == "season" else 0.0)
            reach = NORMAL_975 * (error or 0.0)
            ends, gid = (middle - reach, middle + reach), f"region-{shown.index(number)}-{line}"
            interval(axes, row, middle, ends, filled=bool(number.apart), gid=gid)
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f}%"))
    label(axes, title="Regions side by side", x=REGIONS_AXIS, source=REGIONS_SOURCE)
    return figure


REGIONS_AXIS = "Percent: the slide; the season against the year's mean"
REGIONS_SOURCE = (
    "Bars: 95% interval. Filled: the regions can be told apart on this number. Hollow: they can't."
)
