"""Seasons and long periods: January of 2018-19 is of 2019; quarters are no sales."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.records.read import read
from slidefit.records.words.periods import SEASON_BEGINS, names_long_period, season_year


@pytest.mark.parametrize(
    ("text", "month", "year"),
    [
        ("2018-19", SEASON_BEGINS, 2018),
        ("2018-19", SEASON_BEGINS - 1, 2019),
        ("2018/2019", 12, 2018),
        ("1999-00", 1, 2000),
        ("2018-20", 1, None),
        ("2018-12", 1, None),
        ("2018", 1, None),
        ("2018-19", None, None),
    ],
)
def test_the_year_of_a_month_of_a_season(text: str, month: int | None, year: int | None) -> None:
    assert season_year(text, month) == year


def test_a_list_by_seasons(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "Season,Month,Class,Wt,Price\n2018-19,October,Steers,525,158\n2018-19,January,Steers,545,162.5\n"
    )
    result = read(path)
    assert result.records["sale_date"].dt.strftime("%Y-%m").tolist() == ["2018-10", "2019-01"]
    assert any("seasons" in column.how for column in result.columns)


def test_long_periods_are_named() -> None:
    assert names_long_period("Q1 2023") and not names_long_period("10/03/2023")
