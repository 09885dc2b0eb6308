"""Text of PDF reports; pages that are pictures, locked and damaged files are refused in words."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from pypdf import PdfReader, PdfWriter

from slidefit.errors import RecordsError
from slidefit.records.reading.pdf_text import MOST_PAGES, pdf_text

FOLDER = Path(__file__).parents[1] / "unmet"


def written(writer: PdfWriter) -> bytes:
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def test_columns_stay_apart() -> None:
    text = pdf_text((FOLDER / "pdf_table.pdf").read_bytes(), "a.pdf")
    assert "Steers" in text and "   " in text.split("\n")[2]


def test_a_scan_is_refused_in_words() -> None:
    with pytest.raises(RecordsError, match=r"pictures \(a scan\)"):
        pdf_text((FOLDER / "pdf_scanned.pdf").read_bytes(), "a.pdf")


def test_locked_damaged_and_endless_files_are_refused(caplog: pytest.LogCaptureFixture) -> None:
    writer = PdfWriter(clone_from=PdfReader(FOLDER / "pdf_list.pdf"))
    writer.encrypt("secret", algorithm="RC4-128")
    with pytest.raises(RecordsError, match="password"):
        pdf_text(written(writer), "a.pdf")
    whole = (FOLDER / "pdf_list.pdf").read_bytes()
    with pytest.raises(RecordsError, match="damaged"):
        pdf_text(whole[: len(whole) // 3], "a.pdf")
    assert not [line.message for line in caplog.records]  # of the library: what is wrong is told once, by us
    long = PdfWriter()
    for _ in range(MOST_PAGES + 1):
        long.add_blank_page(10, 10)
    with pytest.raises(RecordsError, match="pages"):
        pdf_text(written(long), "a.pdf")
