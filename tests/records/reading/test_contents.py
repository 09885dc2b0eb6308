"""Limits on what one file may hold: a case on either side of each, and long cells in every kind of file."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pandas as pd
import pytest

from slidefit.errors import RecordsError
from slidefit.records import large_files
from slidefit.records.read import read
from slidefit.records.reading import contents
from slidefit.records.reading.tables import MOST_CELL

ROW = {
    "Sale Date": "11/03/2026",
    "Barn": "Fen",
    "Class": "Steers",
    "Head": "12",
    "Avg Wt": "520",
    "Price $/cwt": "245",
}
LIGHT = {**ROW, "Avg Wt": "450", "Price $/cwt": "260"}


def written(kind: str, rows: list[dict[str, str]]) -> bytes:
    frame = pd.DataFrame(rows)
    if kind == "parquet":
        sink = io.BytesIO()
        frame.to_parquet(sink)
        return sink.getvalue()
    if kind == "json":
        return json.dumps({"results": rows}).encode()
    if kind == "html":
        return frame.to_html().encode()
    return frame.to_csv(index=False, sep={"tsv": "\t"}.get(kind, ",")).encode()


@pytest.mark.parametrize("kind", ["csv", "tsv", "json", "parquet", "html", "stream"])
def test_a_long_cell_is_cut_and_its_row_set_aside(kind: str, tmp_path: Path, monkeypatch) -> None:
    if kind == "stream":
        monkeypatch.setattr(large_files, "STREAM_BYTES", 10)
    rows = [
        {**LIGHT, "Remarks": ""},
        {**ROW, "Remarks": "x" * MOST_CELL},
        {**ROW, "Remarks": "y" * (MOST_CELL + 1)},
    ]
    path = tmp_path / f"a.{kind}"
    path.write_bytes(written(kind, rows))
    result = read(path)
    assert result.accepted == 2 and result.reasons == {"too_long": 1}


def test_a_long_remark_in_a_report_is_cut_and_its_row_set_aside(tmp_path: Path) -> None:
    lines = [
        "Fen Livestock Auction, sale of 11/03/2026",
        "Steers",
        "Head  Wt Range  Avg Wt  Price Range  Avg Price",
    ]
    lines += [
        f"{head} 500-540 520 240.00-250.00 245.00 {'x' * size}" for head, size in ((5, 1_000), (6, 1_001))
    ]
    (tmp_path / "a.txt").write_text(
        "\n".join([*lines, "7 440-460 450 255.00-265.00 260.00"]), encoding="utf-8"
    )
    result = read(tmp_path / "a.txt")
    assert result.accepted == 2 and result.reasons == {"too_long": 1}


@pytest.mark.parametrize("over", [0, 1])
def test_the_longest_line(over: int, tmp_path: Path, monkeypatch) -> None:
    text = pd.DataFrame([ROW, LIGHT]).to_csv(index=False)
    monkeypatch.setattr(contents, "MOST_LINE", max(map(len, text.split("\n"))) - over)
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    if not over:
        assert read(tmp_path / "a.csv").accepted == 2
        return
    with pytest.raises(RecordsError, match=r"a\.csv: has a line of .* at most"):
        read(tmp_path / "a.csv")


def test_a_table_without_rows_is_no_sale(tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text("<table><thead></table>")
    with pytest.raises(RecordsError, match="no table and no market report"):
        read(path)


def test_commas_of_sentences_part_no_cells(tmp_path):
    text = "Steers, medium and large, no. 1\n13 head  420 lbs  442.00\n50 head  576 lbs  396.00\n"
    text += "24 head  637 lbs  375.50  weaned, 2 rounds\n"
    path = tmp_path / "a.txt"
    path.write_text(f"Basin Sale Barn\nSaturday, November 7, 2026 - 2,310 head\n\n{text}Prices per cwt.\n")
    assert read(path).records["head"].tolist()[:2] == [13, 50]


def test_a_sheet_of_codes_explains_those_of_the_others_and_names_of_sheets_are_places(tmp_path: Path) -> None:
    path, coded = tmp_path / "yards.xlsx", [("10/08/2026", 10, 9, 459 + at, 436.5 - at) for at in range(3)]
    with pd.ExcelWriter(path) as book:
        for name in ("Ash Flat", "Boone Mill"):
            rows = pd.DataFrame(
                [*coded, ("10/08/2026", 31, 4, 1198, 149.5)], columns=["Day", "Typ", "N", "MnWt", "MnPr"]
            )
            rows.to_excel(book, sheet_name=name, index=False)
        key = [("Typ 10", "Feeder steer"), ("Typ 31", "Slaughter cow"), ("MnWt", "Mean weight, lb")]
        pd.DataFrame(key, columns=["N", "Number of head"]).to_excel(book, sheet_name="Key", index=False)
    found = read(path)
    assert found.records["market"].value_counts().to_dict() == {"Ash Flat": 3, "Boone Mill": 3}
    assert set(found.records["sex"]) == {"steer"} and found.reasons == {"not_feeder": 2}
