"""How often verdicts are right on simulated regions: python -m tests.regions.moved.measure_verdicts [regions].

Two barns a region, nine years, the last one new. Slides stray by 1.6 points from sale to sale and .8 from year to year,
the two barns' years together at .68; one lot in fifty is misread by a factor of three and left out by the fit. With and
without a last year whose slides are three points steeper for good.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd

from slidefit.market.market_fit import fit_market
from slidefit.regions.from_fit import Provenance, region_of
from slidefit.regions.moved.change import changes, judged_keys
from slidefit.regions.moved.refits import refits
from tests.market.coded import lots_of
from tests.market.simulate import Truth, simulate

YEARS, SHARED, YEAR_SD, STEEPER = 9, 0.68, 0.008, 0.03


def two_barns(seed: int, steeper: float) -> tuple[pd.DataFrame, pd.Timestamp]:
    """Return the records of a region and the day that its last year begins."""
    rng = np.random.default_rng(900 + seed)
    common = rng.normal(0.0, YEAR_SD * np.sqrt(SHARED), YEARS + 2)
    parts = []
    for place, market in enumerate(("Birch Landing", "Low Ferry")):
        truth = replace(Truth(), drift_sd=0.016, drift_year_sd=0.0)
        records = simulate(
            1000 + 2 * seed + place, truth=truth, sales=234, lots=10, days_between=14, market=market
        ).records
        own = common + rng.normal(0.0, YEAR_SD * np.sqrt(1.0 - SHARED), YEARS + 2)
        month = records["sale_date"].dt.year * 12 + records["sale_date"].dt.month - 7
        year = (month // 12 - (month // 12).min()).to_numpy()
        tilt = own[year] + steeper * (year == year.max())
        x = (records["weight_lb"] - 550.0) / 100.0
        lost = rng.random(len(records)) < 0.02
        parts.append(
            records.assign(price_cwt=records["price_cwt"] * np.exp(-tilt * x) * np.where(lost, 3.0, 1.0))
        )
    together = pd.concat(parts, ignore_index=True)
    last = together["sale_date"].max()
    return together, pd.Timestamp(last.year if last.month >= 7 else last.year - 1, 7, 1)


def measured(regions: int, steeper: float) -> Counter[str]:
    """Return how many numbers got which verdict, and how many of the steady slides are so in truth."""
    count: Counter[str] = Counter()
    for seed in range(regions):
        records, new_year = two_barns(seed, steeper)
        fit = fit_market(records)
        new = region_of(fit, "West", Provenance(new_year.date()))
        found = refits(fit, lots_of(records), (new_year - pd.Timedelta(days=1)).date(), judged_keys(new, new))
        late = float((records["sale_date"] >= new_year).mean())
        for change in changes(new, new, (0.0, 1.0), found).rows:
            if change.verdict is None or change.by != "records":
                continue
            count["numbers"] += 1
            count[change.verdict] += 1
            true_head = (
                (change.at + 50.0) / 100.0 * new.price.standard_cwt * steeper * late
                if change.kind == "slide"
                else 0.0
            )
            slides = change.kind == "slide"
            count["slides"] += slides
            count["slides moved"] += slides and change.verdict == "moved"
            count["other moved"] += not slides and change.verdict == "moved"
            count["slides steady"] += slides and change.verdict == "steady"
            count["slides steady, rightly"] += (
                slides and change.verdict == "steady" and true_head < change.margin
            )
    return count


if __name__ == "__main__":
    for steeper in (0.0, STEEPER):
        print(steeper, dict(measured(int(sys.argv[1]) if len(sys.argv) > 1 else 8, steeper)))
