"""What a question about missing columns offers: fields that the cells can hold, and words that tell nothing yet."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.read import read
from tests.records.meaning.test_rival_columns import TODAY, lots


def test_only_fields_that_the_cells_can_hold_are_suggested(tmp_path: Path) -> None:
    heading = "Sale Dat,Clas,Haed,Wieght,Today,Time sold,Futures board"
    path = lots(
        tmp_path,
        heading,
        "10/12/2026,Steer,18,556,389.75,10:05,352.40",
        "10/12/2026,Heifer,12,511,375.00,10:10,352.40",
    )
    with pytest.raises(QuestionError) as asked:
        read(path, today=TODAY)
    told = str(asked.value.remedy)
    assert "'Today=price'" in told and "Time sold" not in told and "board" not in told


def test_marks_of_repetition_and_known_words_are_not_asked_about(tmp_path: Path) -> None:
    rows = ("10/12/2026,Zork,18,556,389.75", "10/12/2026,do,12,511,375.00", "10/12/2026,Cow,1,1210,158.50")
    path = lots(tmp_path, "Date,Class,Hd,Lbs apiece,Price", *rows)
    with pytest.raises(QuestionError) as asked:
        read(path, today=TODAY)
    assert asked.value.values["words"] == (("sex", "Zork"),)


@pytest.mark.parametrize(
    ("heading", "row", "fault"),
    [
        ("Date,Kin,Hd,Wt,Price", "10/12/2026,Zork 5,18,556,389.75", "not understood are: Kin"),
        ("Date,Hd,Wt,Price", "2nd Thursday,18,556,389.75", "none of its 1 rows could be used"),
        ("Date,Class,Hd,Wt,Price", "10/12/2026,Cow,18,1256,149.75", ""),
    ],
)
def test_a_file_that_yields_nothing_is_asked_about_or_refused_unless_it_holds_no_feeders(
    heading: str, row: str, fault: str, tmp_path: Path
) -> None:
    path = lots(tmp_path, heading, row)
    if not fault:
        assert read(path, today=TODAY).reasons == {"not_feeder": 1}
        return
    with pytest.raises(RecordsError, match=fault) as refused:
        read(path, today=TODAY)
    assert isinstance(refused.value, QuestionError) == ("Kin" in heading)


@pytest.mark.parametrize("spare", [False, True])
def test_the_only_open_column_of_numbers_may_be_what_is_missing(tmp_path: Path, spare: bool) -> None:
    """One is asked about; of two nobody knows. A key tells what the letters of the units stand for."""
    more = (",Gate", ",7", ",9", ",") if spare else ("", "", "", "")
    path = lots(
        tmp_path,
        "Date,Class,Hd,Lbs,Money,Basis" + more[0],
        "10/12/2026,Steer,18,556,389.75,H" + more[1],
        "10/12/2026,Heifer,12,511,3.75,P" + more[2],
        "basis: H = per hundredweight; P = per pound,,,,," + more[3],
    )
    with pytest.raises(RecordsError) as asked:
        read(path, today=TODAY)
    assert isinstance(asked.value, QuestionError) is not spare
    prices = read(path, today=TODAY, mapping={"Money": "price"}).records["price_cwt"]
    assert prices.tolist() == pytest.approx([389.75, 375.0])
