"""Two columns that may be one field, and headings left out that may tell a field: asked, unless the headings decide."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from slidefit.errors import QuestionError
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
    path = lots(tmp_path, "Date,Sex,Cab.,Wt,Price", *(f"10/9/2026,{row.split(',', 1)[1]}" for row in rows))
    with pytest.raises(QuestionError, match="no column of head was recognised"):
        read(path, today=TODAY)
    assert read(path, today=TODAY, mapping={"Cab.": "head"}).records["head"].tolist() == [44, 31, 60]
