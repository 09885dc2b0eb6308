"""Kill an addition at random moments, 50 times, and look whether the book is ever neither before nor after.

Run: python tests/benchmarks/kill_add.py [TIMES]
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook

ADD = """
import sys
from slidefit.records.sale_book import SaleBook
from slidefit.records.read import read
result = read(sys.argv[2])
print("read", flush=True)
SaleBook(sys.argv[1]).add(result)
"""
HEADING = "Sale Date,Market,Sex,Grade,Head,Avg Wt,Price $/cwt"


def main(times: int) -> None:
    """Add a small file, then kill additions of a large one; count the states found."""
    chance = random.Random(20)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        small, big = folder / "small.csv", folder / "big.csv"
        small.write_text(f"{HEADING}\n10/03/2023,Rook Hill,Steers,ML 1,12,512,251.25\n")
        lots = (
            f"{1 + lot % 12:02d}/{1 + lot % 28:02d}/{2015 + lot % 9},Fen,Steers,ML "
            f"1,{1 + lot % 60},{400 + lot % 397},{260 - (lot % 397) / 5:.2f}"
            for lot in range(200_000)
        )
        big.write_text("\n".join([HEADING, *lots]) + "\n")
        book = SaleBook(folder / "sales.duckdb")
        book.add(read(small))
        states: dict[int, int] = {}
        for _ in range(times):
            run = subprocess.Popen(
                [sys.executable, "-c", ADD, str(book.path), str(big)], stdout=subprocess.PIPE
            )
            assert run.stdout is not None
            run.stdout.readline()
            time.sleep(chance.uniform(0.0, 1.2))
            run.kill()
            run.wait()
            run.stdout.close()
            records = len(book.records())
            states[records] = states.get(records, 0) + 1
            for batch in book.summary().batches[1:]:
                book.undo(batch.batch)
        print(f"records found after {times} kills (records: times): {states}; before the addition there is 1")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
