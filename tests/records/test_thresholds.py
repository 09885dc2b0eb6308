"""What the readers and the book believe, each with a case on either side of its limit."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import RecordsError
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import HEADING, LOTS, lot_file, read_lots


@pytest.mark.parametrize(("dates", "guessed"), [(9, True), (8, False)])
def test_a_column_is_guessed_where_more_than_four_in_five_of_its_cells_say_so(
    dates: int, guessed: bool, tmp_path: Path
) -> None:
    days = [f"10/{day:02d}/2023" if day <= dates else f"pen {day}" for day in range(1, 11)]
    rows = [f"{day},Rook Hill,Steers,ML 1,12,512,251.25" for day in days]
    path = lot_file(tmp_path / "a.csv", rows, HEADING.replace("Sale Date", "Rung"))
    if guessed:
        assert read(path).accepted == dates
        return
    with pytest.raises(RecordsError, match="no date of sale"):
        read(path)


@pytest.mark.parametrize(
    ("head", "market", "others", "corrected"),
    [(2, "Rook Hill", 0, 1), (1, "Rook Hill", 0, 0), (2, "", 0, 0), (2, "Rook Hill", 1, 0)],
)
def test_a_lone_row_with_another_price_corrects_one_of_its_kind(
    head: int, market: str, others: int, corrected: int, tmp_path: Path
) -> None:
    """Two head or more at a named market, and the only one of its class on both sides; else it is another lot."""
    told = [f"10/03/2023,{market},Steers,ML 1,{head},512,{price}" for price in (251.25, 246.5, 248.0)]
    rest = [row.replace("Rook Hill", market) for row in LOTS[1:5]]
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read_lots(tmp_path / "a.csv", [told[0], *rest, *told[2 : 2 + others]]))
    result = book.add(read_lots(tmp_path / "b.csv", [told[1]]))
    assert (result.added, result.corrected) == (1, corrected)
    assert len(book.records()) == 6 + others - corrected


@pytest.mark.parametrize(("again", "corrected"), [(3, 3), (2, 0)])
def test_a_sale_is_told_again_from_half_of_its_rows_on(again: int, corrected: int, tmp_path: Path) -> None:
    """Then its single animals are corrected too; from less than half nothing shows that they are the same."""
    single = [f"10/03/2023,Rook Hill,Steers,ML 1,1,{weight},250" for weight in (500, 510, 530)]
    same = [f"10/03/2023,Rook Hill,Heifers,ML 1,1,{weight},225" for weight in (500, 510, 530)]
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read_lots(tmp_path / "a.csv", [*single, *same]))
    fresh = [row.replace(",250", ",246") for row in single]
    result = book.add(read_lots(tmp_path / "b.csv", [*fresh, *same[:again]]))
    assert result.corrected == corrected
