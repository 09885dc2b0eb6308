"""An addition is wholly in the book or not at all, also when it is killed; two at once lose nothing."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import LOTS, lot_file

ADD = """
import sys
from slidefit.records.sale_book import SaleBook
from slidefit.records.read import read
result = read(sys.argv[2])
print("read", flush=True)
print(SaleBook(sys.argv[1]).add(result).added, flush=True)
"""
KILLS = 4


def many_lots(path: Path, market: str) -> Path:
    lots = [
        f"{1 + day % 12:02d}/{1 + day % 28:02d}/{2015 + day % 9},{market},{sex},ML "
        f"1,{head},{weight},{260 - weight / 5:.2f}"
        for day in range(60)
        for sex in ("Steers", "Heifers")
        for head in (4, 9, 21)
        for weight in range(400, 800, 20)
    ]
    return lot_file(path, lots)


def test_killed_in_the_middle_the_book_is_as_before(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read(lot_file(tmp_path / "a.csv")))
    big = many_lots(tmp_path / "big.csv", "Fen Gate")
    whole = read(big).accepted
    chance = random.Random(7)
    states = set()
    for _ in range(KILLS):
        run = subprocess.Popen([sys.executable, "-c", ADD, str(book.path), str(big)], stdout=subprocess.PIPE)
        assert run.stdout is not None and run.stdout.readline().strip() == b"read"
        time.sleep(chance.uniform(0.0, 0.25))
        run.kill()
        run.wait()
        run.stdout.close()
        records = len(book.records())
        assert records in (len(LOTS), len(LOTS) + whole)
        states.add(records)
        for batch in book.summary().batches[1:]:
            book.undo(batch.batch)
    assert len(LOTS) in states


def test_two_processes_at_once_lose_no_row(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read(lot_file(tmp_path / "a.csv")))
    files = [many_lots(tmp_path / f"{name}.csv", name) for name in ("Fen", "Moor")]
    runs = [
        subprocess.Popen([sys.executable, "-c", ADD, str(book.path), str(path)], stdout=subprocess.PIPE)
        for path in files
    ]
    for run in runs:
        out, _ = run.communicate(timeout=60)
        assert run.returncode == 0 and out
    assert len(book.records()) == len(LOTS) + sum(read(path).accepted for path in files)
