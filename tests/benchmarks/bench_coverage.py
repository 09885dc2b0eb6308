"""How often the 80 percent range of a forecast holds and said odds come, in markets simulated from single lots.

    python -m tests.benchmarks.bench_coverage [MARKETS]

Each market has eight years of weekly sales of 12 lots and one forecast of the sale nearest the middle of each of the
next nine months, judged by what that sale's lots then say. Prints the shares for docs/backtest.md, each with its
standard error over markets: forecasts of one market share most of what came, markets share nothing.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from slidefit.futures_contracts import LISTED_MONTHS, FuturesQuote, expiry
from slidefit.market.backtest import month_day
from slidefit.market.blend import sale_noise_var
from slidefit.market.fit.slide_fit import fit_slide
from slidefit.market.market_fit import fit_market, market_fit
from slidefit.market.past_record import SaidCame
from tests.market.coded import lots_of
from tests.market.simulate import DAYS_PER_MONTH, SampledSales, Truth, autoregression, simulate, wave

NORMAL_90 = 1.2815515655
HORIZONS = 9
YEARS = 8
SALES = 460


@dataclass(frozen=True)
class Kind:
    """A kind of market: the walk a month, the size of a ten-year cycle [log points], and whether futures are quoted."""

    name: str
    walk: float
    cycle: float
    futures: bool = False


KINDS = (
    Kind("walk of 3 percent a month", 0.03, 0.0),
    Kind("walk of 3 percent and a ten-year cycle of 30", 0.03, 0.30),
    Kind("walk of 4.5 percent a month", 0.045, 0.0),
    Kind("walk of 3 percent and the cycle, which futures know", 0.03, 0.30, futures=True),
)
QUOTED_DAYS = (0, 1, 2, 5, 6)
"""Days after a Wednesday's sale on which contracts settle."""
QUOTED_MONTHS = 10
GOLDEN = 0.6180339887498949
"""Multiples of the golden ratio fill a circle evenly, however many (a sequence of low discrepancy)."""
BASIS_SD, BASIS_WEEK_SHARE = 0.034, 0.6 ** (7.0 * 12.0 / 365.25)
"""Of the basis in the real records (docs/method.md); .6 of a departure is left after a month."""


@dataclass(frozen=True)
class Market:
    """The sales of one market, and what its contracts settled at."""

    records: pd.DataFrame
    quotes: tuple[FuturesQuote, ...]


def market_of(kind: Kind, seed: int) -> Market:
    """Return one market; the cycle's phases are spread evenly over markets, so that rises and falls weigh alike."""
    truth = Truth(walk_sd_month=kind.walk, trend_year=0.0)
    sold = simulate(seed, truth=truth, sales=SALES, lots=12)
    rng = np.random.default_rng(10_000 + seed)
    phase = 2.0 * np.pi * (seed * GOLDEN % 1.0)

    def cycle(day: np.ndarray) -> np.ndarray:
        return kind.cycle * np.sin(2.0 * np.pi * (day - sold.day[0]) / 3652.5 + phase)

    basis = autoregression(rng, SALES, BASIS_SD, BASIS_WEEK_SHARE) if kind.futures else np.zeros(SALES)
    of_sale = np.searchsorted(sold.day, sold.records["sale_date"].to_numpy("datetime64[D]").astype(int))
    added = np.exp(cycle(sold.day) + basis)[of_sale]
    records = sold.records.assign(price_cwt=sold.records["price_cwt"] * added)
    return Market(records, quotes_of(truth, sold, cycle, rng) if kind.futures else ())


def quotes_of(
    truth: Truth, sold: SampledSales, cycle: Callable[[np.ndarray], np.ndarray], rng: np.random.Generator
) -> tuple[FuturesQuote, ...]:
    """Return settlements that expect the walk to stay, and know season and cycle on the contract's last day.

    Between sales the walk is a Brownian bridge.
    """
    daily = truth.walk_sd_month / DAYS_PER_MONTH**0.5
    out = []
    for day, now, then in zip(sold.day, sold.level, [*sold.level[1:], sold.level[-1]], strict=True):
        steps = np.cumsum(rng.normal(0.0, daily, 7))
        walk = now + np.r_[0.0, steps - np.arange(1, 8) / 7.0 * (steps[-1] - (then - now))]
        month = int(np.datetime64(int(day), "D").astype("datetime64[M]").astype(int))
        listed = [
            month_day(month + k) for k in range(QUOTED_MONTHS) if month_day(month + k).month in LISTED_MONTHS
        ]
        for each in listed:
            name = f"{each:%Y-%m}"
            last = expiry(name)
            turn = np.array([last.timetuple().tm_yday - 1.0])
            end = np.array([(last - date(1970, 1, 1)).days])
            known = float(wave(truth.season, turn)[0] + cycle(end)[0])
            for later in QUOTED_DAYS:
                as_of = date(1970, 1, 1) + timedelta(int(day) + later)
                if as_of <= last:
                    out.append(
                        FuturesQuote(name, truth.price_cwt * float(np.exp(walk[later] + known)), as_of)
                    )
    return tuple(out)


def held(kind: Kind, seed: int) -> tuple[np.ndarray, tuple[SaidCame, ...]]:
    """Return whether each month's range held and its error over its sd, shape (2, 9), and odds said and come."""
    with threadpool_limits(limits=1):
        market = market_of(kind, seed)
        records = market.records
        lots = lots_of(records)
        first = lots.sale_day.astype("datetime64[D]").astype("datetime64[M]").astype(int)
        origin = int(first[0]) + 12 * YEARS
        until = month_day(origin, 1)
        quotes = tuple(each for each in market.quotes if each.as_of < until)
        known = fit_market(records[records["sale_date"] < np.datetime64(until)], quotes=quotes)
        whole = fit_slide(lots)
        hindsight = market_fit(lots, whole)
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


def mean_and_error(by_market: np.ndarray) -> str:
    """Return the mean over markets, shape (markets,), and its standard error, in words."""
    seen = by_market[np.isfinite(by_market)]
    return f"{seen.mean():.1f} (standard error {seen.std(ddof=1) / np.sqrt(len(seen)):.1f})"


def came(made: list[tuple[np.ndarray, tuple[SaidCame, ...]]], low: float) -> np.ndarray:
    """Return how often keeping gained where odds of ``low`` to 20 points more were said, shape (markets, 9)."""
    out = np.full((len(made), HORIZONS), np.nan)
    for market, (_, rows) in enumerate(made):
        for row in rows:
            if row.said_low == low and row.months <= HORIZONS:
                out[market, row.months - 1] = row.came_pct
    return out


def by_month(shares: np.ndarray) -> str:
    """Return the mean over markets for each month ahead, in words."""
    return "by month " + " ".join(f"{share:.0f}" for share in np.nanmean(shares, axis=0))


def main(markets: int) -> None:
    """Print the shares of each kind of market and of all."""
    print(
        f"{markets} markets of each kind, one forecast of {HORIZONS} months each; 80 percent ranges, odds that came"
    )
    every = []
    with ProcessPoolExecutor() as pool:
        for place, kind in enumerate(KINDS):
            every.append(
                list(pool.map(held, [kind] * markets, range(place * markets, (place + 1) * markets)))
            )
            told(kind.name, every[-1])
    told("all of them", [each for made in every for each in made])


def told(name: str, made: list[tuple[np.ndarray, tuple[SaidCame, ...]]]) -> None:
    """Print the shares of some markets."""
    found = np.array([each for each, _ in made])
    held_pct, spread = 100.0 * found[:, 0], np.sqrt((found[:, 1] ** 2).mean())
    print(
        f"{name}: {mean_and_error(held_pct.mean(axis=1))}; {by_month(held_pct)}; error over its sd {spread:.2f}"
    )
    for low in (20.0, 40.0, 60.0):
        shares = came(made, low)
        print(
            f"  said {low + 10:.0f}: came {mean_and_error(np.nanmean(shares, axis=1))}; {by_month(shares)}",
            flush=True,
        )


if __name__ == "__main__":
    main(*(int(each) for each in sys.argv[1:] or ["40"]))
