"""Time the reading of many lot rows into a sale book against DuckDB's own CSV reader.

Run: python tests/benchmarks/bench_records.py [ROWS]   (default 1,000,000)
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import duckdb

LOTS = """
COPY (
    SELECT strftime(DATE '2005-01-03' + 7 * (i * 1040 // {rows})::INT, '%Y-%m-%d') AS "Sale Date",
           'Barn ' || (i % 40) AS "Market",
           i AS "Lot",
           CASE WHEN i % 20 = 0 THEN 'Bulls' WHEN i % 2 = 0 THEN 'Steers' ELSE 'Heifers' END AS "Class",
           CASE WHEN i % 3 = 0 THEN 'Medium and Large 1-2' ELSE 'Medium and Large 1' END AS "Grade",
           1 + hash(i) % 60 AS "Head",
           300 + hash(i + 7) % 600 AS "Avg Wt",
           round(180 - 0.1 * (hash(i + 7) % 600) + (hash(i + 13) % 1000) / 50.0, 2) AS "Price $/cwt",
           CASE WHEN i % 11 = 0 THEN 'Fleshy' WHEN i % 13 = 0 THEN 'Unweaned' ELSE '' END AS "Remarks"
    FROM range({rows}) t(i)
) TO '{path}' (HEADER)
"""


def plain(folder: Path) -> None:
    """Load the file into a table with DuckDB's own reader."""
    start = time.perf_counter()
    with duckdb.connect(str(folder / "plain.duckdb")) as connection:
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"CREATE TABLE lots AS SELECT * FROM read_csv('{folder / 'lots.csv'}')")
    print(f"{time.perf_counter() - start:.2f}")


def ours(folder: Path) -> None:
    """Read the file and add it to a new sale book."""
    from slidefit.records.read import read
    from slidefit.records.sale_book import SaleBook

    start = time.perf_counter()
    result = read(folder / "lots.csv")
    middle = time.perf_counter()
    added = SaleBook(folder / "sales.duckdb").add(result)
    end = time.perf_counter()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{end - start:.2f} s ({middle - start:.2f} reading, {end - middle:.2f} book);", end=" ")
    print(f"added {added.added:,}, set aside {added.set_aside:,}; peak memory {peak:.2f} GB")


def alone(step: str, folder: Path) -> str:
    """Run one step in a process of its own."""
    done = subprocess.run(
        [sys.executable, __file__, step, str(folder)], capture_output=True, text=True, check=True
    )
    return done.stdout.strip()


def main(rows: int) -> None:
    """Write the file, load it both ways in turn, print seconds and peak memory."""
    with tempfile.TemporaryDirectory(dir=".") as name:
        folder = Path(name)
        duckdb.execute("SET enable_progress_bar = false")
        duckdb.execute(LOTS.format(path=folder / "lots.csv", rows=rows))
        print(f"{rows:,} rows, {(folder / 'lots.csv').stat().st_size / 1e6:,.0f} MB", flush=True)
        before = float(alone("plain", folder))
        print(f"slidefit: {alone('ours', folder)}", flush=True)
        (folder / "plain.duckdb").unlink()
        after = float(alone("plain", folder))
        print(f"DuckDB's own reader, before and after: {before:.2f} and {after:.2f} s")


if __name__ == "__main__":
    if len(sys.argv) > 2:
        {"plain": plain, "ours": ours}[sys.argv[1]](Path(sys.argv[2]))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
