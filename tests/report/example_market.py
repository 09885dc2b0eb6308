"""A small invented outlook and records drawn from it, for the pictures and the tables."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from slidefit.market.outlook import GradeOffset, Outlook, OutlookBasis, SexCurve

WEIGHTS_LB = np.arange(250.0, 951.0, 25.0)


def a_curve(offset: float, slope: float, bend: float) -> SexCurve:
    x = (WEIGHTS_LB - 550.0) / 100.0
    season = -0.015 * np.cos(2 * np.pi * (np.arange(12.0) - 2) / 12)
    return SexCurve(
        weights_lb=WEIGHTS_LB,
        log_relative=offset + (slope + season[:, None]) * x + bend * x**2,
        slope_sd_cwt=np.full(len(WEIGHTS_LB), 0.006),
        low_lb=320.0,
        high_lb=880.0,
    )


def an_outlook(**changes: object) -> Outlook:
    months = np.arange(12.0)
    season = 0.045 * np.cos(2 * np.pi * (months - 3) / 12) + 0.012 * np.cos(4 * np.pi * (months - 2) / 12)
    values: dict[str, object] = {
        "as_of": date(2026, 10, 12),
        "currency": "USD",
        "log_level": float(np.log(385.0)),
        "level_sd": 0.012,
        "season_log": season,
        "season_cov": 0.012**2 * (np.eye(12) - 1 / 12),
        "walk_sd_month": 0.03,
        "drift_sd_month": 0.01,
        "curves": {"steer": a_curve(0.0, -0.125, 0.010), "heifer": a_curve(-0.09, -0.095, 0.008)},
        "grades": {"ML 1": GradeOffset(0.0), "ML 1-2": GradeOffset(-0.05, 0.004)},
        "head_slope": 0.025,
        "lot_sd": 0.04,
        "calf_sd": 0.12,
        "sale_sd": 0.015,
        "basis": OutlookBasis(
            "fit", 4812, 51234, 412, ("Birch Landing",), date(2018, 1, 8), date(2026, 10, 12)
        ),
    }
    return Outlook(**(values | changes))  # type: ignore[arg-type]


def some_records(outlook: Outlook, *, sales: int = 40, lots: int = 24, seed: int = 5) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    rows = []
    for k in range(sales):
        day = outlook.as_of - timedelta(weeks=k)
        level = float(rng.normal(-0.1 * k / sales, 0.02))
        for i in range(lots):
            sex = "steer" if rng.random() < 0.55 else "heifer"
            weight = float(np.clip(rng.normal(560, 120), 330, 870).round())
            head, muscle = float(rng.integers(1, 40)), "1" if rng.random() < 0.7 else "1-2"
            price = outlook.price_cwt(sex, weight, day, muscle=muscle, head=head)
            price = price * np.exp(level + rng.normal(0, np.hypot(0.04, 0.12 / np.sqrt(head))))
            rows.append(
                (pd.Timestamp(day), "Birch Landing", sex, "ML", muscle, head, weight, float(price), i)
            )
    names = ["sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "price_cwt", "source_row"]
    return pd.DataFrame(rows, columns=names).astype({"sale_date": "datetime64[ns]"})


def a_season() -> pd.DataFrame:
    index = 100 + 5 * np.cos(2 * np.pi * (np.arange(12) - 3) / 12)
    return pd.DataFrame({"month": range(1, 13), "index": index, "low": index - 2, "high": index + 2})


def some_slides() -> pd.DataFrame:
    rows = [
        (sex, middle - 50.0, middle + 50.0, month, 10.0, 8.0, 12.0)
        for sex in ("heifer", "steer")
        for middle in (650, 450, 550)
        for month in (None, 3)
    ]
    names = ["sex", "from_lb", "to_lb", "month", "percent_per_cwt", "percent_low", "percent_high"]
    return pd.DataFrame(rows, columns=names)
