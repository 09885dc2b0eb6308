"""Two columns that may be one field, and headings left out that may tell a field: asked, unless the headings decide."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.read import read

TODAY = date(2026, 11, 26)


def lots(folder: Path, heading: str, *rows: str, title: str = "") -> Path:
    """Write a small list of lots."""
    path = folder / "lots.csv"
    path.write_text("\n".join([*([title] if title else []), heading, *rows]) + "\n")
    return path


CHECKS = (
    "Date,Ring day,Class,Hd,Wt,Cwt",
    "10/12/2026,10/9/2026,Steer,18,556,389.75",
    "10/12/2026,10/9/2026,Heifer,12,511,375.00",
    "10/19/2026,10/16/2026,Steer,14,488,411.00",
)


def test_two_columns_of_days_are_asked_about_and_either_answer_is_kept(tmp_path: Path) -> None:
    path = lots(tmp_path, *CHECKS)
    with pytest.raises(QuestionError, match="two columns may be the day of the sale"):
        read(path, today=TODAY)
    ring, written = (
        read(path, today=TODAY, mapping={name: "date"}).records["sale_date"].dt.day.tolist()
        for name in ("Ring day", "Date")
    )
    assert (ring, written) == ([9, 9, 16], [12, 12, 19])


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("Sale date,Class,Hd,Wt,Price,Bargained", "price"),
        ("Sale date,Class,Hd,Wt,Price,Mid Wt", "weight"),
        ("Sale date,Class,Hd,Wt,Price,Headed", "head"),
    ],
)
def test_an_unknown_column_like_a_known_one_is_asked_about(tmp_path: Path, heading: str, field: str) -> None:
    other = {"price": (380, 371.5, 402), "weight": (560, 512, 490), "head": (18, 11, 14)}[field]
    rows = (
        "10/9/2026,Steer,18,556,389.75",
        "10/9/2026,Heifer,12,511,375.00",
        "10/9/2026,Steer,14,488,411.00",
    )
    path = lots(tmp_path, heading, *(f"{row},{each}" for row, each in zip(rows, other, strict=True)))
    with pytest.raises(QuestionError, match=f"two columns may be the {field}"):
        read(path, today=TODAY)
    new = heading.rsplit(",", 1)[1]
    kept = read(path, today=TODAY, mapping={new: "unused"}).records
    assert kept["price_cwt"].tolist() == [389.75, 375.0, 411.0]


@pytest.mark.parametrize("heading", ["Floor price", "Last sale", "Price index (1997=100)", "Basis"])
def test_headings_of_another_occasion_or_size_ask_nothing(tmp_path: Path, heading: str) -> None:
    cells = ("-4.5", "-3", "-2.25") if heading == "Basis" else ("380", "371.5", "402")
    rows = (
        "10/9/2026,Steer,18,556,389.75",
        "10/9/2026,Heifer,12,511,375.00",
        "10/9/2026,Steer,14,488,411.00",
    )
    path = lots(
        tmp_path, f"Date,Class,Hd,Wt,Price,{heading}", *(f"{r},{c}" for r, c in zip(rows, cells, strict=True))
    )
    assert read(path, today=TODAY).records["price_cwt"].tolist() == [389.75, 375.0, 411.0]


def test_a_column_left_out_is_asked_about_where_it_may_tell_what_nothing_else_does(tmp_path: Path) -> None:
    rows = ("11,Steers,44,532,395.75", "11,Heifers,31,508,375.75", "13,Steers,60,561,384.50")
    title = "Week 1 is the week beginning July 6 2026"
    path = lots(tmp_path, "Mktg Wk,Sex,Head,Wt,Price", *rows, title=title)
    with pytest.raises(QuestionError, match=r"'Mktg Wk' .* may tell it"):
        read(path, today=TODAY)
    path = lots(tmp_path, "Date,Sex,Bunch,Wt,Price", *(f"10/9/2026,{row.split(',', 1)[1]}" for row in rows))
    with pytest.raises(QuestionError, match="no column of head was recognized"):
        read(path, today=TODAY)
    assert read(path, today=TODAY, mapping={"Bunch": "head"}).records["head"].tolist() == [44, 31, 60]


def test_hidden_columns_and_struck_cells_of_a_workbook_are_not_read(tmp_path: Path) -> None:
    import openpyxl
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        ("Date", "Class", "Hd", "Wt", "Price", "Price"),
        ("10/9/2026", "Steer", 18, 556, 380, 389.75),
        ("10/9/2026", "Heifer", 12, 511, 371.5, 375),
        ("10/9/2026", "Steer", 14, 488, 402, 411),
    ):
        sheet.append(row)
    sheet.column_dimensions["E"].hidden = True
    for cell in sheet[3]:
        cell.font = Font(strike=True)
    book.save(tmp_path / "a.xlsx")
    found = read(tmp_path / "a.xlsx", today=TODAY)
    assert found.records["price_cwt"].tolist() == [389.75, 411.0]
    assert dict(found.reasons) == {"hidden_row": 1}
    assert sum(part in note for note in map(str, found.notes) for part in (": E", "struck through")) == 2


def test_struck_text_and_hidden_rows_of_a_page_are_not_read(tmp_path: Path) -> None:
    rows = ("<td>Steers</td><td>14</td><td>548</td><td><del>391.25</del> <ins>371.25</ins></td>",)
    hidden = "<tr style='display:none'><td>Steers</td><td>9</td><td>555</td><td>444.00</td></tr>"
    page = f"<h1>Sale of 10/9/2026</h1><table><tr><th>Class<th>Head<th>Wt (lb)<th>$/cwt</tr>{hidden}"
    (tmp_path / "a.htm").write_text(page + "".join(f"<tr>{row}</tr>" for row in rows) + "</table>")
    found = read(tmp_path / "a.htm", today=TODAY)
    assert found.records[["head", "price_cwt"]].to_numpy().tolist() == [[14.0, 371.25]]
    assert dict(found.reasons) == {"hidden_row": 1}


def test_cells_of_weight_at_price_and_head_are_three_columns(tmp_path: Path) -> None:
    rows = (
        "Date,Steers,Heifers",
        "10/9/2026,429 @ 381.75 (12),411 @ 358.00 (26)",
        "10/16/2026,566 @ 336.75 (35),none",
    )
    path = lots(tmp_path, *rows)
    found = read(path, today=TODAY).records
    assert found[["head", "weight_lb", "price_cwt"]].to_numpy().tolist() == [
        [12.0, 429.0, 381.75],
        [26.0, 411.0, 358.0],
        [35.0, 566.0, 336.75],
    ]


def test_a_title_and_a_key_in_json_are_no_columns(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    lot = '{"sale_date": "2026-10-09", "cls": "%s", "hd": %d, "wt": %d, "price": %s}'
    rows = ", ".join(
        lot % row for row in (("FS", 18, 556, 389.75), ("FH", 12, 511, 375.0), ("FS", 14, 488, 411.0))
    )
    key = '"FS": "feeder steers", "FH": "feeder heifers"'
    path.write_text(f'{{"title": "Calf sales", "key": {{{key}}}, "lots": [{rows}]}}')
    assert read(path, today=TODAY).records["sex"].tolist() == ["steer", "heifer", "steer"]


@pytest.mark.parametrize(("days", "asked"), [(5, True), (4, False)])
def test_a_column_of_days_and_words_beside_a_titled_day_is_asked_about(
    tmp_path: Path, days: int, asked: bool
) -> None:
    cells = [f"10/{day:02d}/2026" for day in range(1, 1 + days)]
    cells += [f"fee {at}" for at in range(8 - days)]
    rows = [f"{cell},Steers,12,{500 + 10 * at},{390 - at}.50" for at, cell in enumerate(cells)]
    path = lots(tmp_path, "Bought,Class,Head,Avg Wt,Price", *rows, title="Statement of 11/20/2026,,,,")
    if asked:
        with pytest.raises(QuestionError, match="'Bought'"):
            read(path, today=TODAY)
        assert read(path, mapping={"Bought": "date"}, today=TODAY).accepted == days
    else:
        assert read(path, today=TODAY).accepted == 8


def test_letters_beside_one_that_is_no_class_are_none_and_reversals_take_lots_back(tmp_path: Path) -> None:
    rows = (
        "S,10/9/2026,STR,15,8250,391.75",
        "S,10/9/2026,BUL,6,3132,385.50",
        "R,10/9/2026,STR,-15,-8250,391.75",
    )
    path = lots(tmp_path, "Type,Date,Class,Head,Lot Lbs,Cwt", *rows, "S,10/9/2026,HFR,12,6180,369.50")
    found = read(path, today=TODAY)
    assert found.records["sex"].tolist() == ["bull", "heifer"] and dict(found.reasons) == {"superseded": 2}


def test_trade_codes_of_units_and_of_sold_or_not_are_read_row_by_row(tmp_path: Path) -> None:
    """LBR and KGM are codes of UN/ECE Recommendation 20."""
    rows = (
        "10/9/2026,steer,14,552,LBR,388.00,USD/100LBR,sold",
        "10/9/2026,steer,22,274,KGM,8.229,USD/KGM,sold",
    )
    path = lots(
        tmp_path,
        "Date,cls,n,wt_mean,wt_uom,px,px_uom,state",
        *rows,
        "10/9/2026,steer,9,500,LBR,3.9,USD/LBR,passed_in",
    )
    found = read(path, today=TODAY)
    assert found.records["weight_lb"].round(1).tolist() == [552.0, 604.1]
    assert found.records["price_cwt"].round(1).tolist() == [388.0, 373.3]
    assert dict(found.reasons) == {"missing_price": 1}


@pytest.mark.parametrize(
    "heading",
    [
        "report_date,Yard,Class,Head,Wt,Price,report_end_date,Average",
        "Date,Yard,Class,Head,Wt,Price,Printed,5-yr price",
    ],
)
def test_an_end_of_a_report_and_an_average_of_years_raise_no_question(heading: str, tmp_path: Path) -> None:
    rows = [f"10/9/2026,Alder Ford,Steers,12,{550 + at},{390 - at},10/8/2026,{210 + at}" for at in range(4)]
    assert read(lots(tmp_path, heading, *rows), today=TODAY).accepted == 4


@pytest.mark.parametrize(("low", "asks"), [(("381.00", "362.00"), False), (("395.00", "362.00"), True)])
def test_the_lowest_and_the_highest_of_every_row_are_no_rivals_of_its_mean(
    low: tuple[str, str], asks: bool, tmp_path: Path
) -> None:
    heading = "Date,Class,Hd,Wt,Price,Tiefst,Höchst"
    rows = (
        f"10/12/2026,Steer,18,556,389.75,{low[0]},397.50",
        f"10/12/2026,Heifer,12,511,375.00,{low[1]},384.25",
    )
    path = lots(tmp_path, heading, *rows)
    if asks:
        with pytest.raises(QuestionError, match="two columns may be the price"):
            read(path, today=TODAY)
    else:
        assert read(path, today=TODAY).records["price_cwt"].tolist() == [389.75, 375.0]


def test_a_shrink_beside_a_weight_is_asked_about_and_taken_off_only_when_said(tmp_path: Path) -> None:
    rows = (
        "10/12/2026,Steer,18,500,2%,389.75",
        "10/12/2026,Heifer,12,511,,375",
        "10/12/2026,Steer,9,540,60,360",
    )
    path = lots(tmp_path, "Date,Class,Hd,Scale wt,Pencil shrink,Price", *rows)
    with pytest.raises(QuestionError, match="before or after the shrink 'Pencil shrink'"):
        read(path, today=TODAY)
    paid, taken = (
        read(path, today=TODAY, mapping={"Pencil shrink": field}) for field in ("unused", "shrink")
    )
    assert paid.records["weight_lb"].tolist() == [500, 511, 540]
    assert taken.records["weight_lb"].tolist() == [490, 511] and taken.reasons == {"missing_weight": 1}
    for heading, cells in (("Pay wt", "2"), ("Scale wt", "0")):
        path = lots(tmp_path, f"Date,Class,Hd,{heading},Shrink,Price", f"10/12/2026,Steer,18,500,{cells},390")
        assert read(path, today=TODAY).records["weight_lb"].tolist() == [500]


def test_a_file_whose_grades_are_numbers_and_has_no_head_was_cut_wrongly(tmp_path):
    path = tmp_path / "a.csv"
    rows = "".join(
        f"{cell},{500 + 20 * row},3{row}0.25\n" for row, cell in enumerate(("Med 1", "12", "7", "Med 2"))
    )
    path.write_text(f"Basin Sale Barn Oct 7 2026\nSteers\nGrade,Wt,Price\n{rows}")
    with pytest.raises(RecordsError, match="2 of 4 cells of the grade 'Grade' are numbers"):
        read(path)
