"""Files, folders and archives; encodings; the likely number of rows."""

from __future__ import annotations

import gzip
import io
import zipfile
from email.message import EmailMessage
from pathlib import Path

import pytest

from slidefit.errors import RecordsError
from slidefit.records.reading.sources import Source, decoded, encoding_of, expected_rows, sources


def packed(**files: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return held.getvalue()


def test_a_folder_gives_its_records_in_order_and_passes_over_other_files(tmp_path: Path) -> None:
    (tmp_path / "b.csv.gz").write_bytes(gzip.compress(b"b"))
    (tmp_path / "a.zip").write_bytes(packed(**{"in/two.csv": b"2", "in/one.csv": b"1", ".hidden": b"h"}))
    for name in (".c.csv", "~$d.xlsx", "photo.JPG", "sales.duckdb"):
        (tmp_path / name).write_bytes(b"no")
    found = [(each.name, each.content()) for each in sources([tmp_path])]
    assert found == [("a.zip/one.csv", b"1"), ("a.zip/two.csv", b"2"), ("b.csv", b"b")]


def test_archives_open_two_deep(tmp_path: Path) -> None:
    inner = packed(**{"c.csv": b"x"})
    (tmp_path / "a.zip").write_bytes(packed(**{"b.zip": inner}))
    assert [each.name for each in sources([tmp_path / "a.zip"])] == ["a.zip/b.zip/c.csv"]
    (tmp_path / "a.zip").write_bytes(packed(**{"b.zip": packed(**{"c.zip": inner})}))
    with pytest.raises(RecordsError, match="archive inside an archive"):
        list(sources([tmp_path / "a.zip"]))


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"]
)
def test_text_comes_back_from_every_encoding(encoding: str) -> None:
    text = "Categoría,Peso\nnovillo,512\n" * 9
    assert decoded(text.replace("\n", "\r\n").encode(encoding), "a.csv") == text


def test_lines_of_two_programs_are_each_read_in_their_own_encoding() -> None:
    assert decoded("Peñasco\n".encode() + "Peñasco\n".encode("cp1252"), "a.csv") == "Peñasco\nPeñasco\n"
    assert encoding_of(b"\x01" + b"a" * 199, "a") == "utf-8"  # half a percent of control signs is passed over
    with pytest.raises(RecordsError, match="a: is neither text nor a spreadsheet"):
        encoding_of(b"\x01" + b"a" * 198, "a")


def test_the_likely_number_of_rows(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("10/03/2023,Fen,Steers,512,251.25\n" * 20_000)
    assert expected_rows([tmp_path / "a.csv"]) == pytest.approx(20_000, rel=0.01)
    (tmp_path / "a.xlsx").write_bytes(b"PK")
    assert expected_rows([tmp_path / "a.csv", tmp_path / "a.xlsx"]) is None
    assert Source("x", b"abc").content(2) == b"ab"


def test_a_mail_is_read_by_its_text_and_the_files_that_came_with_it(tmp_path: Path) -> None:
    mail = EmailMessage()
    mail["Subject"], mail["Date"] = "Rook Hill", "Thu, 08 Oct 2026 20:31:07 -0600"
    mail.set_content("12 steers – 550 lbs\n")
    path = tmp_path / "mail.eml"
    path.write_bytes(bytes(mail))
    assert [(each.name, each.content().decode()) for each in sources([path])] == [
        ("mail.eml", "Subject: Rook Hill\nSent: Thu, 08 Oct 2026 20:31:07 -0600\n\n12 steers – 550 lbs\n")
    ]
    mail.add_attachment(b"Class,Hd\n", maintype="text", subtype="csv", filename="lots.csv")
    path.write_bytes(bytes(mail))
    assert [each.name for each in sources([path])] == ["mail.eml/mail", "mail.eml/lots.csv"]
    assert [each.content() for each in sources([path])][1] == b"Class,Hd\n"


def test_a_mail_whose_plain_text_only_points_to_its_page_is_read_by_the_page(tmp_path: Path) -> None:
    mail = EmailMessage()
    mail.set_content("This message needs an HTML reader.\n")
    mail.add_alternative("<p>12 steers 550 lbs 389.75</p><p>9 heifers 540 lbs 365.50</p>", subtype="html")
    path = tmp_path / "mail.eml"
    path.write_bytes(bytes(mail))
    (page,) = sources([path])
    assert page.content().startswith(b"<p>12 steers")
