"""Words of the class, grade and unit columns: taught, counted, and asked about where they are not understood."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.read import read

CODED = "sale_date,sex,head,avg_wt,price_cwt\n" + "\n".join(
    f"2019-10-01,{code},{head},{weight},{price}"
    for code, head, weight, price in (
        (1, 12, 512, 151.25),
        (2, 9, 498, 138),
        (1, 20, 601, 144.5),
        (2, 15, 566, 132.25),
    )
)


def written(folder: Path, text: str = CODED) -> Path:
    path = folder / "coded.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_codes_are_asked_about_once_with_their_counts(tmp_path: Path) -> None:
    with pytest.raises(QuestionError, match=r"'1' \(2 rows\), '2' \(2 rows\)"):
        read(written(tmp_path))
    result = read(written(tmp_path), values={"sex": {"1": "steer", "2": "heifer"}})
    assert result.records["sex"].tolist() == ["steer", "heifer", "steer", "heifer"]


def test_some_strange_words_are_told_and_not_asked_about(tmp_path: Path) -> None:
    result = read(written(tmp_path, CODED.replace(",1,", ",Strs,").replace(",2,9", ",Hfrs,9")))
    assert result.reasons == {"missing_sex": 1}
    first = result.files[0].words[0]
    assert (first.field, first.text, first.rows, first.meaning) == ("sex", "2", 1, "")
    assert any("were not understood" in note for note in result.notes)


def test_words_left_over_of_a_class_are_told(tmp_path: Path) -> None:
    text = CODED.replace(",1,", ",zebu strs,").replace(",2,", ",BLK HFRS,")
    result = read(written(tmp_path, text))
    assert result.accepted == 4
    left = {word.text: word.left for word in result.files[0].words}
    assert left == {"zebu strs": "zebu", "BLK HFRS": ""}
    assert any("zebu" in note for note in result.notes)


def test_rows_set_aside_keep_the_files_own_words(tmp_path: Path) -> None:
    result = read(written(tmp_path), values={"sex": {"1": "steer", "2": "not_feeder"}})
    assert result.reasons == {"not_feeder": 2}
    assert "| 2 |" in result.set_aside["text"].iloc[0]


@pytest.mark.parametrize(
    "values", [{"sex": {"1": "stear"}}, {"grade": {"A": "prime"}}, {"price_unit": {"X": "stone"}}]
)
def test_a_meaning_must_be_one(values: dict[str, dict[str, str]]) -> None:
    with pytest.raises(RecordsError, match="is not a meaning of"):
        read("any.csv", values=values)


def test_units_and_grades_can_be_taught(tmp_path: Path) -> None:
    rows = "2023-10-03,Steers,A,12,512,251.25,K\n2023-10-03,Heifers,B,9,498,1135,Z\n"
    text = f"date,class,grade,head,wt,price,unit\n{rows}"
    result = read(
        written(tmp_path, text),
        values={"grade": {"A": "ML 1", "B": "M 2"}, "unit": {"K": "$/cwt", "Z": "$/head"}},
    )
    assert result.records["muscle"].tolist() == ["1"] and result.reasons == {"per_head_price": 1}


KEYED = """\
# SX: 1=bull 2=heifer 3=steer;  MK: 7=Alder Slough 9=Fenn Ferry
# P = price, US$ per 100 lb; BWT = mean body weight, lb; NH = lot size; DY is yymmdd
DY,MK,SX,NH,BWT,P
251008,7,3,7,571,354.5
251008,9,2,5,447,371
251015,9,1,8,453,366
"""


def test_a_key_of_values_tells_which_lots_were_not_sold(tmp_path: Path) -> None:
    rows = [
        f"10/12/2026,Steer,{9 + lot},55{lot},38{lot}.50,{word}"
        for lot, word in enumerate(["SOLD", "PO", "SCR"])
    ]
    path = tmp_path / "ring.csv"
    key = '"outcome: SOLD, PO = passed out (owner kept), SCR = scratched"'
    path.write_text("\n".join(["Date,Class,Hd,Wt,Bid $/cwt,Outcome", *rows, "", key]), encoding="utf-8")
    result = read(path, today=date(2026, 11, 24))
    assert result.records["head"].tolist() == [9] and result.reasons == {"missing_price": 2}


def test_a_key_beside_the_table_explains_its_headings_codes_and_days(tmp_path: Path) -> None:
    records = read(written(tmp_path, KEYED)).records
    assert records["sex"].tolist() == ["steer", "heifer", "bull"]
    assert records["market"].tolist() == ["Alder Slough", "Fenn Ferry", "Fenn Ferry"]
    assert records["sale_date"].dt.strftime("%m-%d").tolist() == ["10-08", "10-08", "10-15"]
    assert records["head"].tolist() == [7, 5, 8] and records["price_cwt"].tolist() == [354.5, 371, 366]
    unkeyed = read(written(tmp_path, KEYED.replace(" 3=steer", "")))
    assert unkeyed.reasons == {"missing_sex": 1}  # never guessed


@pytest.mark.parametrize(("words", "asked"), [("XQ XR", False), ("XQ XQ", True)])
def test_a_strange_class_is_asked_about_from_a_tenth_of_the_rows_where_it_repeats(
    words: str, asked: bool, tmp_path: Path
) -> None:
    classes = ["Strs"] * 10 + words.split()
    rows = [f"2025-10-08,{each},12,{500 + at},380" for at, each in enumerate(classes)]
    path = written(tmp_path, "\n".join(["Date,Class,Head,Wt,Price", *rows]))
    if asked:
        with pytest.raises(QuestionError, match=r"'XQ' \(2 rows\)"):
            read(path)
    else:
        assert read(path).reasons == {"missing_sex": 2}
    rare = path.read_text() + "\n" + "\n".join(f"2025-10-08,Hfrs,9,{600 + at},350" for at in range(10))
    assert read(written(tmp_path, rare)).reasons == {"missing_sex": 2}  # 2 of 22 rows


def test_numbers_for_classes_are_asked_about_where_no_column_of_head_is_known(tmp_path: Path) -> None:
    text = "Heifers sold 2025-10-08\nType,Wt,Price\n16,512,351\n5,498,348\n9,600,318\n"
    with pytest.raises(QuestionError, match=r"no column of head .* 'Type' holds numbers"):
        read(written(tmp_path, text))
    counted = read(written(tmp_path, text), mapping={"Type": "head"}).records
    assert counted["head"].tolist() == [16, 5, 9]


def test_a_day_where_a_class_should_stand_is_told_and_not_asked_about(tmp_path: Path) -> None:
    rows = [f"2025-10-08,Strs,12,{500 + at},380" for at in range(4)] + ["2025-10-08,10/8/2025,12,530,380"] * 2
    assert read(written(tmp_path, "\n".join(["Date,Class,Head,Wt,Price", *rows]))).reasons == {
        "missing_sex": 2
    }


@pytest.mark.parametrize(
    ("kind", "asked"), [("ABATT", True), ("SLTR", False), ("Stocker", False), ("A long story", False)]
)
def test_a_kind_that_is_not_known_in_rows_of_calves_is_asked_about(
    tmp_path: Path, kind: str, asked: bool
) -> None:
    path = tmp_path / "lots.csv"
    rows = [
        f"11/18/2026,Fen,{each},STRS,9,{500 + 9 * at},390.5"
        for at, each in enumerate(["FEEDER"] * 4 + [kind])
    ]
    path.write_text("\n".join(["Date,Barn,Category,Sex,Head,Wt,Price", *rows]) + "\n")
    if asked:
        with pytest.raises(QuestionError, match="'ABATT'"):
            read(path)
        taught = {"category": {kind: "not_feeder"}}
        assert read(path, values=taught).reasons == {"not_feeder": 1}
    else:
        assert read(path).accepted == (4 if kind == "SLTR" else 5)


def test_letters_of_rows_that_another_column_sets_aside_need_no_meaning(tmp_path: Path) -> None:
    path = tmp_path / "lots.csv"
    rows = [f"11/18/2026,Fen,Feeder,{'SH'[at % 2]},9,{500 + 9 * at},390.5" for at in range(5)]
    path.write_text(
        "\n".join(["Date,Barn,Kind,Sex,Head,Wt,Price", *rows, "11/18/2026,Fen,Packer,C,5,1265,152"]) + "\n"
    )
    result = read(path)
    assert result.records["sex"].tolist() == ["steer", "heifer", "steer", "heifer", "steer"]
    assert result.reasons == {"not_feeder": 1}
