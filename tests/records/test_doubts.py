"""What a whole file shows against its reading is asked about or refused, on the right side of every limit."""

from __future__ import annotations

import math
import zipfile
from datetime import date
from pathlib import Path

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.doubts import FEWEST_PRICES, FEWEST_STRANGE, MOST_SCATTER, check_strange
from slidefit.records.read import read
from slidefit.records.result import ColumnMeaning

TODAY = date(2026, 11, 24)


def written(folder: Path, text: str, name: str = "run.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("kept", "strange", "fault"),
    [(29, FEWEST_STRANGE, ""), (28, FEWEST_STRANGE, "5 rows"), (2, 4, ""), (0, 9, "")],
)
def test_a_file_with_many_implausible_rows_is_refused(kept: int, strange: int, fault: str) -> None:
    columns = [ColumnMeaning("Hd", "price", "$/cwt", "")]
    reasons = {"implausible_price": strange - 1, "weight_inconsistent": 1, "dairy": 50}
    if not fault:
        check_strange(kept, reasons, columns, "a.csv")
        return
    with pytest.raises(RecordsError, match=rf"{fault} were set aside as implausible .*'Hd' as price"):
        check_strange(kept, reasons, columns, "a.csv")


@pytest.mark.parametrize(
    ("lots", "off", "refused"),
    [
        (FEWEST_PRICES, 1.1 * MOST_SCATTER, True),
        (FEWEST_PRICES, 0.9 * MOST_SCATTER, False),
        (FEWEST_PRICES - 2, 1.1 * MOST_SCATTER, False),
    ],
)
def test_prices_of_one_sale_that_scatter_are_columns_misread(
    lots: int, off: float, refused: bool, tmp_path: Path
) -> None:
    """Half of the lots lie above the usual slide and half below it, each by the same share of the price."""
    rows = [
        f"10/12/2026,Fen,Steer,9,{500 + 10 * lot},"
        f"{380 * math.exp(-0.09 * lot / 10 + (-1) ** lot * off / 1.4826):.2f}"
        for lot in range(lots)
    ]
    path = written(tmp_path, "\n".join(["Date,Barn,Class,Hd,Wt,Price", *rows]))
    if not refused:
        assert len(read(path, today=TODAY).records) == lots
        return
    with pytest.raises(RecordsError, match=r"differ by 2\d percent.*'Price' as price"):
        read(path, today=TODAY)


REPORT = """Kestrel Fork Livestock
{day}

Class,Hd,Wt,Price
Steers,12,505,402.50
Steers,9,610,371.00
Heifers,14,512,371.25
{below}
"""


@pytest.mark.parametrize(
    ("day", "below", "asked"),
    [
        ("October 10, 2026", "The calves were sold on Thursday October 8 in the ring", "2026-10-08"),
        ("October 10, 2026", "Next sale Thursday October 22", ""),
        ("October 10, 2026", "A special sale will be held on October 22", ""),
        ("October 10, 2026", "Compared with the sale of October 3", ""),
        ("October 10, 2026", "Sale of October 10", ""),
        ("October 10, 2026", "Dues are payable by October 3", ""),
        ("October 10, 2026", "Calf sales of Oct 26", ""),
    ],
)
def test_a_day_that_the_file_calls_one_of_sale_has_records(
    day: str, below: str, asked: str, tmp_path: Path
) -> None:
    path = written(tmp_path, REPORT.format(day=day, below=below))
    if not asked:
        assert set(read(path, today=TODAY).records["sale_date"].astype(str)) == {"2026-10-10"}
        return
    with pytest.raises(QuestionError, match="tells of a sale on 2026-10-08") as question:
        read(path, today=TODAY)
    assert question.value.values["sale_day"] == (asked,)
    settled = read(path, today=TODAY, sale_day=asked)
    assert set(settled.records["sale_date"].astype(str)) == {asked}


@pytest.mark.parametrize(("heads", "left", "asked"), [(5, True, True), (4, True, False), (5, False, False)])
def test_one_head_in_every_row_beside_numbers_left_over_is_asked_about(
    heads: int, left: bool, asked: bool, tmp_path: Path
) -> None:
    rows = [
        f"10/12/2026,Fen,Steer,{heads},{500 + lot},{380 - lot / 4:.2f},{7 + lot if left else 'ab'[lot % 2]}"
        for lot in range(heads)
    ]
    path = written(tmp_path, "\n".join(["Date,Barn,Class,Hd,Wt,Price,Zork", *rows]))
    if not asked:
        assert len(read(path, today=TODAY).records) == heads
        return
    with pytest.raises(QuestionError, match=r"the head is 5 in every row, and 'Zork' \(7, 8, 9\)"):
        read(path, today=TODAY)
    assert read(path, today=TODAY, mapping={"Zork": "head"}).records["head"].tolist() == [7, 8, 9, 10, 11]
    assert read(path, today=TODAY, mapping={"Zork": "unused"}).records["head"].tolist() == [5.0] * 5


LOTS = "Date,Class,Hd,Wt,Price\n10/12/2026,Steer,12,505,402.50\n10/12/2026,Heifer,9,510,371.00\n"


@pytest.mark.parametrize(
    ("name", "above", "offered"),
    [
        ("Antler_Ridge.csv", "", "Antler Ridge"),
        ("antler ridge 2026-10-12.csv", "", "Antler Ridge"),
        ("wt_lists.csv", "", ""),
        ("export_2026-10-12.csv", "", ""),
        ("lots.csv", "Wren Hatch\n\n", "Wren Hatch"),
    ],
)
def test_a_name_that_may_be_the_place_of_sale_is_offered(
    name: str, above: str, offered: str, tmp_path: Path
) -> None:
    path = written(tmp_path, above + LOTS, name)
    if not offered:
        (note,) = (note for note in read(path, today=TODAY).notes if "place" in note)
        assert note.endswith("no place of sale is named; it was left blank")
        return
    with pytest.raises(QuestionError, match=f"it may be {offered}") as question:
        read(path, today=TODAY)
    assert question.value.values["market"] == (offered,)
    assert set(read(path, today=TODAY, market="Home").records["market"]) == {"Home"}


def test_files_of_an_archive_bear_the_names_of_barns(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "october.zip", "w") as archive:
        archive.writestr("Antler Ridge.csv", LOTS)
        archive.writestr("Wren Prairie.csv", LOTS)
        archive.writestr("third.csv", LOTS.replace("12,505", "14,525"))
    result = read(tmp_path / "october.zip", today=TODAY)
    assert result.records["market"].tolist() == ["Antler Ridge"] * 2 + ["Wren Prairie"] * 2 + [""] * 2
    assert sum("that of its name was taken" in note for note in result.notes) == 2


@pytest.mark.parametrize(("sale", "refused"), [("429.39", True), ("101", False), ("Pond 9", False)])
def test_a_place_of_sale_is_no_price(sale: str, refused: bool, tmp_path: Path) -> None:
    """Codes of places may be numbers."""
    path = written(tmp_path, f"Date,Sale,Class,Hd,Wt,Price\n10/12/2026,{sale},Steer,12,505,402.50\n")
    if not refused:
        assert read(path, today=TODAY).records["market"].tolist() == [sale]
        return
    with pytest.raises(RecordsError, match=r"a place of sale is a price.*'Sale' as market"):
        read(path, today=TODAY)
