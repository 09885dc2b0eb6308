"""The within-sale fit on a million lots, summarised chunk by chunk, against pyfixest on the same columns.

    python tests/benchmarks/bench_fit.py [LOTS]

Each program runs in a process of its own; time is of the fit alone, memory the peak of the process less what it held
before fitting. Not part of the tests; figures go to docs/performance.md.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Iterator

import numpy as np

LOTS_PER_SALE = 50
CHUNK_SALES = 1_000
COLUMNS = 40
SEED = 20_261_012


def chunk(first_sale: int, sales: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return y, X, row weight and sale of some sales: the same rows whatever the chunk that they are read in."""
    rng = np.random.default_rng([SEED, first_sale])
    n = sales * LOTS_PER_SALE
    X = rng.normal(size=(n, COLUMNS))
    sale = np.repeat(np.arange(first_sale, first_sale + sales), LOTS_PER_SALE)
    effect = rng.normal(size=sales)[sale - first_sale]
    y = X @ np.linspace(-1.0, 1.0, COLUMNS) + effect + rng.normal(size=n)
    return y, X, rng.uniform(0.5, 2.0, n), sale


def chunks(sales: int) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """Yield all rows a few thousand sales at a time; can be read again and again."""
    for first in range(0, sales, CHUNK_SALES):
        yield chunk(first, min(CHUNK_SALES, sales - first))


def peak_mb() -> float:
    """Return the peak memory of this process so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def ours(sales: int) -> dict[str, object]:
    """Fit by summarise, combine and solve; making the rows is timed apart and taken off."""
    from slidefit.market.leastsquares import Chunk, combine, solve, summarise

    combine([summarise(Chunk(*chunk(0, 10)))])
    before = peak_mb()
    making, started = 0.0, time.perf_counter()
    parts, rows = [], chunks(sales)
    while True:
        begun = time.perf_counter()
        found = next(rows, None)
        making += time.perf_counter() - begun
        if found is None:
            break
        parts.append(summarise(Chunk(*found)))
    coef = solve(combine(parts)).coef
    return {
        "seconds": time.perf_counter() - started - making,
        "mb": peak_mb() - before,
        "coef": coef.tolist(),
    }


def theirs(sales: int) -> dict[str, object]:
    """Fit by pyfixest's feols with the sale absorbed, on a frame of all rows."""
    import pandas as pd
    import pyfixest

    pieces = []
    for y, X, weight, sale in chunks(sales):
        frame = pd.DataFrame(X, columns=[f"x{j}" for j in range(COLUMNS)])
        pieces.append(frame.assign(y=y, w=weight, sale=sale))
    frame = pd.concat(pieces, ignore_index=True)
    del pieces
    formula = "y ~ " + " + ".join(f"x{j}" for j in range(COLUMNS)) + " | sale"
    pyfixest.feols(formula, frame.head(20 * LOTS_PER_SALE), weights="w", vcov="iid")
    before = peak_mb()
    started = time.perf_counter()
    fit = pyfixest.feols(formula, frame, weights="w", vcov="iid")
    seconds = time.perf_counter() - started
    return {"seconds": seconds, "mb": peak_mb() - before, "coef": fit.coef().to_numpy().tolist()}


def run(which: str, sales: int) -> dict[str, object]:
    """Run one side in a fresh process."""
    done = subprocess.run(
        [sys.executable, "-W", "ignore", __file__, which, str(sales)],
        capture_output=True,
        text=True,
        check=True,
    )
    return dict(json.loads(done.stdout.splitlines()[-1]))


def main() -> None:
    """Print both sides' time and memory, and how far their coefficients lie apart."""
    if len(sys.argv) == 3:
        side = ours if sys.argv[1] == "ours" else theirs
        print(json.dumps(side(int(sys.argv[2]))))
        return
    lots = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    sales = lots // LOTS_PER_SALE
    mine, other = run("ours", sales), run("theirs", sales)
    apart = float(np.max(np.abs(np.subtract(mine["coef"], other["coef"]) / np.asarray(other["coef"]))))
    print(f"{lots:,} lots, {sales:,} sales, {COLUMNS} columns")
    for name, side in (("slidefit", mine), ("pyfixest", other)):
        print(f"{name:10} {side['seconds']:8.2f} s {side['mb']:10.0f} MB above the start")
    print(
        f"times as fast: {other['seconds'] / mine['seconds']:.1f}; memory: {mine['mb'] / other['mb']:.2f} of it"
    )
    print(f"largest relative difference of a coefficient: {apart:.1e}")


if __name__ == "__main__":
    main()
