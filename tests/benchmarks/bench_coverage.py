"""How often the 80 percent range of a forecast holds, in markets simulated from single lots with known truth.

    python -m tests.benchmarks.bench_coverage [MARKETS]

Each market has eight years of weekly sales of 12 lots and one forecast of the sale nearest the middle of each of the
next nine months, judged by what that sale's lots then say. Prints the shares for docs/backtest.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import date

import joblib
import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from slidefit.market.backtest import month_day
from slidefit.market.fit.candidates import recipe_for
from slidefit.market.fit.coding import lots_of
from slidefit.market.fit.slide_fit import fit_slide
from slidefit.market.market_fit import market_fit
from tests.market.simulate import Truth, simulate

NORMAL_90 = 1.2815515655
HORIZONS = 9
YEARS = 8
SALES = 460


@dataclass(frozen=True)
class Kind:
    """A kind of market: the walk a month, and the size of a ten-year cycle [log points]."""

    name: str
    walk: float
    cycle: float


KINDS = (
    Kind("walk of 3 percent a month", 0.03, 0.0),
    Kind("walk of 3 percent and a ten-year cycle of 30", 0.03, 0.30),
    Kind("walk of 4.5 percent a month", 0.045, 0.0),
)


def records_of(kind: Kind, seed: int) -> pd.DataFrame:
    """Return the sales of one market, the cycle at a phase of its own."""
    truth = Truth(walk_sd_month=kind.walk, trend_year=0.0)
    records = simulate(seed, truth=truth, sales=SALES, lots=12).records
    years = (records["sale_date"] - records["sale_date"].min()).dt.days / 365.25
    phase = np.random.default_rng(10_000 + seed).uniform(0.0, 2.0 * np.pi)
    cycle = kind.cycle * np.sin(2.0 * np.pi * years / 10.0 + phase)
    return records.assign(price_cwt=records["price_cwt"] * np.exp(cycle))


def held(kind: Kind, seed: int) -> np.ndarray:
    """Return whether each month's range held, and its error over its standard error, shape (2, 9)."""
    with threadpool_limits(limits=1):
        lots = lots_of(records_of(kind, seed))
        recipe = recipe_for(lots, kind="quadratic", harmonics=1, level=True)
        first = lots.sale_day.astype("datetime64[D]").astype("datetime64[M]").astype(int)
        origin = int(first[0]) + 12 * YEARS
        known = lots.until(int(np.datetime64(month_day(origin, 1), "D").astype(int)) - 1)
        slide, whole = fit_slide(known, recipe=recipe), fit_slide(lots, recipe=recipe)
        outlook = market_fit(known, slide, slide.within.effects).outlook()
        hindsight = market_fit(lots, whole, whole.within.effects)
    index, between = hindsight.index, hindsight.season_fit.sale_sd**2 - hindsight.index.sale_sd**2
    out = np.full((2, HORIZONS), np.nan)
    for ahead in range(HORIZONS):
        middle = int(np.datetime64(month_day(origin + ahead), "D").astype(int))
        sale = int(np.argmin(np.abs(index.sale_day - middle)))
        day = np.datetime64(int(index.sale_day[sale]), "D").astype(date)
        place = origin + ahead - int(index.month[0])
        noise = index.month_var[place] * index.month_sales[place] + between
        sd = float(np.sqrt(outlook.index_cov([day])[0, 0] + noise))
        out[:, ahead] = (index.sale_log[sale] - outlook.log_index([day])[0]) / sd
    out[0] = np.abs(out[1]) <= NORMAL_90
    return out


def main(markets: int) -> None:
    """Print the shares of each kind of market."""
    print(
        f"{markets} markets of each kind, {markets * HORIZONS:,} forecasts; share of 80 percent ranges that held"
    )
    for kind in KINDS:
        found = np.array(joblib.Parallel(n_jobs=-1)(joblib.delayed(held)(kind, s) for s in range(markets)))
        shares = 100.0 * found[:, 0].mean(axis=0)
        spread = np.sqrt((found[:, 1] ** 2).mean())
        told = " ".join(f"{share:.0f}" for share in shares)
        print(
            f"{kind.name}: {shares.mean():.1f} (by month {told}); error over its sd {spread:.2f}", flush=True
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 150)
