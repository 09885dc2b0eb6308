"""The fit of a large sale book: against pyfixest on the same model, and how time and memory grow with the lots.

    python tests/benchmarks/bench_fit.py against [LOTS]
    python tests/benchmarks/bench_fit.py grow [LOTS ...]

Books are made by make_book.py in a temporary folder (or taken from the folder BOOKS names). Every program runs in a
process of its own; memory is the peak resident set of that process, imports and all. Not part of the tests; figures go
to docs/performance.md.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from make_book import make_book

LOTS = 1_000_000
GROWTH = (1_000_000, 5_000_000, 25_000_000)


def peak_mb() -> float:
    """Return the peak memory of this process so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def ours(book: str, kept: str) -> dict[str, object]:
    """Fit the richest model within sales; time the last of its passes alone, and all of it."""
    from threadpoolctl import threadpool_limits

    from slidefit.market.fit.candidates import recipe_for
    from slidefit.market.fit.chunk_passes import ChunkState, LotRows, sums_pass
    from slidefit.market.fit.coding import coded_lots
    from slidefit.market.fit.fixed_effects import fit_fixed_effects
    from slidefit.market.fit.leastsquares import combine, solve
    from slidefit.records.sale_book import SaleBook

    begun = time.perf_counter()
    with coded_lots(SaleBook(book).table()) as coded, threadpool_limits(limits=1):
        lots = coded.lots
        read = time.perf_counter() - begun
        recipe = recipe_for(lots, kind="spline", columns=4, harmonics=2, level=True)
        begun = time.perf_counter()
        fit = fit_fixed_effects(lots, recipe)
        whole = time.perf_counter() - begun
        settled = ChunkState(recipe, fit.spread, fit.level, fit.dropped, fit.solution)
        begun = time.perf_counter()
        again = solve(
            combine(
                sums_pass(LotRows.of(piece, recipe), _of_chunk(settled, span))
                for span, piece in lots.pieces()
            )
        )
        once = time.perf_counter() - begun
        assert np.array_equal(again.coef, fit.solution.coef)
    np.savez(kept, level=fit.level, dropped=fit.dropped, spread=[fit.spread.lot_sd, fit.spread.calf_sd])
    return {
        "seconds": once, "read": read, "whole": whole, "mb": peak_mb(), "coef": fit.solution.coef.tolist(),
        "columns": len(recipe.names()), "lots": len(lots), "sales": lots.sales,
    }  # fmt: skip


def _of_chunk(settled, span):  # type: ignore[no-untyped-def]
    from dataclasses import replace

    first, end = np.searchsorted(settled.dropped, (span.first_row, span.end_row))
    return replace(
        settled, level=settled.level[span.sales], dropped=settled.dropped[first:end] - span.first_row
    )


def theirs(book: str, kept: str) -> dict[str, object]:
    """Fit the same columns, row weights and lots by pyfixest's feols with the sale absorbed, on a frame of all rows."""
    import pandas as pd
    import pyfixest

    from slidefit.market.fit.candidates import recipe_for
    from slidefit.market.fit.chunk_passes import LotRows, LotSpread
    from slidefit.market.fit.coding import coded_lots
    from slidefit.records.sale_book import SaleBook

    found = np.load(kept)
    spread = LotSpread(*found["spread"])
    with coded_lots(SaleBook(book).table()) as coded:
        lots = coded.lots
        recipe = recipe_for(lots, kind="spline", columns=4, harmonics=2, level=True)
        names = [f"x{j}" for j in range(len(recipe.names()))]
        columns = {name: np.empty(len(lots)) for name in [*names, "y", "w"]}
        columns["sale"] = np.empty(len(lots), dtype=np.int64)
        for span, piece in lots.pieces():
            chunk = LotRows.of(piece, recipe).chunk(found["level"][span.sales], spread)
            for name, values in zip(names, chunk.X.T, strict=True):
                columns[name][span.rows] = values
            columns["y"][span.rows], columns["w"][span.rows] = chunk.y, chunk.row_weight
            columns["sale"][span.rows] = chunk.sale + span.first_sale
    frame = pd.DataFrame(columns, copy=False)
    if len(found["dropped"]):
        frame = frame.drop(index=found["dropped"])
    formula = "y ~ " + " + ".join(names) + " | sale"
    pyfixest.feols(formula, frame.head(5_000), weights="w", vcov="iid")
    begun = time.perf_counter()
    fit = pyfixest.feols(formula, frame, weights="w", vcov="iid")
    seconds = time.perf_counter() - begun
    return {"seconds": seconds, "mb": peak_mb(), "coef": fit.coef()[names].to_list()}


def whole(book: str, _: str) -> dict[str, object]:
    """Fit a book as the command does, from opening it to the last note."""
    from slidefit.market.market_fit import fit_market
    from slidefit.records.sale_book import SaleBook

    words: list[tuple[float, str]] = []
    begun = time.perf_counter()
    fit = fit_market(
        SaleBook(book).table(), progress=lambda word: words.append((time.perf_counter() - begun, word))
    )
    seconds = time.perf_counter() - begun
    read = next(at for at, word in words if word == "choosing the slide")
    return {
        "seconds": seconds,
        "read": read,
        "mb": peak_mb(),
        "lots": fit.basis.lots,
        "sales": fit.basis.sales,
    }


def run(which: str, book: Path, kept: str) -> dict[str, object]:
    """Run one side in a fresh process."""
    done = subprocess.run(
        [sys.executable, "-W", "ignore", __file__, which, str(book), kept],
        capture_output=True,
        text=True,
        check=True,
    )
    return dict(json.loads(done.stdout.splitlines()[-1]))


def book_of(lots: int, folder: Path) -> Path:
    """Return a book of that many lots, made if it isn't there."""
    path = folder / f"b{lots}.duckdb"
    if not path.exists():
        make_book(path, lots)
    return path


def against(lots: int, folder: Path) -> None:
    """Print both sides' time and memory, and how far their coefficients lie apart."""
    book, kept = book_of(lots, folder), str(folder / "kept.npz")
    mine, other = run("ours", book, kept), run("theirs", book, kept)
    apart = float(np.max(np.abs(np.subtract(mine["coef"], other["coef"]) / np.asarray(other["coef"]))))
    print(
        f"{mine['lots']:,} lots, {mine['sales']:,} sales, {mine['columns']} columns; load {os.getloadavg()[0]:.1f}"
    )
    for name, side in (("slidefit", mine), ("pyfixest", other)):
        print(f"{name:10} {side['seconds']:8.2f} s {side['mb']:10.0f} MB")
    print(
        f"times as fast: {other['seconds'] / mine['seconds']:.1f}; memory: {mine['mb'] / other['mb']:.3f} of it"
    )
    print(f"largest relative difference of a coefficient: {apart:.1e}")
    print(
        f"slidefit reads and lays out the book in {mine['read']:.1f} s; its eight passes take {mine['whole']:.1f} s"
    )


def grow(sizes: list[int], folder: Path) -> None:
    """Print time and memory of the whole fit of books of several sizes."""
    for lots in sizes:
        found = run("whole", book_of(lots, folder), "")
        million = found["seconds"] / found["lots"] * 1e6
        print(f"{found['lots']:>12,} lots, {found['sales']:,} sales: {found['seconds']:.1f} s", end="")
        print(
            f" ({found['read']:.1f} of it reading), {million:.2f} s a million, {found['mb']:.0f} MB", end=""
        )
        print(f"; load {os.getloadavg()[0]:.1f}", flush=True)


def main() -> None:
    """Run what the words ask for."""
    word, *rest = sys.argv[1:] or ["against"]
    sides = {"ours": ours, "theirs": theirs, "whole": whole}
    if word in sides:
        print(json.dumps(sides[word](*rest)))
        return
    with tempfile.TemporaryDirectory(prefix="bench-fit-") as made:
        folder = Path(os.environ.get("BOOKS", made))
        if word == "grow":
            grow([int(n) for n in rest] or list(GROWTH), folder)
        else:
            against(int(rest[0]) if rest else LOTS, folder)


if __name__ == "__main__":
    main()
