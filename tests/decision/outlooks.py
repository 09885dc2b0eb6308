"""Outlooks with a known slide and season, for tests of the decision."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from slidefit.market.outlook import GradeOffset, Outlook, OutlookBasis, SexCurve

WEIGHTS = np.arange(250.0, 1001.0, 25.0)


def curve(
    slide_cwt: float, sd_cwt: float, level: float = 0.0, low: float = 300.0, high: float = 900.0
) -> SexCurve:
    """Return a curve that falls by a constant log slide per cwt."""
    row = level - slide_cwt * (WEIGHTS - 550.0) / 100.0
    return SexCurve(WEIGHTS, np.tile(row, (12, 1)), np.full(len(WEIGHTS), sd_cwt), low, high)


def make_outlook(
    *,
    price_550: float = 360.0,
    slide_cwt: float = 0.10,
    season: NDArray[np.float64] | None = None,
    walk: float = 0.04,
    drift: float = 0.015,
    level_sd: float = 0.02,
    slide_sd: float = 0.01,
    noise: float = 1.0,
    as_of: date = date(2026, 10, 12),
    unseen: tuple[int, ...] = (),
) -> Outlook:
    """Return an outlook with a fixed slide in log points per cwt; ``noise=0`` takes every lot spread away."""
    basis = OutlookBasis("synthetic", 1000, 9000, 100, ("Here",), date(2018, 1, 2), as_of)
    return Outlook(
        as_of=as_of,
        currency="USD",
        log_level=float(np.log(price_550)),
        level_sd=level_sd,
        season_log=np.zeros(12) if season is None else season,
        season_cov=np.zeros((12, 12)),
        walk_sd_month=walk,
        drift_sd_month=drift,
        curves={"steer": curve(slide_cwt, slide_sd), "heifer": curve(0.8 * slide_cwt, slide_sd, -0.10)},
        grades={"ML 1": GradeOffset(0.0), "ML 1-2": GradeOffset(-0.06, 0.004)},
        head_slope=0.0,
        lot_sd=0.04 * noise,
        calf_sd=0.12 * noise,
        sale_sd=0.015 * noise,
        basis=basis,
        unseen_months=unseen,
    )


def certain(**changes: object) -> Outlook:
    """Return an outlook without any spread."""
    still = {"walk": 0.0, "drift": 0.0, "level_sd": 0.0, "slide_sd": 0.0, "noise": 0.0}
    return make_outlook(**{**still, **changes})  # type: ignore[arg-type]
