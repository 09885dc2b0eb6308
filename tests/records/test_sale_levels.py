"""A whole sale in another unit is seen beside the sales around it, in its own file and in the book."""

from __future__ import annotations

import time
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest

from slidefit.errors import QuestionError
from slidefit.records.book.book_file import opened
from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from slidefit.records.sale_levels import (
    _ROUGH,
    FARTHEST_DAYS,
    book_levels,
    leveled,
    off_sales,
    prices_by_weight,
    sale_levels,
)
from tests.records.sale_files import lot_file

EXCERPTS = Path(__file__).parent / "excerpts"
DAYS = [f"{month:02d}/{day:02d}/2026" for month in (3, 4, 5) for day in (3, 10, 17, 24)]


def lots(day: str, unit: str = "$/cwt", market: str = "Fen") -> list[str]:
    made = []
    for weight, price in ((450, 260.0), (520, 245.0), (560, 238.0), (640, 224.0)):
        value = {
            "$/cwt": price,
            "$/lb": price / 100,
            "$/head": price * weight / 100,
            "lost point": price * 10,
        }[unit]
        made.append(f"{day},{market},Steers,ML 1,12,{weight},{value:.2f}")
    return made


@pytest.mark.parametrize(
    ("unit", "like"),
    [("$/lb", "dollars a pound"), ("$/head", "dollars a head"), ("lost point", "a lost decimal point")],
)
@pytest.mark.parametrize("at", [0, 5, 11])
def test_one_sale_in_another_unit_is_set_aside_whole(tmp_path: Path, unit: str, like: str, at: int) -> None:
    rows = [lot for place, day in enumerate(DAYS) for lot in lots(day, unit if place == at else "$/cwt")]
    result = read(lot_file(tmp_path / "a.csv", rows))
    assert result.reasons == {"sale_level": 4} and result.accepted == 44
    note = next(note for note in result.notes if "set aside whole" in note)
    assert f"2026-{DAYS[at][:2]}-{DAYS[at][3:5]} at Fen (4 rows)" in note and like in note


def test_many_sales_in_another_unit_are_asked_about(tmp_path: Path) -> None:
    rows = [lot for place, day in enumerate(DAYS) for lot in lots(day, "$/head" if place >= 6 else "$/cwt")]
    with pytest.raises(QuestionError, match="two units of price"):
        read(lot_file(tmp_path / "a.csv", rows))


@pytest.mark.parametrize("name", ["ams_clovis_service.csv", "ams_clovis_words.csv"])
def test_true_sales_raise_no_alarm(name: str) -> None:
    assert "sale_level" not in read(EXCERPTS / name).reasons


def levels_of(*levels: float, gap_days: int = 7) -> pd.DataFrame:
    days = pd.Timestamp("2026-01-05") + pd.to_timedelta(np.arange(len(levels)) * gap_days, unit="D")
    return pd.DataFrame(
        {
            "sale_date": days,
            "market": "Fen",
            "currency": "USD",
            "level": np.log(levels),
            "weight_lb": 500.0,
            "rows": 9,
        }
    )


def test_the_limit_is_a_factor_of_two_on_either_side() -> None:
    for factor, off in ((1.99, 0), (2.01, 1), (1 / 1.99, 0), (1 / 2.01, 1)):
        assert len(off_sales(levels_of(250, 250, 250, 250 * factor, 250, 250))) == off, factor


def test_three_neighbors_within_the_reach_are_needed() -> None:
    assert len(off_sales(levels_of(250, 250, 250, 25))) == 1
    assert off_sales(levels_of(250, 250, 25)) == []
    assert off_sales(levels_of(250, 250, 250, 25, gap_days=FARTHEST_DAYS + 1)) == []
    assert off_sales(levels_of(*[250 * 1.03**week for week in range(60)])) == []  # a market that rises fast


def test_a_sale_is_held_against_the_books_sales_around_it(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "sales.duckdb")
    book.add(read(lot_file(tmp_path / "a.csv", [lot for day in DAYS for lot in lots(day)])))
    with opened(book.path, write=False) as connection:
        levels = book_levels(connection, (pd.Timestamp("2026-04-01"), pd.Timestamp("2026-04-02")))
    own = sale_levels(book.records())
    pd.testing.assert_frame_equal(
        levels.sort_values("sale_date", ignore_index=True)[list(own.columns)], own, check_dtype=False
    )
    lost = [*lots("06/02/2026", "lost point"), *lots("06/09/2026")]
    late = read(lot_file(tmp_path / "b.csv", lost), price_unit="$/cwt")
    result = book.add(late)
    assert (result.added, result.set_aside, result.reasons) == (4, 4, {"sale_level": 4})
    assert [sale.like for sale in result.off] == ["a lost decimal point"]
    assert len(book.records()) == 52
    lone = lot_file(tmp_path / "c.csv", lots(DAYS[3], "lost point"))
    again = book.add(read(lone, price_unit="$/cwt"))
    assert (again.added, again.corrected, again.batch) == (0, 0, "")


def test_rows_that_a_reader_marks_and_impossible_head_are_set_aside(tmp_path: Path) -> None:
    rows = lots("03/03/2026")
    long = rows[0].replace("ML 1", "ML 1 " + "x" * 1_000)
    many = rows[1].replace(",12,", ",20001,")
    most = rows[2].replace(",12,", ",20000,")
    result = read(lot_file(tmp_path / "a.csv", [long, many, most, rows[3]]))
    assert result.reasons == {"implausible_head": 1, "too_long": 1} and result.accepted == 2


def test_cells_of_blanks_cost_no_time(tmp_path: Path) -> None:
    rows = lots("03/03/2026")
    blanks = [f"1{' ' * size}x" for size in (800, 4_000)]
    hostile = [rows[0].replace("12,450,260.00", ",".join([text] * 3)) for text in blanks]
    start = time.process_time()
    assert read(lot_file(tmp_path / "a.csv", [*hostile, *rows])).accepted == 4
    assert time.process_time() - start < 3.0


def test_what_the_book_sets_aside_stands_in_the_file_of_rows_set_aside(tmp_path: Path) -> None:
    """It can be mended there and added again: prices a hundred times as high, as dollars a pound are read."""
    from click.testing import CliRunner

    from slidefit.cli.main import slidefit

    lot_file(tmp_path / "a.csv", [row for day in DAYS for row in lots(day)])
    lot_file(tmp_path / "b.csv", [*lots("06/02/2026", "$/lb"), lots("06/09/2026")[0].replace("450", "")])
    book, aside = str(tmp_path / "sales.duckdb"), tmp_path / "aside.csv"
    for name in ("a", "b"):
        words = ["add", f"{tmp_path}/{name}.csv", "--book", book, "--set-aside", str(aside)]
        told = CliRunner().invoke(slidefit, [*words, "--price-unit", "$/cwt"])
        assert told.exit_code == 0, told.output
    assert list(pd.read_csv(aside)["reason"]) == ["missing_weight"]
    assert "4 rows of sales set aside whole" in told.output
    aside = tmp_path / "aside_sales.csv"
    table = pd.read_csv(aside)
    assert list(table["reason"]) == ["sale_level"] * 4 and table["source_row"].tolist() == [2, 3, 4, 5]
    table["price_cwt"] *= 100
    table.to_csv(aside, index=False)
    assert SaleBook(book).add(read(aside)).added == 4


def test_prices_by_weight_show_a_wrong_unit_before_it_is_added(tmp_path: Path) -> None:
    """New rows beside the book's range of the same hundred pounds, money and year."""
    book = tmp_path / "sales.duckdb"
    far = [row.replace("2026", "2020") for row in lots(DAYS[0])]
    own = read(lot_file(tmp_path / "a.csv", [*far, *[row for day in DAYS for row in lots(day)]]))
    assert [each.book_rows for each in prices_by_weight(own.records, book)] == [0, 0, 0]
    SaleBook(book).add(own)
    lost = lot_file(tmp_path / "b.csv", lots("06/02/2026", "lost point"))
    new = read(lost, price_unit="$/cwt")
    light, middle, heavy = prices_by_weight(new.records, book)
    assert (light.low_lb, light.rows, light.middle, light.currency) == (400, 1, 2600.0, "USD")
    assert (middle.rows, middle.book_rows, heavy.book_rows) == (2, 24, 12)  # those of 2020 are no neighbors
    assert (middle.book_low, middle.book_high) == (238.0, 245.0)
    assert prices_by_weight(new.records.iloc[:0], book) == ()


def test_the_rough_market_is_the_same_in_sql_and_ends_beyond_calves() -> None:
    """Eight to ten percent a hundredweight for calves: Peel, Oklahoma State University, "Old rules of thumb"."""
    calves = pd.DataFrame({"weight_lb": [150.0, 200, 201, 450, 550, 550, 550, 550, 550, 999, 1000, 1100]})
    calves["sex"] = ["steer"] * 5 + ["mixed", "heifer", "bull", "unheard of"] + ["steer"] * 3
    pays = leveled(calves["weight_lb"].to_numpy(), calves["sex"])
    in_sql = duckdb.sql(f"SELECT {_ROUGH} AS pays FROM calves").df()["pays"].astype(float)
    assert pays == pytest.approx(in_sql.to_numpy(), abs=1e-12)
    assert pays[0] == pays[1] > pays[2] and pays[9] > pays[10] == pays[11]
    assert 0.08 <= pays[3] - pays[4] <= 0.1 + 1e-12 and pays[4] == pays[8] == 0.0
    assert list(pays[4:8]) == sorted(pays[4:8], reverse=True)
