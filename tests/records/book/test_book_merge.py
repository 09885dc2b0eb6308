"""The book equals what the additions and renamings left give in their order, whatever was undone in between."""

from __future__ import annotations

import tempfile
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import duckdb
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, consumes, invariant, rule

from slidefit.records.book.book_batches import add_batch, enter_name, undo_batch
from slidefit.records.book.book_schema import prepare
from slidefit.records.read import read
from slidefit.records.result import ReadResult
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import LOTS, lot_file, read_lots

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
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read_lots(tmp_path / "a.csv"))
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


@dataclass(frozen=True)
class Lot:
    """One lot of the model: what makes its class, its price, and where it came from."""

    day: int
    market: str
    head: int
    price: int
    preliminary: bool
    row: int
    batch: int

    @property
    def sale(self) -> tuple[int, str]:
        return (self.day, self.market)

    @property
    def kind(self) -> tuple[int, str, int]:
        return (self.day, self.market, self.head)


def merged(book: list[Lot], incoming: list[Lot]) -> tuple[list[Lot], int]:
    """Return the book after an addition, by the rules of docs/records.md, and how many rows were added."""
    sales = {lot.sale for lot in incoming}
    here = sorted((lot for lot in book if lot.sale in sales), key=lambda lot: (lot.row, lot.price, lot.batch))
    fresh, gone = left_over(incoming, here), left_over(here, incoming)
    final = {lot.kind for lot in here if not lot.preliminary}
    fresh = [lot for lot in fresh if not (lot.preliminary and lot.kind in final)]
    out: set[Lot] = set()
    for kind in {lot.kind for lot in fresh}:
        new, old = ([lot for lot in lots if lot.kind == kind] for lots in (fresh, gone))
        sale = [lot for lot in here if lot.sale == kind[:2]]
        again = 2 * sum(lot.sale == kind[:2] for lot in gone) <= len(sale)
        lone = len(new) == len(old) == 1 and kind[1] != "" and kind[2] >= 2
        out |= {before for _, before in zip(new, old, strict=False) if again or lone or before.preliminary}
    return [lot for lot in book if lot not in out] + fresh, len(fresh)


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
ROWS = st.tuples(
    st.integers(1, 2),
    st.sampled_from(["Fen", "Moor"]),
    st.sampled_from([1, 8]),
    st.sampled_from([240, 242, 244]),
    st.booleans(),
)


@cache
def reading(rows: tuple[Row, ...]) -> ReadResult:
    """Return what a file of these rows is read as."""
    lines = [
        f"10/0{day}/2023,{market},Steers,ML 1,{head},500,{price},{'Preliminary' if early else 'Final'}"
        for day, market, head, price, early in rows
    ]
    with tempfile.TemporaryDirectory() as folder:
        heading = "Sale Date,Market,Sex,Grade,Head,Avg Wt,Price $/cwt,Status"
        return read(lot_file(Path(folder) / "a.csv", lines, heading))


class BookOfBatches(RuleBasedStateMachine):
    """Add, rename and undo in any order; the model plays the batches left again each time."""

    batches = Bundle("batches")

    def __init__(self) -> None:
        super().__init__()
        self.book = duckdb.connect()
        prepare(self.book, Path("sales.duckdb"), write=True, create=True)
        self.left: dict[str, tuple[Row, ...] | tuple[str, str]] = {}

    def teardown(self) -> None:
        self.book.close()

    def played(self) -> list[Lot]:
        names = {"Fen": "Fen", "Moor": "Moor"}
        for rows in self.left.values():
            if isinstance(rows[0], str):
                before, after = rows
                names = {read: after if name == before else name for read, name in names.items()}
        book: list[Lot] = []
        for number, rows in enumerate(self.left.values()):
            if not isinstance(rows[0], str):
                book, _ = merged(book, self.lots(rows, names, number))
        return book

    def lots(self, rows: tuple[Row, ...], names: dict[str, str], number: int) -> list[Lot]:
        """Return the records of a file as it is read (repeats within one file are judged by the reader)."""
        kept = reading(rows).records
        return [
            Lot(day.day, names[market], int(head), int(price), "preliminary" in flags, int(row), number)
            for day, market, head, price, flags, row in zip(
                *(kept[name] for name in ("sale_date", "market", "head", "price_cwt", "flags", "source_row")),
                strict=True,
            )
        ]

    @rule(target=batches, rows=st.lists(ROWS, min_size=1, max_size=6).map(tuple))
    def add(self, rows: tuple[Row, ...]) -> str:
        result = add_batch(self.book, reading(rows))
        if result.added:
            self.left[result.batch] = rows
        return result.batch

    @rule(target=batches, names=st.permutations(["Fen", "Moor"]))
    def rename(self, names: list[str]) -> str:
        held = {lot.market for lot in self.played()}
        if names[0] not in held or any(isinstance(rows[0], str) for rows in self.left.values()):
            return ""
        batch, _ = enter_name(self.book, *names)
        self.left[batch] = (names[0], names[1])
        return batch

    @rule(batch=consumes(batches))
    def undo(self, batch: str) -> None:
        if batch in self.left:
            undo_batch(self.book, batch, Path())
            del self.left[batch]

    @invariant()
    def equals_the_batches_left_played_again(self) -> None:
        rows = self.book.execute("SELECT day(sale_date), market, head, price_cwt FROM sales").fetchall()
        expected = [(lot.day, lot.market, float(lot.head), float(lot.price)) for lot in self.played()]
        assert sorted(rows) == sorted(expected)


# more runs are a matter of patience: docs/safety.md tells how many have been made
BookOfBatches.TestCase.settings = settings(
    max_examples=8,
    stateful_step_count=6,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)
TestBookOfBatches = BookOfBatches.TestCase
