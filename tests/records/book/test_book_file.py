"""A book is made whole or not at all; damage, too little memory and a full disk are told."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from slidefit.errors import BookError, OutputError
from slidefit.records.book import book_batches, book_file
from slidefit.records.book.book_file import new_book, opened
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import LOTS, book_of_lots, lot_file, read_lots


def book_of(folder: Path) -> SaleBook:
    lot_file(folder / "a.csv")
    return book_of_lots(folder / "sales.duckdb")


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_a_failing_first_addition_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise RuntimeError("midway")

    result = read_lots(tmp_path / "a.csv")
    monkeypatch.setattr(book_batches, "merge", fails)
    with pytest.raises(RuntimeError, match="midway"):
        SaleBook(tmp_path / "sales.duckdb").add(result)
    assert names(tmp_path) == {"a.csv"}


def test_a_failing_addition_keeps_the_book_that_another_made_meanwhile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = read_lots(tmp_path / "a.csv", LOTS[:3]), read_lots(tmp_path / "b.csv", LOTS[3:])
    path, merge = tmp_path / "sales.duckdb", book_batches.merge

    def overtaken(*args: object) -> object:
        monkeypatch.setattr(book_batches, "merge", merge)
        SaleBook(path).add(second)
        raise RuntimeError("midway")

    monkeypatch.setattr(book_batches, "merge", overtaken)
    with pytest.raises(RuntimeError, match="midway"):
        SaleBook(path).add(first)
    assert len(SaleBook(path).records()) == 4
    assert names(tmp_path) == {"a.csv", "b.csv", "sales.duckdb"}


def test_of_two_that_make_the_book_at_once_both_are_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = read_lots(tmp_path / "a.csv", LOTS[:3]), read_lots(tmp_path / "b.csv", LOTS[3:])
    path, merge = tmp_path / "sales.duckdb", book_batches.merge

    def overtaken(*args: object) -> object:
        monkeypatch.setattr(book_batches, "merge", merge)
        SaleBook(path).add(second)
        return merge(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(book_batches, "merge", overtaken)
    assert SaleBook(path).add(first).added == 3
    assert len(SaleBook(path).records()) == 7


BORN = """
import sys
from slidefit.records import sale_book
from slidefit.records.book import book_batches
from slidefit.records.read import read
def told(*args):
    print("born", flush=True)
    sys.stdin.read()
book_batches.merge = told
sale_book.SaleBook(sys.argv[1]).add(read(sys.argv[2]))
"""


def test_killed_while_the_book_is_born_there_is_none(tmp_path: Path) -> None:
    path = tmp_path / "sales.duckdb"
    lots = lot_file(tmp_path / "a.csv")
    run = subprocess.Popen(
        [sys.executable, "-c", BORN, str(path), str(lots)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert run.stdin and run.stdout and run.stdout.readline().strip() == b"born"
    run.kill()
    run.communicate()
    assert not path.exists() and len(list(tmp_path.glob(".*.part"))) == 1
    with new_book(tmp_path / "other.duckdb"), new_book(path):  # what was left goes, what is being made stays
        assert len(list(tmp_path.glob(".*.part"))) == 2
    path.unlink()
    assert SaleBook(path).add(read_lots(lots)).added == 7
    assert names(tmp_path) == {"a.csv", "other.duckdb", "sales.duckdb"}


def test_a_journal_without_its_book_is_told(tmp_path: Path) -> None:
    (tmp_path / "sales.duckdb.wal").write_bytes(b"left over")
    with pytest.raises(BookError, match="journal"), new_book(tmp_path / "sales.duckdb"):
        pass
    assert names(tmp_path) == {"sales.duckdb.wal"}


def test_no_other_file_can_be_read_and_no_extension_loaded(tmp_path: Path) -> None:
    book = book_of(tmp_path)
    (tmp_path / "secret.txt").write_text("secret")
    with opened(book.path, write=False) as connection:
        for statement in (
            f"SELECT * FROM read_text('{tmp_path / 'secret.txt'}')",
            f"ATTACH '{tmp_path / 'other.duckdb'}'",
            f"COPY lots TO '{tmp_path / 'out.csv'}'",
            "LOAD httpfs",
            "INSTALL httpfs",
            "SET enable_external_access = true",
        ):
            with pytest.raises(duckdb.Error, match=r"disabled|Cannot enable external access"):
                connection.execute(statement)
    with pytest.raises(BookError, match="disabled"), opened(book.path, write=True) as connection:
        connection.execute(f"SELECT * FROM read_text('{tmp_path / 'secret.txt'}')")


def test_too_little_memory_is_told_as_such(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book = book_of(tmp_path)
    monkeypatch.setattr(book_file, "MEMORY_LIMIT", "12MB")
    with (
        pytest.raises(BookError, match="more than the 12MB of memory"),
        opened(book.path, write=False) as connection,
    ):
        connection.execute("SELECT list(a) FROM (SELECT range AS a FROM range(40000000))").fetchall()


EXPORT = """
import resource, signal, sys
from slidefit.errors import OutputError, SlidefitError
from slidefit.records.sale_book import SaleBook
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (64, 64))
for out in sys.argv[2:]:
    try:
        SaleBook(sys.argv[1]).export(out)
    except SlidefitError as fault:
        print(fault)
"""


def test_an_export_that_can_not_be_written_leaves_the_old_file_and_names_the_cause(tmp_path: Path) -> None:
    book = book_of(tmp_path)
    outs = [tmp_path / "out.csv", tmp_path / "out.parquet"]
    for out in outs:
        out.write_text("old")
    before = names(tmp_path)
    run = subprocess.run(
        [sys.executable, "-c", EXPORT, str(book.path), *map(str, outs)], capture_output=True, text=True
    )
    assert run.returncode == 0, run.stderr
    assert run.stdout.count("larger than the disk or your account allows") == 2
    assert str(book.path) not in run.stdout
    assert [out.read_text() for out in outs] == ["old", "old"] and names(tmp_path) == before


def test_an_export_replaces_a_file_and_a_folder_is_refused(tmp_path: Path) -> None:
    book = book_of(tmp_path)
    out = tmp_path / "out.csv"
    out.write_text("old")
    assert book.export(out) == 7 and len(out.read_text().splitlines()) == 8
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(OutputError, match="it is a folder"):
        book.export(tmp_path / "folder.csv")


def test_a_new_book_that_the_disk_did_not_take_in_is_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """DuckDB closes a file without a word where its journal can't be played into it: that is done before."""

    class Failing:
        def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
            self.connection = connection

        def __getattr__(self, name: str) -> object:
            return getattr(self.connection, name)

        def execute(self, query: str, *values: object) -> duckdb.DuckDBPyConnection:
            if query == "CHECKPOINT":
                raise duckdb.IOException("Could not write file: No space left on device")
            return self.connection.execute(query, *values)

    connected = book_file._connected
    monkeypatch.setattr(book_file, "_connected", lambda *way, **more: Failing(connected(*way, **more)))
    with pytest.raises(BookError, match="the disk is full"):
        SaleBook(tmp_path / "sales.duckdb").add(read_lots(tmp_path / "a.csv"))
    assert names(tmp_path) == {"a.csv"}
