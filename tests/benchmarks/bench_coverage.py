"""How often the 80 percent range of a forecast holds and said odds come, in markets simulated from single lots.

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
from slidefit.market.blend import sale_noise_var
from slidefit.market.fit.coding import lots_of
from slidefit.market.fit.slide_fit import fit_slide
from slidefit.market.market_fit import fit_market, market_fit
from slidefit.market.past_record import SaidCame
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


def held(kind: Kind, seed: int) -> tuple[np.ndarray, tuple[SaidCame, ...]]:
    """Return whether each month's range held and its error over its sd, shape (2, 9), and odds said and come."""
    with threadpool_limits(limits=1):
        records = records_of(kind, seed)
        lots = lots_of(records)
        first = lots.sale_day.astype("datetime64[D]").astype("datetime64[M]").astype(int)
        origin = int(first[0]) + 12 * YEARS
        known = fit_market(records[records["sale_date"] < np.datetime64(month_day(origin, 1))])
        whole = fit_slide(lots)
        hindsight = market_fit(lots, whole, whole.within.effects)
    outlook, index = known.outlook(), hindsight.index
    noise_var = sale_noise_var(index, hindsight.season_fit.sale_sd)
    out = np.full((2, HORIZONS), np.nan)
    for ahead in range(HORIZONS):
        middle = int(np.datetime64(month_day(origin + ahead), "D").astype(int))
        sale = int(np.argmin(np.abs(index.sale_day - middle)))
        day = np.datetime64(int(index.sale_day[sale]), "D").astype(date)
        sd = float(np.sqrt(outlook.index_cov([day])[0, 0] + noise_var[sale]))
        out[1, ahead] = (index.sale_log[sale] - outlook.log_index([day])[0]) / sd
    out[0] = np.abs(out[1]) <= NORMAL_90
    return out, known.record.said_came if known.record is not None else ()


def main(markets: int) -> None:
    """Print the shares of each kind of market."""
    print(
        f"{markets} markets of each kind, {markets * HORIZONS:,} forecasts; share of 80 percent ranges that held"
    )
    for kind in KINDS:
        made = joblib.Parallel(n_jobs=-1)(joblib.delayed(held)(kind, s) for s in range(markets))
        found = np.array([each for each, _ in made])
        shares = 100.0 * found[:, 0].mean(axis=0)
        spread = np.sqrt((found[:, 1] ** 2).mean())
        told = " ".join(f"{share:.0f}" for share in shares)
        print(
            f"{kind.name}: {shares.mean():.1f} (by month {told}); error over its sd {spread:.2f}", flush=True
        )
        rows = [row for _, came in made for row in came]
        for low in (20.0, 40.0, 60.0):
            came = [
                np.mean([r.came_pct for r in rows if (r.said_low, r.months) == (low, m)])
                for m in range(1, 10)
            ]
            print(f"  said {low:.0f} to {low + 20:.0f}: came {np.mean(came):.0f} "
                  f"(by month {' '.join(f'{each:.0f}' for each in came)})", flush=True)  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 150)
