"""What the readers and the book believe, each with a case on either side of its limit."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import RecordsError
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import HEADING, LOTS, lot_file, read_lots


@pytest.mark.parametrize(
    ("sex", "weight", "price", "kept"),
    [("Bulls", 1400, 150, True), ("Bulls", 1401, 150, False), ("Steers", 1401, 150, True)],
)
def test_a_bull_over_1400_lb_is_no_feeder(
    sex: str, weight: int, price: int, kept: bool, tmp_path: Path
) -> None:
    rows = [f"10/03/2023,Rook Hill,{sex},ML 1,3,{weight},{price}"]
    assert (read_lots(tmp_path / "a.csv", rows).accepted == 1) is kept


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


def lot_weights(path: Path, weights: list[tuple[int, float]]) -> list[float]:
    rows = [f"10/03/2023,Rook Hill,Steers,ML 1,{head},{weight},251.25" for head, weight in weights]
    return [round(weight) for weight in read_lots(path, rows).records["weight_lb"]]


@pytest.mark.parametrize(
    ("weights", "divided"),
    [
        ([(4, 2000), (4, 2004), (3, 1200), (3, 1203), (3, 1206)], True),  # 2 in 5 over 1,500 lb
        ([(4, 2000), (3, 1197), (3, 1200), (3, 1203), (3, 1206)], False),  # 1 in 5
        ([(3, 1501), (3, 1502), (3, 1503), (3, 1504)], True),
        ([(3, 1497), (3, 1498), (3, 1499), (3, 1500)], False),  # the limit itself
        ([(2, 3000), (2, 3100), (2, 3200)], True),  # 1,600 lb a head
        ([(2, 3000), (2, 3202), (2, 3206)], False),
        (
            [(2, 900), (2, 1000), (3, 1440), (3, 1200), (2, 1100), (1, 500)],
            True,
        ),  # 6 rows that grow with the head
        ([(2, 900), (2, 1000), (3, 1440), (3, 1200), (2, 1100)], False),  # 5 of them
    ],
)
def test_a_weight_column_of_whole_lots(
    weights: list[tuple[int, float]], divided: bool, tmp_path: Path
) -> None:
    """Too heavy for calves in 3 of 10 rows and right once divided by the head, or 6 rows that grow with the head."""
    wanted = [weight / head if divided else weight for head, weight in weights]
    wanted = [round(weight) for weight in wanted if weight <= 2000]
    assert lot_weights(tmp_path / "a.csv", weights) == wanted


@pytest.mark.parametrize(("rows", "twice"), [(5, True), (4, False)])
def test_a_whole_sale_told_again_in_a_list_of_lots_needs_five_rows(
    rows: int, twice: bool, tmp_path: Path
) -> None:
    """Below that, equal rows of a list of single lots are lots of their own."""
    sale = list(LOTS[:rows])
    result = read_lots(tmp_path / "a.csv", [*sale, *LOTS[5:], *sale])
    assert result.reasons == ({"duplicate": rows} if twice else {})


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
