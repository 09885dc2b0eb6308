"""From a region's default file to the price outlook that a comparison reads."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from slidefit.market.outlook import (
    MONTHS,
    STANDARD_WEIGHT_LB,
    UNGRADED,
    GradeOffset,
    Outlook,
    OutlookBasis,
    SexCurve,
    month_weights,
)
from slidefit.market.publish import BEYOND_SD_CWT, carry_beyond, curve_grid
from slidefit.regions.age import age_notes
from slidefit.regions.region import MONTH_KEYS, SEASON_AT_LB, Region, SexTable

FloatArray = NDArray[np.float64]

WALK_SHARES = {1: (1.0, 0.0), 2: (3.732, 1.0)}
"""Error variance of the first and second wave of a season on a random walk, 1 / (2 - 2 cos(k pi / 6))."""


def outlook_of_region(region: Region, today: date | None = None) -> Outlook:
    """Return the outlook of a region's file; the decision can't tell it from a fit's.

    Parameters
    ----------
    today : date, optional
        Adds a word on the file's age where it is old.
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
    return Outlook(
        as_of=as_of,
        currency=region.currency,
        log_level=float(np.log(region.price.standard_cwt) - month_weights([as_of])[0] @ season_log),
        level_sd=region.price.se_pct / 100.0,
        season_log=season_log,
        season_cov=season_cov,
        walk_sd_month=region.forecast.walk_pct_month / 100.0,
        drift_sd_month=region.forecast.drift_pct_month / 100.0,
        curves={sex: _curve(region, table) for sex, table in region.sexes().items()},
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
        notes=(*region.remarks, *region.source.notes, *(age_notes(region, today) if today else ())),
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


def _curve(region: Region, table: SexTable) -> SexCurve:
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
        log_relative=carry_beyond(grid, curves, low, high),
        slope_sd_cwt=np.sqrt(error**2 + (region.noise.slide_pct / 100.0) ** 2 + beyond**2),
        low_lb=low,
        high_lb=high,
    )


def year_curve(table: SexTable, weight_lb: FloatArray) -> FloatArray:
    """Return the mean year's log price by weight against the standard calf, in the shape of ``weight_lb``.

    Exact at the ends of the steps (each adds ln(1 - slide) x its hundredweight), a cubic spline between.
    """
    steps = table.steps()
    nodes = np.array([steps[0][0], *(to for _, to, _, _ in steps)])
    falls = [np.log1p(-slide / 100.0) * (to - start) / 100.0 for start, to, slide, _ in steps]
    spline = CubicSpline(nodes, np.concatenate([[0.0], np.cumsum(falls)]))
    at = float(np.log1p(-table.discount_pct / 100.0) - spline(table.discount_at_lb))
    return np.asarray(spline(weight_lb) + at)
