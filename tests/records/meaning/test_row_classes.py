"""What the classes, remarks and places of rows say."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import QuestionError
from slidefit.records.read import read
from tests.records.sale_files import read_lots
from tests.records.test_dialects import LINES


def test_codes_under_a_title_of_feeder_cattle_are_asked_about(tmp_path: Path) -> None:
    text = "Fen Auction feeder cattle,,,,,\n" + LINES.replace("Steer", "1").replace("Heifer", "2")
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    with pytest.raises(QuestionError, match="'1'"):
        read(tmp_path / "a.csv")


def test_a_class_that_says_nothing_is_not_mixed_by_a_title(tmp_path: Path) -> None:
    title = "Fen Auction feeder cattle,,,,,\n"
    (tmp_path / "a.csv").write_text(title + LINES.replace("Steer", "Stoor"), encoding="utf-8")
    strange = read(tmp_path / "a.csv")
    assert set(strange.records["sex"]) == {"heifer"} and set(strange.reasons) == {"missing_sex"}


@pytest.mark.parametrize(
    ("kinds", "reasons"),
    [
        (["BEEF", "DAIRY", "BEEF", "SLAUGHTER"], {"dairy": 1, "not_feeder": 1}),
        (["BEEF", "BEEF", "BEEF", "BEEF"], {}),
        (["Dairy Lane Farm", "BEEF", "BEEF", "BEEF"], {}),  # names, no kinds
    ],
)
def test_a_column_of_kinds_counts_whatever_its_heading(
    kinds: list[str], reasons: dict[str, int], tmp_path: Path
) -> None:
    rows = [f"2026-10-14,Alder Ford,Steer,12,552,{387 + at}.75,{kind}" for at, kind in enumerate(kinds)]
    (tmp_path / "a.csv").write_text(
        "\n".join(["Date,Yard,Class,Head,Wt (lb),Price /cwt,zzkind", *rows]) + "\n"
    )
    assert dict(read(tmp_path / "a.csv").reasons) == reasons


@pytest.mark.parametrize("heading", ["Cur", "Paid in"])
def test_money_told_row_by_row_is_kept_row_by_row(tmp_path: Path, heading: str) -> None:
    rows = ["552,387.75,USD", "618,498.75,CAD", "438,436.75,USD", "402,543.25,C$", "505,368.25,US$"]
    lines = [f"2026-10-14,Alder Ford,Steer,12,{row}" for row in rows]
    (tmp_path / "a.csv").write_text(
        "\n".join([f"Date,Yard,Class,Head,Wt (lb),Price /cwt,{heading}", *lines]) + "\n"
    )
    assert list(read(tmp_path / "a.csv").records["currency"]) == ["USD", "CAD", "USD", "CAD", "USD"]


@pytest.mark.parametrize(
    ("sex", "weight", "price", "kept"),
    [("Bulls", 1400, 150, True), ("Bulls", 1401, 150, False), ("Steers", 1401, 150, True)],
)
def test_a_bull_over_1400_lb_is_no_feeder(
    sex: str, weight: int, price: int, kept: bool, tmp_path: Path
) -> None:
    rows = [f"10/03/2023,Rook Hill,{sex},ML 1,3,{weight},{price}"]
    assert (read_lots(tmp_path / "a.csv", rows).accepted == 1) is kept


@pytest.mark.parametrize(("heading", "aside"), [("Breed", 1), ("Remarks", 0)])
def test_codes_of_dairy_breeds_count_in_a_column_of_breeds_alone(
    heading: str, aside: int, tmp_path: Path
) -> None:
    rows = [
        f"2026-10-14,Alder Ford,Steer,12,552,{387 + at}.75,{breed}"
        for at, breed in enumerate(("FR", "LMX", "AA"))
    ]
    (tmp_path / "a.csv").write_text(
        "\n".join([f"Date,Yard,Class,Head,Wt (lb),Price /cwt,{heading}", *rows]) + "\n"
    )
    assert read(tmp_path / "a.csv").reasons.get("dairy", 0) == aside


def test_a_class_over_a_column_of_words_is_that_of_its_rows_and_all_is_a_total(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("Sold 10/8/2026\nHeifers,Head,Wt,Price\nAngus,12,512,351\nHereford,9,498,348\n")
    assert read(path).records["sex"].tolist() == ["heifer", "heifer"]
    path.write_text(
        "Sold 10/8/2026\nClass,Head,Wt,Price\nSteers,12,512,351\nHeifers,9,600,318\nall,21,549,337\n"
    )
    assert read(path).reasons == {"summary_row": 1}
