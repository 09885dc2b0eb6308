"""What futures are worth in past forecasts: error with them over error without, ranges, odds said and come.

    python -m tests.benchmarks.bench_futures SALES.csv [SALES.csv ...] --quotes QUOTES.csv [--until 2023-02-28]

Prints the tables of docs/method.md and docs/backtest.md, and the rows of `past_record.OURS` (from the sales alone). The
figures there are of the weekly reports of one New Mexico barn (USDA AMS Market News, October 2017 to December 2023)
and of settlements of feeder cattle futures from 2016 to 2022 (a public repository's stored series).
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

import slidefit
from slidefit.futures_contracts import FuturesQuote
from slidefit.market.accuracy import accuracy_rows
from slidefit.market.backtest import Backtest, backtest
from slidefit.records.futures_quotes import read_quotes

SHOWN = (
    "forecasts",
    "bias_pct",
    "rmse_pct",
    "crps_pct",
    "covered_50_pct",
    "covered_80_pct",
    "covered_95_pct",
)
HELD = ("covered_80_pct", "covered_80_pct_low", "covered_80_pct_high")
RATIO = ("walk_ratio", "walk_ratio_low", "walk_ratio_high")


def with_shares(test: Backtest) -> None:
    """Print bias and score if the expected price, not the median, followed level and season."""
    for place in range(3):
        error, sd = test.actual[:, place] - test.forecast[:, place], test.sd[:, place]
        seen = np.isfinite(error)
        scores = [
            100.0 * float(_crps(error[seen] + shift * sd[seen] ** 2, sd[seen]).mean()) for shift in (0.0, 0.5)
        ]
        bias = [100.0 * float((error[seen] + shift * sd[seen] ** 2).mean()) for shift in (0.0, 0.5)]
        print(f"  {place + 1} months: median follows {bias[0]:+.2f} bias, {scores[0]:.3f} CRPS; "
              f"mean follows {bias[1]:+.2f}, {scores[1]:.3f}")  # fmt: skip


def _crps(error: np.ndarray, sd: np.ndarray) -> np.ndarray:
    from scipy.stats import norm

    z = error / sd
    return sd * (z * (2.0 * norm.cdf(z) - 1.0) + 2.0 * norm.pdf(z) - np.pi**-0.5)


def report(name: str, records: pd.DataFrame, quotes: tuple[FuturesQuote, ...]) -> None:
    """Replay and print."""
    test = backtest(records, quotes=quotes, jobs=1)
    table = pd.DataFrame(accuracy_rows(test)).set_index("months_ahead")
    skills = [column for column in table if column.startswith("skill_")]
    print(f"\n{name}: {len(test.origins)} forecasts, share of futures now {test.record.futures_share:.2f}")
    print(table[[*SHOWN, *skills]].round(1).to_string())
    print(table[list(HELD)].round(0).to_string())
    if quotes:
        print(table[list(RATIO)].round(2).to_string())
    print("ranges scaled by", test.record.range_scale)
    print("the mean or the median:")
    with_shares(test)
    print("said and came:")
    rows = test.record.said_came
    for months in dict.fromkeys(row.months for row in rows):
        mine = [row for row in rows if row.months == months]
        print(f"    {months}: ({mine[0].decisions}, {', '.join(str(row.came_pct) for row in mine)}),")


def main() -> None:
    """Print both replays: without futures over all sales, and with them as far as quotes reach."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("sales", nargs="+")
    words.add_argument("--quotes", required=True)
    words.add_argument("--until", default="2023-02-28")
    told = words.parse_args()
    records = slidefit.read(*told.sales, market="the barn").records.assign(market="the barn")
    report("without futures", records, ())
    near = records[records["sale_date"] <= told.until]
    report("with futures", near, read_quotes(told.quotes).quotes)


if __name__ == "__main__":
    main()
