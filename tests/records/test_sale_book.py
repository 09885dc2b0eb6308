"""The sale book: no sale twice, corrections, undo, export, and plain words when a file is no book."""

from __future__ import annotations

import gzip
import subprocess
import sys
from datetime import date
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from slidefit.errors import BookError, OutputError
from slidefit.records.book import book_file
from slidefit.records.columns import COLUMN_NAMES
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import LOTS, book_of_lots, lot_file, read_lots

EXCERPTS = Path(__file__).parent / "excerpts"


def added(book: SaleBook, path: Path, lots: tuple[str, ...] | list[str]) -> tuple[int, int, int]:
    result = book.add(read_lots(path, lots))
    return result.added, result.already_there, result.corrected


def test_the_same_file_again_adds_nothing(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    first = book.add(read_lots(tmp_path / "a.csv"))
    again = book.add(read_lots(tmp_path / "a.csv"))
    assert (first.added, again.added, again.already_there) == (7, 0, 7)
    assert again.batch == first.batch
    assert len(book.records()) == 7


def test_an_overlapping_file_adds_only_what_is_new(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    assert added(book, tmp_path / "a.csv", LOTS[:5]) == (5, 0, 0)
    assert added(book, tmp_path / "b.csv", LOTS[2:]) == (2, 3, 0)
    assert len(book.records()) == 7


def test_equal_single_lots_of_one_file_are_real(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    assert added(book, tmp_path / "a.csv", [*LOTS, LOTS[0]]) == (8, 0, 0)
    assert added(book, tmp_path / "b.csv", LOTS) == (0, 7, 0)
    assert added(book, tmp_path / "c.csv", [*LOTS, LOTS[0], LOTS[0]]) == (1, 8, 0)


def test_another_price_is_a_correction_and_undo_puts_it_back(tmp_path: Path) -> None:
    book = book_of_lots(tmp_path / "sales.duckdb")
    mended = [LOTS[0].replace("251.25", "250.00"), *LOTS[1:]]
    result = book.add(read_lots(tmp_path / "b.csv", mended))
    assert (result.added, result.already_there, result.corrected) == (1, 6, 1)
    prices = book.records()["price_cwt"].tolist()
    assert 250.0 in prices and 251.25 not in prices and len(prices) == 7
    assert book.undo(result.batch) == 1
    prices = book.records()["price_cwt"].tolist()
    assert 251.25 in prices and 250.0 not in prices and len(prices) == 7


def test_one_corrected_class_alone_is_known_by_its_class(tmp_path: Path) -> None:
    book = book_of_lots(tmp_path / "sales.duckdb")
    assert added(book, tmp_path / "b.csv", [LOTS[1].replace("233.50", "235.50")]) == (1, 0, 1)
    assert len(book.records()) == 7


def test_the_other_half_of_a_sale_is_no_correction(tmp_path: Path) -> None:
    single = [
        f"10/03/2023,Rook Hill,Steers,ML 1,1,500,{price}"
        for price in ("250.00", "245.00", "252.50", "240.00")
    ]
    book = SaleBook(tmp_path / "sales.duckdb")
    assert added(book, tmp_path / "a.csv", single[:2]) == (2, 0, 0)
    assert added(book, tmp_path / "b.csv", single[2:]) == (2, 0, 0)


def test_two_prices_of_one_class_in_one_file_are_both_true(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    both = ["10/03/2023,Rook Hill,Steers,ML 1,2,435,180.00", "10/03/2023,Rook Hill,Steers,ML 1,2,435,173.00"]
    assert added(book, tmp_path / "a.csv", both) == (2, 0, 0)
    assert added(book, tmp_path / "b.csv", both) == (0, 2, 0)


def test_a_final_row_replaces_the_preliminary_one_and_not_the_reverse(tmp_path: Path) -> None:
    heading = "Sale Date,Market,Sex,Head,Avg Wt,Price $/cwt,Status"
    early = lot_file(
        tmp_path / "early.csv", ["10/03/2023,Rook Hill,Steers,12,512,251.25,Preliminary"], heading
    )
    final = lot_file(tmp_path / "final.csv", ["10/03/2023,Rook Hill,Steers,12,512,252.50,Final"], heading)
    book = SaleBook(tmp_path / "sales.duckdb")
    assert book.add(read(early)).added == 1
    assert book.add(read(final)).corrected == 1
    assert book.records()["price_cwt"].tolist() == [252.5]
    late = book.add(read(early))
    assert (late.added, late.set_aside, late.reasons) == (0, 1, {"superseded": 1})


def test_two_files_at_once_are_as_one_after_the_other(tmp_path: Path) -> None:
    lot_file(tmp_path / "a.csv", LOTS[:5])
    lot_file(tmp_path / "b.csv", LOTS[3:])
    result = SaleBook(tmp_path / "sales.duckdb").add(read([tmp_path / "a.csv", tmp_path / "b.csv"]))
    assert (result.added, result.already_there) == (7, 2)


def test_records_by_market_and_day(tmp_path: Path) -> None:
    book = book_of_lots(tmp_path / "sales.duckdb")
    assert list(book.records().columns) == list(COLUMN_NAMES)
    assert len(book.records(market=["rook"], since=date(2023, 10, 10))) == 2
    assert len(book.records(until=date(2023, 10, 10))) == 5
    with pytest.raises(BookError, match="Rook Hill"):
        book.records(market=["nowhere"])


def test_summary_tells_years_batches_and_gaps(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    lots = [*LOTS, "01/09/2024,Rook Hill,Steers,ML 1,22,530,247.00"]
    batch = book.add(read_lots(tmp_path / "a.csv", lots)).batch
    summary = book.summary()
    assert summary.records == 8
    assert summary.markets[0].gaps == ("2023-11", "2023-12")
    assert summary.batches[0].batch == batch and summary.batches[0].files == ("a.csv",)
    assert summary.counts["records"].sum() == 8


@pytest.mark.parametrize("suffix", ["csv", "parquet"])
def test_what_is_exported_reads_back_the_same(tmp_path: Path, suffix: str) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read(EXCERPTS / "ams_clovis_service.csv"))
    book.add(read(Path(__file__).parent / "hard" / "h03_years_across.csv"))
    out = tmp_path / f"out.{suffix}"
    assert book.export(out) == 78
    back = read(out).records.drop(columns=["source_row", "batch"])
    kept = book.records().drop(columns=["source_row", "batch"])
    order = ["sale_date", "market", "sex", "frame", "muscle", "head", "weight_lb", "price_cwt"]
    pd.testing.assert_frame_equal(
        back.sort_values(order, ignore_index=True), kept.sort_values(order, ignore_index=True)
    )
    assert book.add(read(out)).added == 0


def test_text_that_a_spreadsheet_would_run_is_made_inert(tmp_path: Path) -> None:
    lots = [lot.replace("Rook Hill", "=HYPERLINK(1)") for lot in LOTS]
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read_lots(tmp_path / "a.csv", lots))
    book.export(tmp_path / "out.csv")
    assert ",'=HYPERLINK(1)," in (tmp_path / "out.csv").read_text()
    assert book.add(read(tmp_path / "out.csv")).added == 0


def test_undo_of_an_unknown_batch_names_the_known(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    batch = book.add(read_lots(tmp_path / "a.csv")).batch
    with pytest.raises(BookError, match=batch):
        book.undo("nothing")
    assert book.undo(batch) == 7
    assert len(book.records()) == 0
    assert book.add(read_lots(tmp_path / "a.csv")).batch == batch


def other_duckdb(path: Path) -> None:
    with duckdb.connect(str(path)) as connection:
        connection.execute("CREATE TABLE t AS SELECT 1 AS a")


def later_book(path: Path) -> None:
    book_of_lots(path)
    with duckdb.connect(str(path)) as connection:
        connection.execute("UPDATE slidefit_book SET schema_version = 99")


def damaged_book(path: Path) -> None:
    book_of_lots(path)
    data = bytearray(path.read_bytes())
    data[4096 : 4096 + 4096] = bytes(4096)
    path.write_bytes(bytes(data))


@pytest.mark.parametrize(
    ("make", "word"),
    [
        (lambda path: path.write_text("Sale Date,Head\n" * 50), "not a sale book"),
        (other_duckdb, "not a sale book"),
        (later_book, "version 99"),
        (lambda path: path.mkdir(), "folder"),
        (damaged_book, "can't be opened|could not be"),
    ],
)
def test_what_is_no_book_is_left_alone(tmp_path: Path, make, word: str) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "sales.duckdb"
    make(path)
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(BookError, match=word):
        SaleBook(path).add(read_lots(tmp_path / "a.csv"))
    assert (path.read_bytes() if path.is_file() else None) == before


def test_a_missing_book_or_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="no sale book here"):
        SaleBook(tmp_path / "none.duckdb").records()
    with pytest.raises(BookError, match="folder"):
        SaleBook(tmp_path / "no" / "sales.duckdb").add(read_lots(tmp_path / "a.csv"))
    book = book_of_lots(tmp_path / "sales.duckdb")
    with pytest.raises(BookError, match=r"can't write a \.docx file"):
        book.export(tmp_path / "out.docx")
    with pytest.raises(OutputError, match=r"no such file or directory\. Make the folder"):
        book.export(tmp_path / "no" / "out.csv")


HOLD = """
import sys, time, duckdb
connection = duckdb.connect(sys.argv[1])
print("held", flush=True)
time.sleep(60)
"""


def test_a_book_held_by_another_program_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(book_file, "LOCK_SECONDS", 0.3)
    book = book_of_lots(tmp_path / "sales.duckdb")
    holder = subprocess.Popen([sys.executable, "-c", HOLD, str(book.path)], stdout=subprocess.PIPE)
    try:
        assert holder.stdout is not None and holder.stdout.readline().strip() == b"held"
        with pytest.raises(BookError, match="another program"):
            book.add(read_lots(tmp_path / "a.csv"))
    finally:
        holder.kill()
        holder.wait()
        holder.stdout.close()
    assert len(book.records()) == 7


@pytest.mark.parametrize("version", [1, 2])
def test_a_book_of_an_earlier_version_is_read_and_brought_up_when_written(
    tmp_path: Path, version: int
) -> None:
    """The fixtures were made by version 0.1.0: LOTS, then the same with a corrected price."""
    folder = Path(__file__).parent / "book" / "old_books"
    old = SaleBook(tmp_path / "old.duckdb")
    old.path.write_bytes(gzip.decompress((folder / f"book_v{version}.duckdb.gz").read_bytes()))
    made = SaleBook(tmp_path / "made.duckdb")
    made.add(read_lots(tmp_path / "a.csv"))
    made.add(read_lots(tmp_path / "a.csv", [LOTS[0].replace("251.25", "252.00"), *LOTS[1:]]))
    pd.testing.assert_frame_equal(old.records(), made.records())
    assert old.summary().batches[1].corrected == 1
    more = read_lots(tmp_path / "b.csv", [lot.replace("/2023", "/2024") for lot in LOTS])
    assert (old.add(more).added, made.add(more).added) == (7, 7)
    pd.testing.assert_frame_equal(old.records(), made.records())
    batch = old.summary().batches[1].batch
    assert (old.undo(batch), made.undo(batch)) == (1, 1)
    pd.testing.assert_frame_equal(old.records(), made.records())
