"""The comparison as a workbook: the numbers come back, and nothing in it runs."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime

import openpyxl
import pytest
from example_comparison import a_comparison
from example_market import an_outlook

from slidefit.errors import OutputError
from slidefit.report.take_home.workbook import comparison_workbook, write_workbook


@pytest.fixture(scope="module")
def book():
    data = comparison_workbook(a_comparison(), an_outlook())
    return openpyxl.load_workbook(io.BytesIO(data))


def table(sheet):
    rows = sheet.iter_rows(values_only=True)
    heading = next(rows)
    return [dict(zip(heading, row, strict=True)) for row in rows]


def test_every_choice_is_a_row_of_numbers(book):
    comparison = a_comparison()
    rows = table(book["Choices"])
    assert len(rows) == sum(len(group.keep) + 1 for group in comparison.groups)
    option = comparison.groups[0].keep[0]
    row = next(r for r in rows if r["Program"] == option.program)
    assert row["Group"] == comparison.groups[0].group
    assert row["Gain over selling now, $ a head"] == option.gain_per_head
    assert row["Odds of beating selling now"] == option.odds
    assert row["Sold"] == datetime(option.sale_date.year, option.sale_date.month, option.sale_date.day)


def test_one_choice_of_each_group_is_marked_best(book):
    marked = [row["Group"] for row in table(book["Choices"]) if row["Best choice"]]
    assert sorted(marked) == sorted(group.group for group in a_comparison().groups)


def test_budget_lines_come_back_and_lines_add_up_to_their_total(book):
    comparison = a_comparison()
    option = comparison.groups[0].keep[0]
    sold = datetime(option.sale_date.year, option.sale_date.month, option.sale_date.day)
    mine = [
        row for row in table(book["Budgets"])
        if (row["Group"], row["Choice"], row["Sold"]) == (comparison.groups[0].group, option.program, sold)
    ]  # fmt: skip
    assert [row["Line"] for row in mine] == [line.label for line in option.lines]
    parts = sum(row["$ a head"] for row in mine if row["Kind"] != "total")
    total = next(row for row in mine if row["Kind"] == "total")
    assert parts == pytest.approx(total["$ a head"])
    assert total["$ in all"] == pytest.approx(total["$ a head"] * option.head_kept)


def test_a_name_like_a_formula_stays_text():
    comparison = a_comparison()
    name = '=HYPERLINK("http://x.example","pay")'
    first = replace(comparison.groups[0], group=name)
    data = comparison_workbook(replace(comparison, groups=(first, *comparison.groups[1:])), an_outlook())
    sheets = openpyxl.load_workbook(io.BytesIO(data))
    cells = [cell for sheet in sheets for row in sheet.iter_rows() for cell in row]
    assert any(cell.value == name for cell in cells)
    assert "f" not in {cell.data_type for cell in cells}


def test_it_says_what_it_rests_on_and_what_is_left_out(book):
    comparison = a_comparison()
    words = " ".join(str(row[0]) for row in book["Basis"].iter_rows(values_only=True))
    assert comparison.source in words and all(each in words for each in comparison.left_out)
    answer = " ".join(str(row[0]) for row in book["Answer"].iter_rows(values_only=True))
    assert all(caution in answer for caution in comparison.cautions)


def test_another_ending_is_refused_and_nothing_is_written(tmp_path):
    with pytest.raises(OutputError, match="xlsx"):
        write_workbook(a_comparison(), an_outlook(), tmp_path / "answer.xls")
    assert list(tmp_path.iterdir()) == []
