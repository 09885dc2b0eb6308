"""How well pooled files hold on simulated regions: python -m tests.regions.measure_pooling [regions].

Six barns a region, 4 to 150 sales of ten lots, all ending in one autumn; true slides differ by 1.5 points. Slides stray
by 1.6 points from sale to sale (.84 of it left a week later) and by .8 from year to year, the barns' years at .68.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd

from slidefit.market.fit.slide_model import STEP_LB
from slidefit.market.market_fit import fit_market
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.pooling import pooled_regions
from tests.market.simulate import Truth, simulate

SALES = (4, 8, 15, 30, 60, 150)
BETWEEN, YEAR_SD, SHARED, LAST, FORTNIGHT = 0.015, 0.008, 0.68, "2025-10-01", 14
WEEKLY = 0.84


def barns(seed: int) -> tuple[dict[str, pd.DataFrame], dict[str, float]]:
    """Return each barn's records, and its long-run slope less the usual one [log points per cwt]."""
    rng = np.random.default_rng(4_000 + seed)
    years = 8
    common = rng.normal(0.0, YEAR_SD * np.sqrt(SHARED), years)
    records, true = {}, {}
    for place, sales in enumerate(SALES):
        name = f"barn {place}"
        true[name] = float(rng.normal(0.0, BETWEEN))
        first = np.datetime64(LAST) - FORTNIGHT * (sales - 1)
        truth = replace(Truth(), level_slope=0.0, drift_sd=0.016, drift_ar=WEEKLY**2)
        lots = simulate(
            9_000 + 10 * seed + place, truth=truth, sales=sales, lots=10, days_between=FORTNIGHT, first=str(first),
            market=name,
        ).records  # fmt: skip
        own = common + rng.normal(0.0, YEAR_SD * np.sqrt(1.0 - SHARED), years)
        month = lots["sale_date"].dt.year * 12 + lots["sale_date"].dt.month - 7
        year = (2025 - month // 12).to_numpy()
        x = (lots["weight_lb"] - 550.0) / STEP_LB
        records[name] = lots.assign(price_cwt=lots["price_cwt"] * np.exp((true[name] + own[year]) * x))
    return records, true


def measured(regions: int) -> dict[str, float]:
    """Return root mean square errors of the slide at 550 lb [points], a region's offset apart, and coverage."""
    squares: dict[str, list[float]] = {"own": [], "pooled": [], "one": []}
    held = []
    for seed in range(regions):
        records, true = barns(seed)
        made = Provenance(date(2025, 10, 1))
        whole = region_of(fit_market(pd.concat(records.values(), ignore_index=True)), "region", made)
        found = pooled_regions(whole, records, dict.fromkeys(records, made))
        steers = [s for s in found.slides if s.sex == "steer"]
        told = {
            "own": [s.own for s in steers], "pooled": [s.pooled for s in steers],
            "one": [found.pool_slides["steer"]] * len(steers),
        }  # fmt: skip
        # what the truth is at one price level is unknown but alike for all: the mean gap is no error of pooling
        want = np.array([-100.0 * (1.0 - 0.11) * true[s.market] for s in steers])
        offset = float(np.average(np.array(told["own"]) - want, weights=[1.0 / s.own_se**2 for s in steers]))
        for name, values in told.items():
            squares[name] += list((np.array(values) - want - offset) ** 2)
        held += [abs(s.pooled - w - offset) < 1.96 * s.pooled_se for s, w in zip(steers, want, strict=True)]
    return {**{name: float(np.sqrt(np.mean(v))) for name, v in squares.items()}, "held": float(np.mean(held))}


if __name__ == "__main__":
    print(measured(int(sys.argv[1]) if len(sys.argv) > 1 else 12))
