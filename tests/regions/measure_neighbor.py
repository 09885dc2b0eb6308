"""A thin market that leans on one neighbor, near or far: python -m tests.regions.measure_neighbor [markets].

Seven sales of twenty lots against a neighbor of eight years; slides stray by 1.6 points from sale to sale, .84 of it
left a week later. Root mean square errors of the steers' slide at 550 lb [points], and how often the interval holds.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from slidefit.market.fit.slide_fit import fit_slide
from slidefit.market.market_fit import fit_market
from slidefit.market.outlook import Outlook
from tests.market.coded import lots_of
from tests.market.simulate import Truth, simulate

APART = (0.0, 0.5, 1.0, 1.5, 2.1, 3.0)
STEER, HEIFER, WEEKLY = -0.11, -0.08, 0.84


def truth(more: float) -> Truth:
    """Return a market whose slides are flatter by some log points per cwt; no season or level in them."""
    curves = (("steer", (0.0, STEER + more, 0.008)), ("heifer", (-0.09, HEIFER + more, 0.006)))
    still = replace(Truth(), level_slope=0.0, slope_season=(0.0, 2.0), drift_sd=0.016, drift_ar=WEEKLY**2)
    return replace(still, curves=curves)


def measured(apart: float, markets: int, neighbors: list[Outlook]) -> dict[str, float]:
    """Return errors by own lots, pooled and as the neighbor has it, and the share of intervals that hold."""
    rng = np.random.default_rng(int(10 * apart))
    own, pooled, other, held = [], [], [], []
    for k in range(markets):
        more = rng.normal(0.0, apart / 100.0)
        seed = 3_000 + int(100 * apart) * 50 + k
        few = simulate(seed, truth=truth(more), sales=7, lots=20, days_between=14, first="2025-07-09").records
        found = fit_slide(lots_of(few), defaults=neighbors[k % len(neighbors)]).slopes
        slope, true = next(s for s in found if s.sex == "steer"), STEER + more
        own.append(slope.own - true)
        pooled.append(slope.pooled - true)
        other.append(slope.prior.target - true)
        held.append(abs(slope.pooled - true) < 1.96 * slope.sd)
    errors = {"own": own, "pooled": pooled, "neighbor": other}
    told = {name: 100.0 * float(np.sqrt(np.mean(np.square(e)))) for name, e in errors.items()}
    return {**told, "held": float(np.mean(held))}


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    long = [
        simulate(50 + k, truth=truth(0.0), sales=208, lots=20, days_between=14, market=f"N{k}").records
        for k in range(4)
    ]
    lent = [fit_market(records).outlook() for records in long]
    for apart in APART:
        print(apart, {k: round(v, 2) for k, v in measured(apart, count, lent).items()}, flush=True)
