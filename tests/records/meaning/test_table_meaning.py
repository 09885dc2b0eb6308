"""Units, order of dates and whole lots, decided once for a table."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import QuestionError
from slidefit.records.read import read
from tests.records.sale_files import lot_file, read_lots


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


def test_day_first_dates_are_decided_for_the_whole_file(tmp_path: Path) -> None:
    lots = ["05/03/2024,R,Steers,,4,500,250", "26/03/2024,R,Steers,,4,510,249"]
    assert read_lots(tmp_path / "a.csv", lots).records["sale_date"].dt.month.tolist() == [3, 3]
    unproven = read_lots(tmp_path / "b.csv", lots[:1])
    assert unproven.records["sale_date"].dt.month.tolist() == [5]
    assert any("can be read two ways" in note for note in unproven.notes)
    said = read(tmp_path / "b.csv", date_order="dmy")
    assert said.records["sale_date"].dt.month.tolist() == [3]


def test_mixed_kilograms_ask_for_the_weight_unit(tmp_path: Path) -> None:
    path = lot_file(
        tmp_path / "a.csv", ["2024-03-05,R,Steers,4,550,3.50"], "Date,Market,Sex,Head,Weight,Price per kg"
    )
    with pytest.raises(QuestionError, match="weight_unit"):
        read(path)
    assert read(path, weight_unit="lb").records["weight_lb"].tolist() == [550.0]
