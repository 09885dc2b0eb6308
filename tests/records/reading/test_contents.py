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
from slidefit.records.reading import contents, json_records, web_tables
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


def test_spans_of_a_page_are_bounded(tmp_path: Path, monkeypatch) -> None:
    page = tmp_path / "a.html"
    page.write_bytes(written("html", [ROW, LIGHT]))
    monkeypatch.setattr(web_tables, "MOST_PAGE_CELLS", 21)
    assert read(page).accepted == 2
    monkeypatch.setattr(web_tables, "MOST_PAGE_CELLS", 20)
    with pytest.raises(RecordsError, match="more than 20 cells"):
        read(page)
    monkeypatch.undo()
    page.write_text("<table>" + '<tr><td colspan="9999" rowspan="9999">x</td></tr>' * 60, encoding="utf-8")
    with pytest.raises(RecordsError, match="more than 2,000,000 cells"):
        read(page)


@pytest.mark.parametrize(
    ("depth", "read_at_all"), [(json_records.MOST_DEPTH - 2, True), (64, False), (100_000, False)]
)
def test_lists_inside_one_another_are_bounded(depth: int, read_at_all: bool, tmp_path: Path) -> None:
    rows = json.dumps([ROW, LIGHT])
    (tmp_path / "a.json").write_text('{"a":' * depth + rows + "}" * depth, encoding="utf-8")
    if read_at_all:
        assert read(tmp_path / "a.json").accepted == 2
        return
    with pytest.raises(RecordsError, match=r"a\.json: (the document holds lists|is no JSON)"):
        read(tmp_path / "a.json")
