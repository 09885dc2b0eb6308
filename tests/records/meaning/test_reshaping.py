"""Lists that tell the money of the lot and no price: worked out where the weight allows, asked about elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import RecordsError
from slidefit.records import large_files
from slidefit.records.read import read

HEADING = "Lot,Date,Head,Total Weight,Total Amount,Class\n"
ROWS = (
    "1,2026-10-05,10,5230,$19874.00,STEER\n2,2026-10-05,6,2760,9798.00,HEIFER\n3,2026-10-05,4,2400,,STEER\n"
)


def lots(path: Path, text: str, **options: object):
    path.write_text(text)
    return read(path, **options)


def test_the_price_is_the_money_over_the_weight(tmp_path):
    told = lots(tmp_path / "a.csv", HEADING + ROWS)
    assert told.records["price_cwt"].tolist() == pytest.approx([380.0, 355.0])
    assert told.records["weight_lb"].tolist() == pytest.approx([523.0, 460.0])
    assert told.set_aside["reason"].tolist() == ["missing_price"]


def test_mean_weight_times_head_serves_as_well(tmp_path):
    text = "Date,Hd,Avg Wt (kg),Gross $,Sex\n2026-10-05,10,240,9600,steers\n"
    told = lots(tmp_path / "a.csv", text)
    assert told.records["price_cwt"].tolist() == pytest.approx([100.0 * 4.0 * 0.45359237])


def test_a_told_price_goes_before_the_amount(tmp_path):
    text = (
        "Date,Hd,Avg Wt,Amount,Price,Sex\n2026-10-05,10,520,19874,380,steers\n2026-10-05,8,560,1,361,steers\n"
    )
    told = lots(tmp_path / "a.csv", text)
    assert told.records["price_cwt"].tolist() == [380.0, 361.0]


@pytest.mark.parametrize(
    "text",
    [
        "Date,Avg Wt,Amount,Sex\n2026-10-05,520,19874,steers\n",  # no head: whose amount?
        "Date,Hd,Avg Wt,Amount,Sex\n2026-10-05,10,236,9600,steers\n",  # kilograms or pounds?
    ],
)
def test_nothing_is_worked_out_from_what_is_open(tmp_path, text):
    with pytest.raises(RecordsError, match="price"):
        lots(tmp_path / "a.csv", text)


def test_large_files_work_it_out_too(tmp_path, monkeypatch):
    monkeypatch.setattr(large_files, "STREAM_BYTES", 10)
    many = "".join(f"{k},2026-10-05,10,{5000 + k},19874.00,STEER\n" for k in range(300))
    told = lots(tmp_path / "a.csv", HEADING + many)
    assert told.records["price_cwt"].tolist() == pytest.approx(
        [1987400.0 / (5000 + k) for k in range(300)], abs=1e-3
    )


def test_names_and_values_are_spread_only_where_no_lot_has_a_measure_twice(tmp_path: Path) -> None:
    rows = [
        f"{lot},2023-10-03,steer,{name},{value}"
        for lot in (1, 2)
        for name, value in (("head", 12), ("weight", 512), ("price", 251 + lot))
    ]
    path = tmp_path / "a.csv"
    path.write_text("\n".join(("lot,date,sex,variable,value", *rows)))
    assert read(path).records["price_cwt"].tolist() == [252.0, 253.0]
    path.write_text("\n".join(("lot,date,sex,variable,value", *rows, rows[-1])))
    with pytest.raises(RecordsError, match="no column of price"):
        read(path)


@pytest.mark.parametrize("heading", ["Head Kind", "Lot_Desc"])
def test_a_number_before_each_class_is_the_head_where_a_column_tells_the_weight(
    heading: str, tmp_path: Path
) -> None:
    rows = ["13 RED ANG STRS,557,392.75", "28 BLK/BWF HFRS,642,325.25", "9 Bulls,505,361.25"]
    told = lots(tmp_path / "a.csv", f"Sale of 10/08/2026,,\n{heading},Wt,Price\n" + "\n".join(rows) + "\n")
    assert list(told.records["head"]) == [13, 28, 9]
    assert list(told.records["sex"]) == ["steer", "heifer", "bull"]


def test_a_weight_before_each_class_is_no_head(tmp_path: Path) -> None:
    rows = ["550 lb steers,557,392.75", "600 lb heifers,642,325.25"]
    told = lots(tmp_path / "a.csv", "Sale of 10/08/2026,,\nClass,Wt,Price\n" + "\n".join(rows) + "\n")
    assert told.records["head"].isna().all()


def test_a_unit_that_hangs_on_the_measure_alone_is_its_unit(tmp_path: Path) -> None:
    rows = [
        f"{day}-Oct-2026,Feeder steers 400-500,{name},{value},{unit}"
        for day, price in ((26, 431.5), (27, 425.25))
        for name, value, unit in (
            ("Head", 46, "HEAD"),
            ("Average weight", 439, "LB"),
            ("Average price", price, "USD/CWT"),
            ("Price sd", 7.5, "USD/CWT"),
        )
    ]
    told = lots(tmp_path / "a.csv", "Report,Commodity,Item,Value,Uom\n" + "\n".join(rows) + "\n")
    assert told.records["price_cwt"].tolist() == [431.5, 425.25]
    assert any("Price sd" in note for note in told.notes)


def test_a_table_with_its_own_price_and_weight_is_never_made_long(tmp_path: Path) -> None:
    rows = ["21,Steers,,834#,$323.25,CWT", "5,Bred Cows,4-5 yr,1280#,$3425.00,HD"]
    text = "Fen Livestock sale 10/30/2026\nHead,Description,Age/Bred,Avg Weight,Price,Per\n" + "\n".join(rows)
    told = lots(tmp_path / "a.csv", text)
    assert told.records["price_cwt"].tolist() == [323.25]
    assert told.set_aside["reason"].tolist() == ["not_feeder"]


def test_a_class_told_once_and_a_mean_beside_its_range(tmp_path: Path) -> None:
    rows = [
        "Steers,36,320-339 (337),$373",
        ",1,300-319 (301),$432",
        "Heifers,3,280-299 (289),$443",
        ",8,200-219 (210),$461",
    ]
    text = "Sale of 09/15/2026\nKind of stock,Hd,Weight range,Price $/cwt\n" + "\n".join(rows) + "\n"
    told = lots(tmp_path / "a.csv", text)
    assert told.records["weight_lb"].tolist() == [337, 301, 289, 210]
    assert told.records["sex"].tolist() == ["steer", "steer", "heifer", "heifer"]


def test_a_range_of_weights_in_words_is_no_head(tmp_path: Path) -> None:
    rows = "300 to 399,455.00,417.00\n400 to 499,414.00,379.00\n"
    titles = 'Sale of 10/17/2025\n"Calf prices, $/cwt"\n'
    told = lots(tmp_path / "a.csv", f"{titles}Class (lb),Strs,Hfrs\n{rows}").records
    assert told["head"].isna().all() and set(told["weight_lb"]) == {349.5, 449.5}


def test_a_whole_number_in_brackets_far_from_its_price_is_the_head(tmp_path):
    text = "Sale of Oct 7, 2026\nClass,Weight,Price\nSteers,512,390.25 (12)\nHeifers,480,371.50 (7)\n"
    text += "Steers,610,352 (30)\n"
    told = lots(tmp_path / "a.csv", text).records
    assert told["head"].tolist() == [12, 7, 30] and told["price_cwt"].tolist() == [390.25, 371.5, 352.0]


def test_cattle_are_counted_where_rows_are_measures(tmp_path):
    text = "Tues 10/20/26\n,,Steers,Steers,Heifers\n,,450-499,500-549,400-449\nCattle,head,16,9,5\n"
    text += "Mean weight,lb,467,512,440\nMean,$/cwt,421.50,401,398\n"
    told = lots(tmp_path / "a.csv", text).records
    assert sorted(zip(told["head"], told["weight_lb"], strict=True)) == [(5, 440), (9, 512), (16, 467)]
