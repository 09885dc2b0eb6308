"""One file: every row is kept or set aside, and its account says how it was read."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from slidefit.records.read import read
from slidefit.records.result import write_set_aside
from slidefit.records.sale_book import SaleBook
from slidefit.report.json_answers import add_answer, json_of
from tests.records.sale_files import HEADING, LOTS, read_lots


def test_the_account_tells_how_each_column_was_read(tmp_path: Path) -> None:
    result = read_lots(tmp_path / "a.csv", [*LOTS, "Total,,,,107,,"])
    told = {column.heading: (column.field, column.unit) for column in result.columns}
    assert told["Avg Wt"] == ("weight", "lb") and told["Price $/cwt"] == ("price", "$/cwt")
    assert told["Sale Date"] == ("date", "month first")
    document = json_of(result)
    assert document["added"] == 0 and document["accepted"] == 7 and document["reasons"] == {"summary_row": 1}
    assert result.first_rows(2)["sale_date"].dt.strftime("%Y-%m-%d").tolist() == ["2023-10-03"] * 2
    added = SaleBook(tmp_path / "b.duckdb").add(result)
    account = json_of(add_answer(result, added))
    assert account["rows_seen"] == account["added"] + account["already_there"] + account["set_aside"] == 8
    assert json_of(SaleBook(tmp_path / "b.duckdb").summary())["records"] == 7


def test_rows_set_aside_are_mended_and_added_again(tmp_path: Path) -> None:
    book = SaleBook(tmp_path / "b.duckdb")
    lots = [*LOTS[:6], LOTS[6].replace("226.25", "n/q")]
    result = read_lots(tmp_path / "a.csv", lots)
    book.add(result)
    out = tmp_path / "aside.csv"
    assert write_set_aside(result.aside, out) == 1
    text = out.read_text()
    assert text.splitlines()[0] == HEADING + ",reason,source_file,source_row"
    out.write_text(text.replace("n/q", "226.25"))
    assert book.add(read(out)).added == 1
    assert len(book.records()) == 7
    assert book.add(read_lots(tmp_path / "a.csv")).added == 0


def test_titles_are_kept_with_rows_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("Rook Hill Auction\n10/03/2023\nSteers\nHead,Avg Wt,$/cwt\n12,512,251.25\n9,604,n/q\n")
    result = read(path)
    write_set_aside(result.aside, tmp_path / "aside.csv")
    mended = tmp_path / "mended.csv"
    mended.write_text((tmp_path / "aside.csv").read_text().replace("n/q", "233.50"))
    record = read(mended).records.iloc[0]
    assert (record["market"], record["sex"], record["price_cwt"]) == ("Rook Hill Auction", "steer", 233.5)
    assert record["sale_date"].date() == date(2023, 10, 3)


REPORT = """Moss Vale Auction
Report for 10/14/2025
Feeder Steers Medium and Large 1
Head   Wt Range   Avg Wt    Price Range   Avg Price
   12   505-545      520    365.00-378.00     371.50   Value Added
    9   555-590      570    352.00-361.00     355.75   Blorfed
   N/A  600-650      N/A    N/A               N/A
 Wren 12 500 thrush 350.00
Steers traded 5.00 to 10.00 higher than 12 days ago.
Feeder Dairy Steers Large 3
Head   Wt Range   Avg Wt    Price Range   Avg Price
    4   610-640      622    260.00-266.00     263.50
"""
PROSE = """Windrow Livestock Auction - Sale of October 14, 2025
Feeder steers: Medium and Large 1: 12 head, 420-445 lbs., $402.00-411.00 (406.50); 430 lbs. thin fleshed $364.00;
450-500 lbs. not established. Heifers: 400-450 lbs. $372.00 to $385.00; 462 lbs. 311.00 weaned, spotted.
500-550 lbs. mostly steady at $340.00. Slaughter cows $128-140. Pairs $2,850. 100-120 wrens.
"""


@pytest.mark.parametrize(
    ("text", "kept", "aside", "not_sales", "left"),
    [
        (REPORT, 2, {"dairy": 1}, 2, ["Wren 12 500 thrush 350.00"]),
        (PROSE, 4, {"missing_price": 1}, 3, ["100-120 wrens"]),
    ],
)
def test_every_number_of_the_shape_of_a_weight_or_price_is_accounted_for(
    text: str, kept: int, aside: dict[str, int], not_sales: int, left: list[str], tmp_path: Path
) -> None:
    (tmp_path / "a.txt").write_text(text, encoding="utf-8")
    result = read(tmp_path / "a.txt", today=date(2025, 12, 1))
    account = result.files[0]
    assert (account.accepted, result.reasons, account.not_sales) == (kept, aside, not_sales)
    assert [words for _, words in account.not_understood] == left
    strange = {word.text: word.left for word in account.words if word.left}
    assert strange in ({"Blorfed": "Blorfed"}, {"weaned spotted": "spotted"})  # no other word is left over
