"""Large files are read in pieces, with the same result as whole ones."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from slidefit.records import large_files, result
from slidefit.records.read import read
from slidefit.records.result import ReadResult, write_set_aside
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import HEADING, LOTS, lot_file


def _read_both_ways(path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[ReadResult, ReadResult]:
    """Read a file whole, and again in pieces of some hundred rows."""
    whole = read(path)
    monkeypatch.setattr(large_files, "STREAM_BYTES", 1000)
    monkeypatch.setattr(large_files, "BLOCK_BYTES", 5_000)
    return whole, read(path)


def _same_outcome(whole: ReadResult, pieces: ReadResult, folder: Path) -> None:
    """Check that two readings give the same records, rows set aside and book."""
    assert pieces.reasons == whole.reasons
    assert (pieces.rows_seen, pieces.accepted) == (whole.rows_seen, whole.accepted)
    sorts = ["row", "reason"]
    pd.testing.assert_frame_equal(
        pieces.set_aside.sort_values(sorts, ignore_index=True),
        whole.set_aside.sort_values(sorts, ignore_index=True),
    )
    counts = [
        write_set_aside(each.aside, folder / f"{name}.csv") for name, each in (("a", whole), ("b", pieces))
    ]
    assert counts == [whole.set_aside_rows] * 2
    lines = [sorted((folder / f"{name}.csv").read_text().splitlines()) for name in "ab"]
    assert lines[0] == lines[1]
    books = [SaleBook(folder / f"{name}.duckdb") for name in ("whole", "pieces")]
    for book, each in zip(books, (whole, pieces), strict=True):
        assert book.add(each).added == whole.accepted
    frames = [book.records().drop(columns=["batch", "flags"]) for book in books]
    pd.testing.assert_frame_equal(frames[0], frames[1])


def _lots(day: int) -> list[str]:
    """Return the lots of one sale."""
    when = f"{1 + day % 12:02d}/{1 + day % 28:02d}/{2015 + day % 9}"
    return [
        f"{when},Barn {day % 3},{sex},ML 1,{2 + (day + weight) % 40},{weight},{250 - weight / 5 + day % 7:.2f}"
        for sex in ("Steers", "Heifers")
        for weight in range(400, 800, 25)
    ]


def test_large_files_are_read_in_pieces_with_the_same_result(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lots = [
        f"{1 + day % 12:02d}/{1 + day % 28:02d}/{2015 + day % 9},Barn {day % 3},{sex},ML "
        f"1,{1 + day % 40},{weight},{250 - weight / 5 + day % 7:.2f}"
        for day in range(60)
        for sex in ("Steers", "Heifers")
        for weight in range(400, 800, 25)
    ]
    lots[50] = "Total,,,,900,,"
    lots[77] = "short,row"
    lots[90] = LOTS[0].replace("ML 1", "Holstein")
    path = lot_file(tmp_path / "a.csv", lots)
    whole = read(path)
    monkeypatch.setattr(large_files, "STREAM_BYTES", 1000)
    monkeypatch.setattr(large_files, "BLOCK_BYTES", 5_000)
    pieces = read(path)
    assert pieces.accepted == whole.accepted
    assert pieces.reasons == whole.reasons
    columns = [name for name in whole.records.columns if name != "flags"]
    assert pieces.records[columns].equals(whole.records[columns])
    book = SaleBook(tmp_path / "b.duckdb")
    assert book.add(pieces).added == whole.accepted
    assert book.add(whole).added == 0


def test_a_sale_told_again_far_below_is_found_in_pieces_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sales = [_lots(day) for day in range(50)]
    again = [*sales[3], *sales[40], sales[7][5]]  # two whole sales again, and one lot equal to another
    path = lot_file(tmp_path / "a.csv", [lot for sale in sales for lot in sale] + again)
    whole, pieces = _read_both_ways(path, monkeypatch)
    assert whole.reasons == {"duplicate": 64}
    _same_outcome(whole, pieces, tmp_path)


def test_class_averages_and_final_prices_far_apart_are_found_in_pieces_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [
        f"{lot},{float(lot.split(',')[-1]) - 4:.2f},{float(lot.split(',')[-1]) + 4:.2f},Final"
        for day in range(40)
        for lot in _lots(day)
    ]
    early = rows[9].replace("Final", "Preliminary").replace(rows[9].split(",")[6], "151.00")
    early = ",".join([*early.split(",")[:6], "151.00", "147.00", "155.00", "Preliminary"])
    heading = f"{HEADING},Low Price,High Price,Status"
    path = lot_file(tmp_path / "a.csv", [early, *rows, rows[1], rows[1], rows[77]], heading)
    whole, pieces = _read_both_ways(path, monkeypatch)
    assert whole.reasons == {"duplicate": 3, "superseded": 1}
    _same_outcome(whole, pieces, tmp_path)


def test_a_lot_corrected_far_below_by_its_number_is_found_in_pieces_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [f"T{day}-{at},{lot}" for day in range(40) for at, lot in enumerate(_lots(day))]
    cells = rows[9].split(",")
    again = [",".join([*cells[:-1], "263.10"]), ",".join(["T9-777", *cells[1:-1], "264.20"])]
    path = lot_file(tmp_path / "a.csv", [*rows, *again], f"Lot,{HEADING}")
    whole, pieces = _read_both_ways(path, monkeypatch)
    assert whole.reasons == {"superseded": 1} and whole.set_aside["row"].tolist() == [11]
    assert [note for each in (whole, pieces) for note in each.notes if "by the same number" in note] == [
        "a.csv: 1 lot stands again further down by the same number with another price; the last one counts"
    ] * 2
    _same_outcome(whole, pieces, tmp_path)


def test_numbers_that_stand_again_in_one_sale_are_no_lot_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [f"{at % 12},{lot}" for day in range(40) for at, lot in enumerate(_lots(day))]
    cells = rows[9].split(",")
    path = lot_file(tmp_path / "a.csv", [*rows, ",".join([*cells[:-1], "263.10"])], f"Lot,{HEADING}")
    whole, pieces = _read_both_ways(path, monkeypatch)
    assert whole.reasons == pieces.reasons == {}


def test_many_rows_set_aside_lie_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [
        lot if number % 3 else lot.replace("ML 1", "Holstein") for number, lot in enumerate(_lots(1) * 20)
    ]
    path = lot_file(tmp_path / "a.csv", [row.replace("Barn 1", f"Barn {at}") for at, row in enumerate(rows)])
    whole = read(path)
    monkeypatch.setattr(result, "ASIDE_ROWS", 50)
    spilled, pieces = _read_both_ways(path, monkeypatch)
    assert len(pieces.aside[0].on_disk) >= 2 and len(spilled.aside[0].on_disk) == 1
    assert pieces.first_aside(3)["reason"].tolist() == ["dairy"] * 3
    _same_outcome(whole, pieces, tmp_path)


def test_records_on_the_disk_and_in_memory_go_into_one_book(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = lot_file(tmp_path / "a.csv", [lot for day in range(40) for lot in _lots(day)] + _lots(3))
    whole = read(path)
    monkeypatch.setattr(result, "SPOOL_ROWS", 700)
    _, pieces = _read_both_ways(path, monkeypatch)
    held = pieces.parts[0].spool
    assert held.on_disk and held._frames
    _same_outcome(whole, pieces, tmp_path)
