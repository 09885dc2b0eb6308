"""Tables of a web page: cells that reach over rows and columns, and how far."""

from __future__ import annotations

import pytest

from slidefit.errors import RecordsError
from slidefit.records.reading import web_tables
from slidefit.records.reading.web_tables import MOST_SPAN, html_grids


def cells(page: str) -> list[list[str]]:
    (grid,) = html_grids(page, "page.html")
    return [list(row) for row in grid.cells]


def test_a_cell_over_rows_and_columns_stands_in_each() -> None:
    """HTML Living Standard, 4.9.12: a cell takes up the slots of its colspan and rowspan."""
    page = "<h2>Sale of 10/3</h2><table><tr><th rowspan=2>Class<th colspan=2>500-550 lb<tr><th>Head<th>Price"
    page += "<tr><td>Steers<td>12<td>251.25<br>avg</table>"
    assert cells(page) == [
        ["Sale of 10/3"],
        ["Class", "500-550 lb", "500-550 lb"],
        ["Class", "Head", "Price"],
        ["Steers", "12", "251.25 avg"],
    ]


def test_signs_spaces_and_nonsense_spans() -> None:
    page = (
        "<table><tr><td colspan=x> M&amp;L&nbsp; 1 </td><td colspan=0>Hfrs</td><td rowspan=\u00b2>9</td></tr>"
    )
    assert cells(page) == [["M&L 1", "Hfrs", "9"]]
    assert len(cells(f"<table><tr><td colspan={MOST_SPAN + 1}>x</table>")[0]) == MOST_SPAN


def test_a_page_of_too_many_cells_names_file_and_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    row = "<tr><td rowspan=2>x</td><td>1</td></tr>"
    monkeypatch.setattr(web_tables, "MOST_PAGE_CELLS", 3)
    assert len(cells(f"<table>{row}</table>")) == 1
    monkeypatch.setattr(web_tables, "MOST_PAGE_CELLS", 2)
    with pytest.raises(RecordsError, match=r"page\.html: the tables .* more than 2 cells.*as CSV"):
        html_grids(f"<table>{row}</table>", "page.html")
    monkeypatch.setattr(web_tables, "MOST_PAGE_CELLS", MOST_SPAN**2 - 1)
    with pytest.raises(RecordsError, match="more than 39,999 cells"):
        html_grids('<table><tr><td colspan="9999" rowspan="9999">x</td></tr>', "page.html")


def test_items_of_lists_are_lines_and_those_in_a_cell_are_not() -> None:
    page = "<p>Steers</p><ul><li>400-450 lb: $436</li><li>450-500 lb: $417</li></ul>"
    page += "<dl><dt>Yard</dt><dd>Ash Flat</dd></dl>"
    assert html_grids(page, "a")[0].cells == [
        ["Steers"],
        ["400-450 lb: $436"],
        ["450-500 lb: $417"],
        ["Yard: Ash Flat"],
    ]
    cell = "<table><tr><td><ul><li>12 hd</li><li>steers</li></ul></td><td>436</td></tr></table>"
    assert [len(row) for row in html_grids(cell, "a")[0].cells] == [2]
