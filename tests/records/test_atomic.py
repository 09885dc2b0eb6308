"""An addition is wholly in the book or not at all, also when it is killed; two at once lose nothing.

Kills at every write of every command: `tests/faults/run_faults.py`; at random moments: `tests/benchmarks/kill_add.py`.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import LOTS, lot_file

ADD = """
import os, signal, sys
from slidefit.records import sale_book, source_book
from slidefit.records.read import read
if sys.argv[3] == "kill":  # all is merged, nothing committed yet
    source_book.put_cards = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
print(sale_book.SaleBook(sys.argv[1]).add(read(sys.argv[2])).added, flush=True)
"""


def many_lots(path: Path, market: str) -> Path:
    lots = [
        f"{1 + day % 12:02d}/{1 + day % 28:02d}/{2015 + day % 9},{market},{sex},ML "
        f"1,{head},{weight},{260 - weight / 5:.2f}"
        for day in range(6)
        for sex in ("Steers", "Heifers")
        for head in (4, 9, 21)
        for weight in range(400, 800, 20)
    ]
    return lot_file(path, lots)


def adding(book: SaleBook, lots: Path, way: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", ADD, str(book.path), str(lots), way], stdout=subprocess.PIPE
    )


def test_killed_before_its_end_or_two_at_once_lose_no_row(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read(lot_file(tmp_path / "a.csv")))
    files = [many_lots(tmp_path / f"{name}.csv", name) for name in ("Fen", "Moor", "Gate")]
    ways = ("add", "add", "kill")
    runs = [adding(book, path, way) for path, way in zip(files, ways, strict=True)]
    for run, way in zip(runs, ways, strict=True):
        out, _ = run.communicate(timeout=60)
        assert run.returncode == (0 if way == "add" else -9) and bool(out) == (way == "add")
    records = book.records()
    assert len(records) == len(LOTS) + sum(read(path).accepted for path in files[:2])
    assert set(records["market"]) == {"Rook Hill", "Fen", "Moor"} and len(book.summary().batches) == 3
