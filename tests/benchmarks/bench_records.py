"""Time the reading of many lot rows into a sale book against DuckDB's own CSV reader.

Run: python tests/benchmarks/bench_records.py [ROWS]   (default 1,000,000)
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import duckdb

from slidefit.records.book import SaleBook
from slidefit.records.reading import read

LOTS = """
COPY (
    SELECT strftime(DATE '2005-01-03' + (i // 60 // 4)::INT * 7 // 4, '%m/%d/%Y') AS "Sale Date",
           'Barn ' || (i // 60 % 4) AS "Market",
           i AS "Lot",
           CASE WHEN i % 20 = 0 THEN 'Bulls' WHEN i % 2 = 0 THEN 'Steers' ELSE 'Heifers' END AS "Class",
           CASE WHEN i % 3 = 0 THEN 'Medium and Large 1-2' ELSE 'Medium and Large 1' END AS "Grade",
           1 + hash(i) % 60 AS "Head",
           300 + hash(i + 7) % 600 AS "Avg Wt",
           round(180 - 0.1 * (hash(i + 7) % 600) + (hash(i + 13) % 1000) / 50.0, 2) AS "Price $/cwt",
           CASE WHEN i % 11 = 0 THEN 'Fleshy' WHEN i % 13 = 0 THEN 'Unweaned' ELSE '' END AS "Remarks"
    FROM range(?) t(i)
) TO '{path}' (HEADER)
"""


def main(rows: int) -> None:
    """Write the file, load it both ways, print seconds and peak memory."""
    with tempfile.TemporaryDirectory(dir=".") as folder:
        path = Path(folder) / "lots.csv"
        duckdb.sql("SET preserve_insertion_order = true")
        duckdb.execute(LOTS.format(path=path), [rows])
        print(f"{rows:,} rows, {path.stat().st_size / 1e6:,.0f} MB")
        start = time.perf_counter()
        with duckdb.connect(str(Path(folder) / "plain.duckdb")) as connection:
            connection.execute(f"CREATE TABLE lots AS SELECT * FROM read_csv('{path}')")
        plain = time.perf_counter() - start
        start = time.perf_counter()
        result = read(path)
        middle = time.perf_counter()
        added = SaleBook(Path(folder) / "sales.duckdb").add(result)
        end = time.perf_counter()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        print(f"DuckDB's own reader {plain:.2f} s; reading {middle - start:.2f} s, book {end - middle:.2f} s")
        print(f"together {(end - start) / plain:.2f} times; added {added.added:,}, set aside {added.set_aside:,}; peak {peak:.2f} GB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
