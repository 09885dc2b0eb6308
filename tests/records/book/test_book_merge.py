"""The book equals what the additions and renamings left give in their order, whatever was undone in between."""

from __future__ import annotations

import atexit
import json
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cache, lru_cache
from pathlib import Path

import duckdb
import pandas as pd
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, consumes, invariant, rule

from slidefit.records.book.book_batches import AddResult, add_batch, enter_name, undo_batch
from slidefit.records.book.book_copies import back_up, restore
from slidefit.records.book.book_schema import prepare
from slidefit.records.read import read
from slidefit.records.result import ReadResult
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import LOTS, book_of_lots, lot_file, read_lots

PREVIOUS = [
    lot.replace("251.25", "252.00").replace("233.50", "234.00").replace("228.00", "229.00") for lot in LOTS
]
LATER = [
    lot.replace("251.25", "253.00").replace("233.50", "235.00").replace("228.00", "230.00") for lot in LOTS
]


def prices(book: SaleBook) -> list[float]:
    return sorted(book.records()["price_cwt"].tolist())


def test_a_corrected_correction_undone_leaves_one_price_a_lot(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    first, second, third = (book.add(read_lots(tmp_path / "a.csv", lots)) for lots in (LOTS, PREVIOUS, LATER))
    assert (second.corrected, third.corrected) == (3, 3)
    latest = prices(book)
    book.undo(second.batch)
    assert prices(book) == latest and len(latest) == 7
    book.undo(third.batch)
    assert 251.25 in prices(book) and len(prices(book)) == 7
    book.undo(first.batch)
    assert prices(book) == []


def test_undo_of_the_first_of_two_that_told_a_sale_leaves_the_sale(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    first = book.add(read_lots(tmp_path / "a.csv", LOTS[:5]))
    second = book.add(read_lots(tmp_path / "b.csv", LOTS))
    assert (second.added, second.already_there) == (2, 5)
    assert book.undo(first.batch) == 5
    assert len(book.records()) == 7 and set(book.records()["batch"]) == {second.batch}


def test_markets_under_two_names_become_one_and_two_again(tmp_path: Path) -> None:
    book = book_of_lots(tmp_path / "sales.duckdb")
    short = [lot.replace("Rook Hill", "Rook Hill Barn") for lot in LOTS[:5]]
    book.add(read_lots(tmp_path / "b.csv", [*short, short[0].replace("10/03", "10/10")]))
    assert len(book.records()) == 13
    batch, records = book.rename_market("Rook Hill Barn", "Rook Hill")
    assert records == 6
    assert len(book.records()) == 8 and set(book.records()["market"]) == {"Rook Hill"}
    assert book.summary().batches[-1].renamed == ("Rook Hill Barn", "Rook Hill")
    later = book.add(read_lots(tmp_path / "c.csv", [short[0].replace("10/03", "10/24")]))
    assert later.renamed == {"Rook Hill Barn": "Rook Hill"}
    assert len(book.records()) == 9
    assert book.undo(batch) == 2
    assert Counter(book.records()["market"]) == {"Rook Hill": 7, "Rook Hill Barn": 7}


def test_of_two_rows_alike_the_one_of_the_earlier_addition_is_corrected(tmp_path: Path) -> None:
    heading = "Sale Date,Market,Sex,Grade,Head,Avg Wt,Price $/cwt,Status"

    def file(*rows: str) -> ReadResult:
        lines = [f"10/01/2023,{row}".replace("*", "Steers,ML 1,8,500") for row in rows]
        return read(lot_file(tmp_path / "a.csv", lines, heading))

    final = file("Gate,*,244,Final", "Fen,*,244,Final")
    firsts = (file(f"Moor,*,{price},Final", "Fen,*,244,Preliminary") for price in range(240, 260))
    early = next(
        each for each in firsts if each.fingerprint[:6] > final.fingerprint[:6]
    )  # not by their names
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(early)
    book.add(final)
    book.rename_market("Gate", "Fen")
    book.add(file("Fen,*,241,Final"))
    records = book.records().query("market == 'Fen'")
    assert sorted(zip(records["price_cwt"], records["flags"], strict=True)) == [(241, ""), (244, "")]


@dataclass(frozen=True)
class Lot:
    """One lot of the model: what makes its class, its price, and where it came from."""

    day: date
    market: str
    head: int
    price: int
    preliminary: bool
    row: int
    batch: int

    @property
    def sale(self) -> tuple[date, str]:
        return (self.day, self.market)

    @property
    def kind(self) -> tuple[date, str, int]:
        return (self.day, self.market, self.head)


def merged(book: list[Lot], incoming: list[Lot]) -> list[Lot]:
    """Return the book after an addition, by the rules of docs/records.md."""
    sales = {lot.sale for lot in incoming}
    here = sorted((lot for lot in book if lot.sale in sales), key=lambda lot: (lot.row, lot.price, lot.batch))
    fresh, gone = left_over(incoming, here), left_over(here, incoming)
    final = {lot.kind for lot in here if not lot.preliminary}
    fresh = [lot for lot in fresh if not (lot.preliminary and lot.kind in final)]
    told, missing = (Counter(lot.sale for lot in lots) for lots in (here, gone))
    new, old = by_kind(fresh), by_kind(gone)
    out: set[Lot] = set()
    for kind, lots in new.items():
        again = 2 * missing[kind[:2]] <= told[kind[:2]]
        lone = len(lots) == len(old[kind]) == 1 and kind[1] != "" and kind[2] >= 2
        pairs = zip(lots, old[kind], strict=False)
        out |= {before for _, before in pairs if again or lone or before.preliminary}
    return [lot for lot in book if lot not in out] + fresh


def by_kind(lots: Iterable[Lot]) -> defaultdict[tuple[date, str, int], list[Lot]]:
    kinds = defaultdict(list)
    for lot in lots:
        kinds[lot.kind].append(lot)
    return kinds


def left_over(lots: list[Lot], others: list[Lot]) -> list[Lot]:
    """Return the lots that have no partner of the same class and price among the others."""
    partners = Counter((lot.kind, lot.price) for lot in others)
    left = []
    for lot in lots:
        partners[lot.kind, lot.price] -= 1
        if partners[lot.kind, lot.price] < 0:
            left.append(lot)
    return left


Row = tuple[int, str, int, int, bool]
MARKETS = ("Fen", "Moor", "Gate")
FILES_DRAWN = 60
MOST_RENAMINGS = 2
SETS = 8  # sets of sales that one step moves, a month or a year apart, so that none meets another
YEARS = 60  # a sale before 1950 is refused


def drawn_files() -> list[tuple[Row, ...]]:
    """Files of one to six rows, so few days, heads and prices that they meet; preliminary and final ones."""
    chance = random.Random(26)
    return [
        tuple(
            (
                chance.randint(1, 2),
                chance.choice(MARKETS),
                chance.choice((1, 8)),
                chance.choice((240, 242, 244)),
                early,
            )
            for _ in range(chance.randint(1, 6))
            for early in [chance.random() < 0.4]
        )
        for _ in range(FILES_DRAWN)
    ]


FILES = drawn_files()


@cache
def reading(number: int, sets: int) -> ReadResult:
    """Return what a file is read as: in each set's month the rows of one drawn file."""
    chance = random.Random(number)
    lines = [
        f"{10 - own // YEARS}/0{day}/{2023 - own % YEARS},{market},Steers,ML 1,{head},500,{price},{status}"
        for own in range(sets)
        for day, market, head, price, early in FILES[chance.randrange(FILES_DRAWN) if own else number]
        for status in ["Preliminary" if early else "Final"]
    ]
    with tempfile.TemporaryDirectory() as folder:
        heading = "Sale Date,Market,Sex,Grade,Head,Avg Wt,Price $/cwt,Status"
        return read(lot_file(Path(folder) / "a.csv", lines, heading))


@cache
def kept_rows(number: int, sets: int) -> list[tuple[date, str, int, int, bool, int]]:
    """Return the records of a file as it is read (repeats within one file are judged by the reader)."""
    kept = reading(number, sets).records
    columns = (kept[name] for name in ("sale_date", "market", "head", "price_cwt", "flags", "source_row"))
    return [
        (day.date(), market, int(head), int(price), "preliminary" in flags, int(row))
        for day, market, head, price, flags, row in zip(*columns, strict=True)
    ]


Change = int | tuple[str, str]
Told = tuple[str, str, float, float]  # day, market, head, price


@lru_cache(maxsize=256)
def played(changes: tuple[Change, ...], names: tuple[str, ...], sets: int) -> list[Lot]:
    """Return the lots that changes leave, with the names that the renamings give the markets."""
    if not changes:
        return []
    *before, last = changes
    book = played(tuple(before), names, sets)
    if not isinstance(last, int):
        return book
    called = dict(zip(MARKETS, names, strict=True))
    rows = kept_rows(last, sets)
    return merged(book, [Lot(day, called[market], *rest, len(before)) for day, market, *rest in rows])  # type: ignore[arg-type]


class BookOfBatches(RuleBasedStateMachine):
    """Add, rename, merge two barns and undo in any order; the model plays the batches left again each time."""

    batches = Bundle("batches")
    sets = SETS

    def __init__(self) -> None:
        super().__init__()
        self.left: dict[str, Change] = {}
        self.open()

    def open(self) -> None:
        self.book = duckdb.connect(config={"threads": 1})  # nothing here is worth a second one
        prepare(self.book, Path("sales.duckdb"), write=True, create=True)

    def teardown(self) -> None:
        self.book.close()

    def played(self) -> list[Lot]:
        names = {name: name for name in MARKETS}
        for change in self.left.values():
            if not isinstance(change, int):
                before, after = change
                names = {read: after if name == before else name for read, name in names.items()}
        return played(tuple(self.left.values()), tuple(names.values()), self.sets)

    def added(self, number: int) -> AddResult:
        return add_batch(self.book, reading(number, self.sets))

    def renamed(self, old: str, new: str) -> str:
        return enter_name(self.book, old, new)[0]

    def undone(self, batch: str) -> None:
        undo_batch(self.book, batch, Path())

    def rows(self) -> list[Told]:
        return self.book.execute(
            "SELECT CAST(sale_date AS VARCHAR), market, head, price_cwt FROM sales"
        ).fetchall()

    @rule(target=batches, number=st.integers(0, FILES_DRAWN - 1))
    def add(self, number: int) -> str:
        result = self.added(number)
        if result.added:
            self.left[result.batch] = number
        return result.batch

    @rule(target=batches, names=st.permutations(MARKETS))
    def rename(self, names: list[str]) -> str:
        held = {lot.market for lot in self.played()}
        renamings = sum(not isinstance(change, int) for change in self.left.values())
        if names[0] not in held or renamings >= MOST_RENAMINGS:
            return ""
        batch = self.renamed(names[0], names[1])
        self.left[batch] = (names[0], names[1])
        return batch

    @rule(batch=consumes(batches))
    def undo(self, batch: str) -> None:
        if batch in self.left:
            self.undone(batch)
            del self.left[batch]

    def expected(self) -> list[Told]:
        return sorted((str(lot.day), lot.market, float(lot.head), float(lot.price)) for lot in self.played())

    @invariant()
    def equals_the_batches_left_played_again(self) -> None:
        assert sorted(self.rows()) == self.expected()


class BookInAFile(BookOfBatches):
    """The same with a file, its export, a copy, and another process that reads it between the changes."""

    def open(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.sales = SaleBook(self.folder / "sales.duckdb")
        self.sales.add(reading(0, self.sets))
        self.left[self.sales.summary().batches[0].batch] = 0

    def teardown(self) -> None:
        shutil.rmtree(self.folder)

    def added(self, number: int) -> AddResult:
        return self.sales.add(reading(number, self.sets))

    def renamed(self, old: str, new: str) -> str:
        return self.sales.rename_market(old, new)[0]

    def undone(self, batch: str) -> None:
        self.sales.undo(batch)

    def rows(self) -> list[Told]:
        return rows_of(self.sales.records())

    @rule()
    def export(self) -> None:
        self.sales.export(self.folder / "out.csv")
        assert (
            sorted(rows_of(pd.read_csv(self.folder / "out.csv", parse_dates=["sale_date"])))
            == self.expected()
        )

    @rule()
    def copy(self) -> None:
        made = back_up(self.sales.path, self.folder / "copy.duckdb")
        assert sorted(rows_of(SaleBook(made.path).records())) == self.expected()
        restore(made.path, self.sales.path)
        made.path.unlink()

    @rule()
    def another_process_reads(self) -> None:
        other = other_process()
        assert other.stdin and other.stdout
        other.stdin.write(f"{self.sales.path}\n")
        other.stdin.flush()
        assert [tuple(row) for row in json.loads(other.stdout.readline())] == self.expected()


def rows_of(records: pd.DataFrame) -> list[Told]:
    columns = (records["sale_date"], records["market"], records["head"], records["price_cwt"])
    return [(str(d.date()), str(m), float(h), float(p)) for d, m, h, p in zip(*columns, strict=True)]


READER = """
import json, sys
from slidefit.records.sale_book import SaleBook
for line in sys.stdin:
    records = SaleBook(line.strip()).records()
    columns = records["sale_date"], records["market"], records["head"], records["price_cwt"]
    rows = sorted([str(d.date()), str(m), float(h), float(p)] for d, m, h, p in zip(*columns))
    print(json.dumps(rows), flush=True)
"""


@cache
def other_process() -> subprocess.Popen[str]:
    made = subprocess.Popen(
        [sys.executable, "-c", READER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    atexit.register(made.communicate, "")
    return made


# more runs are a matter of patience: tests/faults/run_book_machine.py, figures in docs/safety.md
EVERY = settings(deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
BookOfBatches.TestCase.settings = settings(EVERY, max_examples=4, stateful_step_count=7)
TestBookOfBatches = BookOfBatches.TestCase
BookInAFile.TestCase.settings = settings(EVERY, max_examples=1, stateful_step_count=8)
TestBookInAFile = BookInAFile.TestCase
