"""Reading files: plain errors, encodings, units, folders and archives, dry account."""

from __future__ import annotations

import gzip
import io
import zipfile
from datetime import date
from pathlib import Path

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.read import read
from slidefit.records.reading import sources
from tests.records.sale_files import HEADING, LOTS, lot_file


@pytest.mark.parametrize(
    ("name", "content", "word"),
    [
        ("empty.csv", b"", "empty"),
        ("blank.csv", b"\n  \n\n", "empty"),
        ("noise.csv", bytes(range(256)) * 40, "neither text nor"),
        ("report.pdf", b"%PDF-1.7 and so on", "PDF"),
        (
            "no_price.csv",
            b"Sale Date,Sex,Head,Weight\n1/2/2020,Steer,4,500\n1/9/2020,Steer,4,510\n",
            "no column of price.*Sale Date, Sex",
        ),
        (
            "no_weight.csv",
            b"Sale Date,Sex,Head,Price\n1/2/2020,Steer,4,150\n1/9/2020,Steer,4,151\n",
            "no column of weight",
        ),
        ("no_date.csv", b"Market,Sex,Weight,Price\nA,Steer,500,150\nA,Steer,510,151\n", "no date of sale"),
        ("words.txt", b"There was no sale this week.", "no table and no market report"),
        ("bad.json", b'{"results": [', "no JSON"),
        ("bad.gz", b"\x1f\x8b\x08\x00broken", "damaged"),
        ("bad.zip", b"PK\x03\x04broken", "damaged"),
        ("bad.parquet", b"PAR1 broken PAR1", "Parquet"),
        ("bad.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 broken", "workbook can't be read"),
    ],
)
def test_a_file_that_cant_be_read_says_why(tmp_path: Path, name: str, content: bytes, word: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(RecordsError, match=word) as told:
        read(path)
    assert name.split(".")[0] in told.value.text()


def test_missing_files_and_empty_folders_are_told(tmp_path: Path) -> None:
    with pytest.raises(RecordsError, match="no such file"):
        read(tmp_path / "none.csv")
    with pytest.raises(RecordsError, match="holds no file"):
        read(tmp_path)


def test_an_unknown_heading_is_mapped(tmp_path: Path) -> None:
    path = lot_file(tmp_path / "a.csv", heading=HEADING.replace("Price $/cwt", "Mystery"))
    with pytest.raises(RecordsError, match=r"mapping='Mystery=price'"):
        read(path)
    result = read(path, mapping={"Mystery": "price_cwt"}, price_unit="$/cwt")
    assert result.accepted == 7
    with pytest.raises(RecordsError, match="not a field"):
        read(path, mapping={"Mystery": "nonsense"})
    with pytest.raises(RecordsError, match="price_unit"):
        read(path, price_unit="bushel")


def test_a_folder_is_read_file_by_file(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    (folder / "deep").mkdir(parents=True)
    lot_file(folder / "a.csv", LOTS[:3])
    with gzip.open(folder / "deep" / "b.csv.gz", "wt") as file:
        file.write("\n".join([HEADING, *LOTS[3:]]))
    (folder / "notes.txt").write_text("Nothing was sold.")
    (folder / ".hidden.csv").write_text("x")
    result = read(folder)
    assert result.accepted == 7
    assert any("notes.txt" in note for note in result.notes)


def test_archives_that_swell_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sources, "RATIO_FROM_BYTES", 1 << 16)
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", b"0" * (1 << 22))
    (tmp_path / "bomb.zip").write_bytes(inner.getvalue())
    (tmp_path / "bomb.csv.gz").write_bytes(gzip.compress(b"0" * (1 << 22)))
    nested = inner.getvalue()
    for _ in range(3):
        outer = io.BytesIO()
        with zipfile.ZipFile(outer, "w") as archive:
            archive.writestr("in.zip", nested)
        nested = outer.getvalue()
    (tmp_path / "nested.zip").write_bytes(nested)
    for name, word in (("bomb.zip", "unpacks"), ("bomb.csv.gz", "unpacks"), ("nested.zip", "archive inside")):
        with pytest.raises(RecordsError, match=word):
            read(tmp_path / name)


def test_absurdly_many_columns_are_cut(tmp_path: Path) -> None:
    wide = ",".join(f"c{place}" for place in range(50_000))
    path = tmp_path / "a.csv"
    path.write_text(f"{HEADING},{wide}\n{LOTS[0]}\n")
    assert read(path).accepted == 1


def test_progress_counts_rows(tmp_path: Path) -> None:
    seen: list[int] = []
    read(lot_file(tmp_path / "a.csv"), progress=seen.append)
    assert seen == [7]


def test_a_hidden_sheet_or_a_formula_never_runs(tmp_path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        HEADING.split(","),
        LOTS[0].split(","),
        ['=WEBSERVICE("http://x.invalid")', *LOTS[1].split(",")[1:]],
    ):
        sheet.append(row)
    book.save(tmp_path / "a.xlsx")
    result = read(tmp_path / "a.xlsx")
    assert (result.accepted, result.reasons) == (1, {"missing_date": 1})
    with pytest.raises(RecordsError, match="no sheet named"):
        read(tmp_path / "a.xlsx", sheet="nothing")


def test_questions_that_follow_from_the_suggested_answers_are_asked_with_the_first(tmp_path: Path) -> None:
    path = tmp_path / "lots.csv"
    rows = (
        "10/12/2026,Rook Hill,Steers,18,556,$2167/hd",
        "10/12/2026,Rook Hill,Heifers,12,511,$1916/hd",
    )
    path.write_text("\n".join(["Date,Barn nmae,Class,Quanity,Wt,Price", *rows]) + "\n")
    with pytest.raises(QuestionError) as asked:
        read(path, today=date(2026, 11, 26))
    told = str(asked.value.remedy)
    assert "Quanity=head" in told and "price_unit='$/head'" in told
    assert [text for text, _, _ in asked.value.values["headings"]] == ["Barn nmae", "Quanity"]
    answers = {text: field for text, field, _ in asked.value.values["headings"]}
    assert read(path, mapping=answers, price_unit="$/head", today=date(2026, 11, 26)).accepted == 2
