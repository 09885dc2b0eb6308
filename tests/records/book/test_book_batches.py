"""What an addition tells of the calendar: long times without a sale beside the new sales."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from slidefit.records.book.book_batches import FEWEST_SALES, SaleGap
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from tests.records.sale_files import lot_file

FIRST = date(2026, 1, 5)


def weekly(weeks: list[int]) -> list[str]:
    days = [FIRST + timedelta(weeks=week) for week in weeks]
    return [f"{day:%m/%d/%Y},Fen,Steers,ML 1,12,{520 + day.day},245.00" for day in days]


@pytest.mark.parametrize("missed", [3, 4])
def test_a_gap_is_told_from_more_than_three_sales_missed_in_a_row(tmp_path: Path, missed: int) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    old = list(range(FEWEST_SALES))
    assert book.add(read(lot_file(tmp_path / "a.csv", weekly(old)))).gaps == ()
    later = [old[-1] + 1 + missed, old[-1] + 2 + missed]
    told = book.add(read(lot_file(tmp_path / "b.csv", weekly(later)))).gaps
    last, following = (FIRST + timedelta(weeks=week) for week in (old[-1], later[0]))
    assert told == ((SaleGap("Fen", last, following, 7),) if missed > 3 else ())
    more = book.add(read(lot_file(tmp_path / "c.csv", weekly([later[-1] + 1]))))
    assert more.added == 1 and more.gaps == ()  # told once, with the sales beside it
