"""What a file tells twice, with a case on either side of each limit."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.records.read import read
from tests.records.sale_files import LOTS, read_lots
from tests.records.test_dialects import LINES


@pytest.mark.parametrize(("rows", "twice"), [(5, True), (4, False)])
def test_a_whole_sale_told_again_in_a_list_of_lots_needs_five_rows(
    rows: int, twice: bool, tmp_path: Path
) -> None:
    """Below that, equal rows of a list of single lots are lots of their own."""
    sale = list(LOTS[:rows])
    result = read_lots(tmp_path / "a.csv", [*sale, *LOTS[5:], *sale])
    assert result.reasons == ({"duplicate": rows} if twice else {})


@pytest.mark.parametrize(
    ("change", "told"),
    [("12,512,366", True), ("4,512,366", False), ("12,513,366", False), ("12,512,371.5", False)],
)
def test_a_lot_without_a_number_that_stands_again_with_another_price_is_told(
    change: str, told: bool, tmp_path: Path
) -> None:
    """From five head on an equal mean weight is no chance; both prices are kept, since nothing says which is right."""
    text = f"{LINES}10/14/2025,Fen,Steer,{change}\n"
    (tmp_path / "a.csv").write_text(
        text.replace("12,512", "4,512") if change[0] == "4" else text, encoding="utf-8"
    )
    result = read(tmp_path / "a.csv")
    assert (
        result.accepted == 3 and any("told twice but for the price" in note for note in result.notes) is told
    )


def test_a_number_that_stands_for_other_lots_too_corrects_none(tmp_path: Path) -> None:
    rows = "".join(f"10/14/2025,Fen,1,Steer,12,512,{price}\n" for price in (371.5, 366, 360, 362))
    (tmp_path / "a.csv").write_text("Date,Barn,Lot,Sex,Head,Weight,Price $/cwt\n" + rows, encoding="utf-8")
    assert read(tmp_path / "a.csv").reasons == {}
    (tmp_path / "b.csv").write_text(
        "Date,Barn,Lot,Sex,Head,Weight,Price $/cwt\n10/14/2025,Fen,1,Steer,12,512,371.5\n"
        "10/14/2025,Fen,1,Steer,12,530,366\n10/14/2025,Fen,2,Heifer,9,498,349\n",
        encoding="utf-8",
    )
    assert read(tmp_path / "b.csv").reasons == {}


@pytest.mark.parametrize(
    ("number", "remark", "others", "gone"),
    [
        ("1", "CORRECTED WEIGHT", 1, 1),
        ("1", "reweighed", 1, 0),
        ("9", "corrected", 1, 0),
        ("1", "corrected", 2, 0),
    ],
)
def test_a_corrected_lot_takes_the_place_of_the_one_other_of_its_number(
    number: str, remark: str, others: int, gone: int, tmp_path: Path
) -> None:
    """Whatever the correction changed; with two others nothing shows which one was wrong."""
    rows = [f"{at},2026-10-14,Alder Ford,Steer,{12 + at},{550 + at},{387 - at}.75," for at in range(1, 8)]
    rows += [f"1,2026-10-14,Alder Ford,Heifer,{20 + at},505,361.25," for at in range(others - 1)]
    rows.append(f"{number},2026-10-14,Alder Ford,Steer,13,561,386.75,{remark}")
    path = tmp_path / "a.csv"
    path.write_text("\n".join(["Lot,Date,Yard,Class,Head,Wt (lb),Price /cwt,Remarks", *rows]) + "\n")
    assert read(path).reasons.get("superseded", 0) == gone
