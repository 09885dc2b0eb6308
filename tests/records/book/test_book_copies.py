"""A copy of a book is whole while the book is in use; what stood in a place is never lost."""

from __future__ import annotations

import gzip
import shutil
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from slidefit.errors import BookError, OutputError
from slidefit.records.book.book_copies import back_up, restore
from slidefit.records.book.book_file import opened
from slidefit.records.reading.source_card import SourceCard
from slidefit.records.sale_book import SaleBook
from slidefit.records.source_book import cards_folder, cards_of, keep_cards
from tests.records.sale_files import LOTS, read_lots

OLD = Path(__file__).parent / "old_books"


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("base")
    made = SaleBook(folder / "sales.duckdb")
    made.add(read_lots(folder / "a.csv", LOTS[:5]))
    made.add(read_lots(folder / "b.csv"))
    return folder


@pytest.fixture
def book(base: Path, tmp_path: Path) -> SaleBook:
    shutil.copytree(base, tmp_path, dirs_exist_ok=True)
    return SaleBook(tmp_path / "sales.duckdb")


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_a_copy_holds_all_and_can_be_undone_like_the_book(book: SaleBook, tmp_path: Path) -> None:
    made = back_up(book.path, tmp_path / "copy.duckdb")
    assert (made.records, made.batches, f"{made.last}") == (7, 2, "2023-10-17")
    copy = SaleBook(tmp_path / "copy.duckdb")
    assert copy.records().equals(book.records())
    first = book.summary().batches[0].batch
    for each in (book, copy):
        each.undo(first)
    assert copy.records().equals(book.records()) and len(copy.records()) == 7
    assert names(tmp_path) == {"a.csv", "b.csv", "sales.duckdb", "copy.duckdb"}


def test_a_copy_overwrites_nothing(book: SaleBook, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    for out in (tmp_path / "notes.txt", book.path):
        before = out.read_bytes()
        with pytest.raises(OutputError, match="stands there already"):
            back_up(book.path, out)
        assert out.read_bytes() == before
    assert names(tmp_path) == {"a.csv", "b.csv", "sales.duckdb", "notes.txt"}


HOLD = """
import sys
from pathlib import Path
from slidefit.records.book.book_file import opened
with opened(Path(sys.argv[1]), write=sys.argv[2] == "write") as connection:
    if sys.argv[2] == "write":
        connection.execute("DELETE FROM lots").fetchall()
    print("open", flush=True)
    sys.stdin.readline()
    if sys.argv[2] == "write":
        raise SystemExit
"""


@pytest.mark.parametrize("way", ["read", "write"])
def test_a_book_in_use_is_copied_as_it_is_between_two_changes(
    book: SaleBook, tmp_path: Path, way: str
) -> None:
    """Another process reads: both go on. Another changes it: it is waited for, here until it breaks off."""
    other = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(book.path), way], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert other.stdin and other.stdout and other.stdout.readline().strip() == b"open"
    if way == "write":
        other.stdin.write(b"go on\n")
        other.stdin.flush()
    made = back_up(book.path, tmp_path / "copy.duckdb")
    other.communicate(b"go on\n" if way == "read" else None)
    assert made.records == 7 and len(SaleBook(made.path).records()) == 7


def test_cards_changed_by_hand_are_in_the_copy(book: SaleBook, tmp_path: Path) -> None:
    keep_cards(book.path, [SourceCard(name="fen", headings=("Head",))])
    card = cards_folder(book.path) / "fen.toml"
    card.write_text(card.read_text() + '\n[columns]\n"Wt" = "weight_lb"\n')
    back_up(book.path, tmp_path / "copy.duckdb")
    assert cards_of(tmp_path / "copy.duckdb")["fen"].mapping == {"Wt": "weight"}


def test_a_copy_takes_the_place_of_a_book_which_is_kept(book: SaleBook, tmp_path: Path) -> None:
    back_up(book.path, tmp_path / "copy.duckdb")
    book.add(read_lots(tmp_path / "c.csv", [LOTS[0].replace("10/03", "11/07")]))
    for number in (1, 2):
        former = restore(tmp_path / "copy.duckdb", book.path).former
        assert former == tmp_path / f"sales.duckdb.former-{number}"
        assert len(book.records()) == 7 and len(SaleBook(former).records()) == (8 if number == 1 else 7)
    elsewhere = restore(tmp_path / "copy.duckdb", tmp_path / "new.duckdb")
    assert elsewhere.former is None and len(SaleBook(elsewhere.path).records()) == 7
    assert not [name for name in names(tmp_path) if name.endswith(".part")]


def test_a_damaged_book_and_its_journal_make_way(book: SaleBook, tmp_path: Path) -> None:
    back_up(book.path, tmp_path / "copy.duckdb")
    content, journal = book.path.read_bytes(), tmp_path / "sales.duckdb.wal"
    book.path.write_bytes(content[:5000])
    journal.write_bytes(b"left over")
    former = restore(tmp_path / "copy.duckdb", book.path).former
    assert len(book.records()) == 7 and not journal.exists()
    assert former is not None and former.read_bytes() == content[:5000]
    assert (tmp_path / f"{former.name}.wal").read_bytes() == b"left over"


def test_what_is_no_whole_book_is_not_put_in_place(book: SaleBook, tmp_path: Path) -> None:
    back_up(book.path, tmp_path / "copy.duckdb")
    good = (tmp_path / "copy.duckdb").read_bytes()
    (tmp_path / "cut.duckdb").write_bytes(good[: len(good) // 2])
    (tmp_path / "text.duckdb").write_text("not a database")
    with duckdb.connect(str(tmp_path / "foreign.duckdb")) as connection:
        connection.execute("CREATE TABLE cows (name TEXT)")
    with opened(tmp_path / "copy.duckdb", write=True) as connection:
        connection.execute("UPDATE slidefit_book SET schema_version = 99").fetchall()
    before, there = book.path.read_bytes(), names(tmp_path)
    for source, words in {
        "cut.duckdb": "sale book",
        "text.duckdb": "is not a sale book",
        "foreign.duckdb": "not a sale book",
        "copy.duckdb": "version 99",
        "gone.duckdb": "there is no sale book",
        "sales.duckdb": "is the book itself",
    }.items():
        with pytest.raises(BookError, match=words) as told:
            restore(tmp_path / source, book.path)
        assert told.value.where == str(tmp_path / source) and told.value.remedy
        assert book.path.read_bytes() == before and names(tmp_path) == there


def test_a_journal_of_a_book_that_is_gone_is_not_played_into_the_new_one(
    book: SaleBook, tmp_path: Path
) -> None:
    (tmp_path / "new.duckdb.wal").write_bytes(b"left over")
    with pytest.raises(BookError, match="journal"):
        restore(book.path, tmp_path / "new.duckdb")
    assert not (tmp_path / "new.duckdb").exists()


@pytest.mark.parametrize("version", [1, 2])
def test_books_of_0_1_0_are_copied_and_put_back(tmp_path: Path, version: int) -> None:
    old = tmp_path / "old.duckdb"
    old.write_bytes(gzip.decompress((OLD / f"book_v{version}.duckdb.gz").read_bytes()))
    records = SaleBook(old).records()
    back_up(old, tmp_path / "copy.duckdb")
    restore(tmp_path / "copy.duckdb", tmp_path / "sales.duckdb")
    assert SaleBook(tmp_path / "sales.duckdb").records().equals(records) and len(records)
