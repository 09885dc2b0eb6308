"""Workbooks by what is filled: merged blocks, hidden rows and sheets, far cells, and the limits told in words."""

from __future__ import annotations

import time
import zipfile
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
import xlrd

from slidefit.errors import RecordsError
from slidefit.records.read import read
from slidefit.records.reading import spreadsheets

ROWS = [
    ["Sale Date", "Market", "Sex", "Head", "Avg Wt", "Price $/cwt"],
    [date(2026, 10, 6), "Fen Gate", "Steers", 12, 512, 251.25],
    [date(2026, 10, 6), "Fen Gate", "Steers", 9, 540, 247.5],
    [date(2026, 10, 6), "Fen Gate", "Heifers", 14, 498, 228.0],
]


def workbook(path: Path) -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    for row in ROWS:
        book.active.append(row)
    book.save(path)
    return book


def test_a_row_hidden_by_a_filter_is_set_aside(tmp_path: Path) -> None:
    book = workbook(tmp_path / "a.xlsx")
    book.active.auto_filter.ref = "A1:F4"
    book.active.row_dimensions[3].hidden = True
    book.save(tmp_path / "a.xlsx")
    result = read(tmp_path / "a.xlsx")
    assert result.reasons == {"hidden_row": 1} and result.records["head"].tolist() == [12.0, 14.0]
    assert result.set_aside["row"].tolist() == [3]


@pytest.mark.parametrize("filled", [False, True])
def test_a_far_cell_costs_nothing(tmp_path: Path, filled: bool) -> None:
    book = workbook(tmp_path / "a.xlsx")
    cell = book.active.cell(row=1_048_576, column=16_384 if not filled else 1)
    cell.number_format = "0.00"
    if filled:
        cell.value = "made by hand"
    book.save(tmp_path / "a.xlsx")
    start = time.process_time()
    assert read(tmp_path / "a.xlsx").accepted == 3
    assert time.process_time() - start < 2.0


def test_a_merged_block_fills_the_rows_that_hold_anything(tmp_path: Path) -> None:
    book = workbook(tmp_path / "a.xlsx")
    for row in (3, 4):
        book.active.cell(row=row, column=2).value = None
    book.active.merge_cells("B2:B5000")
    book.save(tmp_path / "a.xlsx")
    assert read(tmp_path / "a.xlsx").records["market"].tolist() == ["Fen Gate"] * 3


def test_too_many_cells_and_too_large_sheets_are_refused_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    workbook(tmp_path / "a.xlsx")
    monkeypatch.setattr(spreadsheets, "MOST_CELLS", 24)
    assert read(tmp_path / "a.xlsx").accepted == 3
    monkeypatch.setattr(spreadsheets, "MOST_CELLS", 23)
    with pytest.raises(RecordsError, match=r"a\.xlsx: the sheets hold more than 23 filled cells"):
        read(tmp_path / "a.xlsx")
    monkeypatch.setattr(spreadsheets, "MOST_SHEET_BYTES", 1000)
    with pytest.raises(RecordsError, match="the sheets unpack to"):
        read(tmp_path / "a.xlsx")


# the elements are those of OpenDocument 1.3, part 3 (OASIS), sections 9 and 19
ODS = """<?xml version="1.0"?><office:document-content {spaces}><office:automatic-styles>
<style:style style:name="unseen" style:family="table"><style:table-properties table:display="false"/></style:style>
</office:automatic-styles><office:body><office:spreadsheet>
<table:table table:name="Sheet1">
<table:table-row>{head}<table:table-cell table:number-columns-repeated="16378"/></table:table-row>
<table:table-row>{sale}<table:table-cell table:number-rows-spanned="2" office:value-type="string">
<text:p>Fen<text:s/>Gate</text:p></table:table-cell><table:table-cell office:value-type="string">
<office:annotation><text:p>a note</text:p>
</office:annotation><text:p>Steers</text:p></table:table-cell>{first}</table:table-row>
<table:table-row>{sale}<table:covered-table-cell/><table:table-cell office:value-type="string"><text:p>Heifers</text:p>
</table:table-cell>{second}</table:table-row>
<table:table-row table:visibility="filter">{sale}<table:table-cell office:value-type="string"><text:p>Fen Gate</text:p>
</table:table-cell><table:table-cell office:value-type="string"><text:p>Steers</text:p></table:table-cell>{third}
</table:table-row><table:table-row table:number-rows-repeated="1048000"><table:table-cell/></table:table-row>
</table:table><table:table table:name="Draft" table:style-name="unseen"><table:table-row>{head}</table:table-row>
</table:table></office:spreadsheet></office:body></office:document-content>"""


def ods(path: Path, before: str = "") -> Path:
    names = ("office", "table", "text", "style")
    spaces = " ".join(f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in names)

    def numbers(*values: float) -> str:
        head, weight, price = values
        plain = '<table:table-cell office:value-type="float" office:value="{}"/>'
        money = '<table:table-cell office:value-type="currency" office:currency="CAD" office:value="{}"/>'
        return plain.format(head) + plain.format(weight) + money.format(price)

    content = ODS.format(
        spaces=spaces,
        head="".join(
            f'<table:table-cell office:value-type="string"><text:p>{text}</text:p></table:table-cell>'
            for text in ROWS[0]
        ),
        sale='<table:table-cell office:value-type="date" office:date-value="2026-10-06T00:00:00"/>',
        first=numbers(12, 512, 251.25),
        second=numbers(14, 498, 228),
        third=numbers(9, 540, 247.5),
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(
            "content.xml", content.replace("<office:document-content", before + "<office:document-content")
        )
    return path


def test_an_opendocument_sheet_is_read_with_its_blocks_hidden_rows_and_hidden_sheets(tmp_path: Path) -> None:
    result = read(ods(tmp_path / "a.ods"))
    assert result.records["market"].tolist() == ["Fen Gate"] * 2
    assert result.records["sex"].tolist() == ["steer", "heifer"]
    assert result.records["price_cwt"].tolist() == [251.25, 228.0] and set(result.records["currency"]) == {
        "CAD"
    }
    assert {str(day.date()) for day in result.records["sale_date"]} == {"2026-10-06"}
    assert result.reasons == {"hidden_row": 1}
    assert any("Draft" in note for note in result.notes)


def test_an_opendocument_sheet_with_entities_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordsError, match="defines entities"):
        read(ods(tmp_path / "a.ods", '<!DOCTYPE x [<!ENTITY a "b">]>'))


def test_a_hidden_row_of_an_old_workbook_is_set_aside(monkeypatch: pytest.MonkeyPatch) -> None:
    opened = xlrd.open_workbook

    def hiding(**given: object) -> object:
        book = opened(**given)
        book.sheet_by_index(0).rowinfo_map[1] = SimpleNamespace(hidden=1)
        return book

    path = Path(__file__).parents[1] / "odd" / "dates1904.xls"
    assert read(path, today=date(2026, 10, 1)).reasons == {"missing_price": 1}
    monkeypatch.setattr(xlrd, "open_workbook", hiding)
    assert read(path, today=date(2026, 10, 1)).reasons["hidden_row"] == 1
