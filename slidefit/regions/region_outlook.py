"""From a region to an outlook, and its tables of slide, season, price."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from slidefit.distributions import NORMAL_975
from slidefit.errors import OutlookError
from slidefit.facts import Setting, Text
from slidefit.market.fit.constants import MARKETS_SLIDE_SD
from slidefit.market.fit.slide_model import STEP_LB, usual_weights
from slidefit.market.futures import MonthBasis
from slidefit.market.months import MONTHS, month_weights
from slidefit.market.outlook import STANDARD_WEIGHT_LB, UNGRADED, GradeOffset, Outlook, OutlookBasis, SexCurve
from slidefit.market.past_record import OURS
from slidefit.market.season import index_rows
from slidefit.market.to_outlook import BEYOND_SD_CWT, curve_grid, extrapolate
from slidefit.regions.region import LEVEL_STEP, MONTH_KEYS, SEASON_AT_LB, Region, SexTable, age_notes

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]

WALK_SHARES = {1: (1.0, 0.0), 2: (3.732, 1.0)}
"""Error variance of the first and second wave of a season on a random walk, 1 / (2 - 2 cos(k pi / 6))."""


def outlook_of_region(region: Region, today: date | None = None) -> Outlook:
    """Return the outlook of a region's file; the decision can't tell it from a fit's.

    Parameters
    ----------
    today : date, optional. Adds a word on the file's age where it is old.
    """
    season_log, season_cov = season_of(region)
    as_of = region.price.as_of
    basis = OutlookBasis(
        source=f"region file {region.name}",
        lots=region.source.lots,
        head=region.source.head,
        sales=region.source.sales,
        markets=region.markets,
        first_sale=region.source.first_sale,
        last_sale=region.source.last_sale,
        verdict=region.source.verdict,
    )
    scale = region.forecast.scale
    curves: dict[str, SexCurve] = {sex: _curve(region, sex, table) for sex, table in region.sexes().items()}
    return Outlook(
        as_of=as_of,
        currency=region.currency,
        log_level=float(np.log(region.price.standard_cwt) - month_weights([as_of])[0] @ season_log),
        level_sd=region.price.se_pct / 100.0,
        season_log=season_log,
        season_cov=season_cov,
        walk_sd_month=region.forecast.walk_pct_month / 100.0,
        drift_sd_month=region.forecast.drift_pct_month / 100.0,
        curves=curves,
        grades={
            "" if name == UNGRADED else name: GradeOffset(
                float(np.log1p(-grade.discount_pct / 100.0)), float(np.log1p(-grade.slide_more / 100.0))
            )
            for name, grade in region.grades.items()
        },
        head_slope=float(np.log2(1.0 + region.noise.head_pct / 100.0)),
        lot_sd=region.noise.lot_pct / 100.0,
        calf_sd=region.noise.calf_pct / 100.0,
        sale_sd=region.noise.sale_pct / 100.0,
        drift_slope=-region.noise.slide_now_pct / 100.0,
        drift_week_share=region.noise.slide_week_share,
        basis=basis,
        unseen_months=tuple(MONTH_KEYS.index(key) + 1 for key in region.season.unseen),
        month_basis=_month_basis(region, curves[region.standard.sex]),
        range_scale=scale,
        record=replace(OURS, range_scale=scale),
        notes=(*region.remarks, *region.source.notes, *(age_notes(region, today) if today else ())),
    )


def _month_basis(region: Region, curve: SexCurve) -> MonthBasis | None:
    """Return the file's basis, with the price at its weight against the standard calf by month."""
    table = region.basis
    if table is None:
        return None
    relative = [float(np.interp(table.weight_lb, curve.weights_lb, row)) for row in curve.log_relative]
    return MonthBasis(
        log=np.log1p(np.array(table.month_pct) / 100.0),
        sd=table.spread_pct / 100.0,
        month_share=table.month_share,
        months=table.months,
        weight_lb=table.weight_lb,
        relative=np.array(relative),
        source=region.name,
    )


def season_of(region: Region) -> tuple[FloatArray, FloatArray]:
    """Return the season [log points, mean zero], shape (12,), and the covariance of its errors, shape (12, 12).

    The file holds a standard error for each month; how the months' errors go together follows from the waves that
    were fitted over a random walk: wave k errs with a variance in proportion to 1 / (2 - 2 cos(pi k / 6)), so

        corr(m, n) = sum_k v_k cos(pi k (m - n) / 6) / sum_k v_k

    Without waves the months err independently.
    """
    index = np.array([month[0] for month in region.season.months()])
    error = np.array([month[1] for month in region.season.months()]) / 100.0
    log = np.log(index)
    if region.season.waves == 0:
        return log - log.mean(), np.diag(error**2)
    apart = np.subtract.outer(np.arange(MONTHS), np.arange(MONTHS)) * np.pi / 6.0
    first, second = WALK_SHARES[region.season.waves]
    together = (first * np.cos(apart) + second * np.cos(2.0 * apart)) / (first + second)
    return log - log.mean(), np.outer(error, error) * together


def seasonal_log(region: Region, weight_lb: FloatArray) -> FloatArray:
    """Return what the season of the slide adds to the log price, shape (12, n): zero at 550 lb.

    The added slide is a_m at 450 lb and b_m at 750 lb, straight between; its integral from 550 lb, with the sign of a
    fall, is -(s_m x + (b_m - a_m) x^2 / 6) / 100, x = (weight - 550) / 100 and s_m the added slide at 550 lb.
    """
    x = (weight_lb - STANDARD_WEIGHT_LB) / 100.0
    ends = np.array(region.slide_season.months())
    low, high = SEASON_AT_LB
    gradient = (ends[:, 1] - ends[:, 0]) / ((high - low) / 100.0)
    at_standard = ends[:, 0] + gradient * (STANDARD_WEIGHT_LB - low) / 100.0
    return np.asarray(-(np.outer(at_standard, x) + np.outer(gradient, x**2) / 2.0) / 100.0)


def _curve(region: Region, sex: str, table: SexTable) -> SexCurve:
    between = (region.pool.between_pct if region.pool else {}).get(sex, 100.0 * MARKETS_SLIDE_SD)
    low, high = table.seen_lb
    grid = curve_grid(low, high)
    inside = np.clip(grid, low, high)
    curves = year_curve(table, inside) + seasonal_log(region, inside)
    steps = table.steps()
    middle = [0.5 * (a + b) for a, b, _, _ in steps]
    error = np.interp(grid, middle, [e / 100.0 for *_, e in steps])
    beyond = np.where((grid < low) | (grid > high), BEYOND_SD_CWT, 0.0)
    return SexCurve(
        weights_lb=grid,
        log_relative=extrapolate(grid, curves, low, high),
        slope_sd_cwt=np.sqrt(error**2 + (region.noise.slide_pct / 100.0) ** 2 + beyond**2),
        low_lb=low,
        high_lb=high,
        stray_cwt=region.noise.slide_pct / 100.0,
        level_slope=-float(added_slide(table.slide_more, np.array(STANDARD_WEIGHT_LB))) / 100.0 / LEVEL_STEP,
        between_cwt=between / 100.0,
    )


def year_curve(table: SexTable, weight_lb: FloatArray) -> FloatArray:
    """Return the mean year's log price by weight against the standard calf, in the shape of ``weight_lb``.

    Exact at the ends of the steps (each adds ln(1 - slide) x its hundredweight), a cubic spline between.
    """
    steps = table.steps()
    nodes = np.array([steps[0][0], *(to for _, to, _, _ in steps)])
    falls = [np.log1p(-slide / 100.0) * (to - start) / 100.0 for start, to, slide, _ in steps]
    values = np.concatenate([[0.0], np.cumsum(falls)])
    at = np.log1p(-table.discount_pct / 100.0) - cubic_spline(nodes, values, np.array(table.discount_at_lb))
    return np.asarray(cubic_spline(nodes, values, weight_lb) + at)


def cubic_spline(nodes: FloatArray, values: FloatArray, at: FloatArray) -> FloatArray:
    """Return the cubic spline through two or more points, its first two and last two pieces one cubic each.

    de Boor, A practical guide to splines, 1978, chapter IV ("not a knot"); scipy's takes a second to load.

    Examples
    --------
    >>> cubic_spline(np.array([0.0, 1.0, 3.0, 4.0]), np.array([0.0, 1.0, 27.0, 64.0]), np.array([2.0])).round(9)
    array([8.])
    """
    step, count = np.diff(nodes), len(nodes)
    rise = np.diff(values) / step
    bend: FloatArray = np.zeros(count)  # the second derivative at each node
    if count > 2:
        rows, right = np.zeros((count, count)), np.zeros(count)
        for i in range(1, count - 1):
            rows[i, i - 1 : i + 2] = step[i - 1], 2.0 * (step[i - 1] + step[i]), step[i]
            right[i] = 6.0 * (rise[i] - rise[i - 1])
        if count == 3:
            rows[0, :2] = rows[2, 1:] = 1.0, -1.0
        else:
            rows[0, :3] = step[1], -(step[0] + step[1]), step[0]
            rows[-1, -3:] = step[-1], -(step[-2] + step[-1]), step[-2]
        bend = np.asarray(np.linalg.solve(rows, right), dtype=np.float64)
    piece = np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, count - 2)
    width = step[piece]
    left = (nodes[piece + 1] - at) / width
    right_share = 1.0 - left
    curved = (left**3 - left) * bend[piece] + (right_share**3 - right_share) * bend[piece + 1]
    return np.asarray(left * values[piece] + right_share * values[piece + 1] + curved * width**2 / 6.0)


SHEET_STEP_LB = 50.0


def slide_error(table: SexTable, weight_lb: float) -> float:
    """Return one standard error of the slide over the 100 lb around a weight [log points], errors shared along it."""
    steps = table.steps()
    middle = [0.5 * (a + b) for a, b, _, _ in steps]
    at = np.linspace(weight_lb - STEP_LB / 2, weight_lb + STEP_LB / 2, 11)
    return float(np.interp(at, middle, [e for *_, e in steps]).mean()) / 100.0


def region_slide_rows(
    region: Region,
    *,
    sexes: Sequence[str] | None = None,
    weights_lb: Sequence[float] | None = None,
    months: Sequence[int | None] | None = None,
    allow_unseen: bool = False,
) -> list[dict[str, Any]]:
    """Return the slide over 100 lb around each weight with its 95 percent interval, at the price level of the file.

    percent = 100 (1 - p(w + 50) / p(w - 50))

    Returns
    -------
    list of dict
        ``sex``, ``from_lb``, ``to_lb``, ``month`` (None: mean of the year), ``percent_per_cwt``,
        ``percent_low``, ``percent_high``, ``price_cwt`` (at ``from_lb``), ``dollars_per_cwt_per_cwt``.

    Raises
    ------
    OutlookError
        A sex that the file doesn't hold, a weight over 50 lb outside the data, or a month without a sale behind it.
    """
    outlook = outlook_of_region(region)
    unseen = [m for m in months or [] if m in outlook.unseen_months]
    if unseen and not allow_unseen:
        raise OutlookError(
            f"the region's file rests on no sale in month {unseen[0]}",
            where=Text(Setting("months")),
            remedy=Text(
                "Leave the month out for the mean of the year, or give ", Setting("allow_unseen"), "."
            ),
        )
    rows = []
    for sex in sexes or list(region.sexes()):
        curve = outlook.curve(sex)
        table = dict(region.sexes().items())[sex]  # type: ignore[index]
        for weight in weights_lb or usual_weights(*table.seen_lb):
            ends = np.array([weight - STEP_LB / 2, weight + STEP_LB / 2])
            for end in ends:
                outlook.check_weight(sex, float(end))
            reach = NORMAL_975 * slide_error(table, weight)
            for month in months or [None]:
                line = curve.log_relative.mean(axis=0) if month is None else curve.log_relative[month - 1]
                start, end = np.interp(ends, curve.weights_lb, line)
                falls = [-100.0 * float(np.expm1(end - start + side)) for side in (0.0, reach, -reach)]
                price = float(np.exp(outlook.log_level + start))
                rows.append(
                    {
                        "sex": sex, "from_lb": float(ends[0]), "to_lb": float(ends[1]), "month": month,
                        "percent_per_cwt": falls[0], "percent_low": falls[1], "percent_high": falls[2],
                        "price_cwt": price, "dollars_per_cwt_per_cwt": price * falls[0] / 100.0,
                    }
                )  # fmt: skip
    return rows


def region_slides(region: Region, **asked: Any) -> pd.DataFrame:
    """Return `region_slide_rows` as a frame."""
    import pandas as pd

    return pd.DataFrame(region_slide_rows(region, **asked)).astype({"month": "Int64"})


def region_season_rows(region: Region) -> list[dict[str, Any]]:
    """Return ``month``, ``index`` (year mean = 100), ``low`` and ``high`` (95 percent interval)."""
    index, error = np.array(region.season.months()).T
    return index_rows(index, error / 100.0)


def region_season(region: Region) -> pd.DataFrame:
    """Return `region_season_rows` as a frame."""
    import pandas as pd

    return pd.DataFrame(region_season_rows(region))


def level_rise(region: Region, standard_cwt: ArrayLike) -> FloatArray:
    """Return how far a price of the standard calf lies over the file's, in steps of 10 percent, inside those seen."""
    held = np.clip(np.asarray(standard_cwt, dtype=float), *region.price.seen_cwt)
    return np.asarray(np.log(held / np.clip(region.price.standard_cwt, *region.price.seen_cwt)) / LEVEL_STEP)


def added_slide(at_ends: tuple[float, float], weight_lb: FloatArray) -> FloatArray:
    """Return points given at 450 and at 750 lb, at other weights: straight between and beyond."""
    low, high = SEASON_AT_LB
    return np.asarray(at_ends[0] + (at_ends[1] - at_ends[0]) * (weight_lb - low) / (high - low))


def level_effect(
    region: Region, table: SexTable, weight_lb: FloatArray, standard_cwt: ArrayLike
) -> FloatArray:
    """Return what a price level other than the file's adds to the log price against the standard calf.

    The slide gains ``slide_more`` for each 10 percent (its mean from 550 lb on times the distance), the discount
    ``discount_more``.
    """
    x = (weight_lb - STANDARD_WEIGHT_LB) / 100.0
    fall = x * added_slide(table.slide_more, 0.5 * (weight_lb + STANDARD_WEIGHT_LB))
    return np.asarray(-level_rise(region, standard_cwt) * (fall + table.discount_more) / 100.0)


def price_sheet(region: Region, sex: str, standard_cwt: float) -> pd.DataFrame:
    """Return prices [$/cwt] by weight (rows, every 50 lb) and calendar month (columns 1 to 12).

    Parameters
    ----------
    standard_cwt : float [$/cwt]. The standard calf's price as the mean of the year; each month moves with the season.
    """
    import pandas as pd

    outlook: Outlook = outlook_of_region(region)
    curve, table = outlook.curve(sex), dict(region.sexes().items())[sex]  # type: ignore[index]
    first = np.ceil(curve.low_lb / SHEET_STEP_LB) * SHEET_STEP_LB
    weights = np.arange(first, curve.high_lb + 1e-9, SHEET_STEP_LB)
    index = np.array([month[0] for month in region.season.months()]) / 100.0
    level = level_effect(region, table, weights, standard_cwt)
    prices = {
        month: standard_cwt
        * index[month - 1]
        * np.exp(np.interp(weights, curve.weights_lb, curve.log_relative[month - 1]) + level)
        for month in range(1, MONTHS + 1)
    }
    return pd.DataFrame(prices, index=pd.Index(weights, name="weight_lb"))


def shifted(table: SexTable, points: Sequence[float], se: float = 0.0, known_se: float = 0.0) -> SexTable:
    """Return a sex's table with points added to the slide of each step, rounded as the file holds it.

    Parameters
    ----------
    points : sequence of float, one for each step. Log points x 100 per cwt, positive steeper.
    se, known_se : float. Standard errors added to each step's, and taken off it, in quadrature.
    """
    slide = {
        key: (
            round(-100.0 * float(np.expm1(np.log1p(-value / 100.0) - more / 100.0)), 2) + 0.0,
            round(float(np.sqrt(max(error**2 - known_se**2, 0.0) + se**2)), 2),
        )
        for (key, (value, error)), more in zip(table.slide.items(), points, strict=True)
    }
    return table.model_copy(update={"slide": slide})


def at_price(region: Region, standard_cwt: float) -> Region:
    """Return the region with slides and discounts as they would stand at another price of the standard calf.

    The file's own ``slide_more`` and ``discount_more``, inside the levels seen; the price itself is left as it is.
    """
    rise = float(level_rise(region, standard_cwt))
    sexes: dict[str, SexTable] = {}
    for sex, table in region.sexes().items():
        middle = np.array([0.5 * (a + b) for a, b, _, _ in table.steps()])
        moved = shifted(table, [float(p) for p in rise * added_slide(table.slide_more, middle)])
        discount = table.discount_pct + rise * table.discount_more
        sexes[sex] = moved.model_copy(update={"discount_pct": discount})
    return region.model_copy(update=dict(sexes))
