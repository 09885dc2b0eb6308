"""Excerpts of real reports: U.S. Department of Agriculture, Agricultural Marketing Service, Market News, Clovis
Livestock Auction (New Mexico) weekly report; works of the U.S. government, in the public domain."""

from __future__ import annotations

from pathlib import Path

from slidefit.records.read import read

FOLDER = Path(__file__).parent / "excerpts"


def test_report_headings_in_words() -> None:
    result = read(FOLDER / "ams_clovis_words.csv")
    # 229 rows: 17 October 2018 stands there twice (91 rows, one of them dairy); 7 more dairy rows
    assert result.rows_seen == 229
    assert result.reasons == {"dairy": 9, "duplicate": 90}
    records = result.records
    assert (records["sale_date"] == "2018-10-17").sum() == 90
    assert set(records["market"]) == {""}
    assert any("no place of sale is named" in note for note in result.notes)
    first = records.iloc[1]
    assert (first["head"], first["weight_lb"], first["price_cwt"]) == (18.0, 367.0, 189.93)
    assert (first["weight_low_lb"], first["weight_high_lb"]) == (359.0, 388.0)
    assert (first["price_low_cwt"], first["price_high_cwt"]) == (183.5, 193.0)
    assert (first["frame"], first["muscle"], first["sex"]) == ("ML", "1", "steer")


def test_field_names_of_the_web_service() -> None:
    result = read(FOLDER / "ams_clovis_service.csv")
    # one row says from 1.44 to 149.00: its mean of 60.00 can't be trusted
    assert result.reasons == {"price_inconsistent": 1}
    records = result.records
    assert set(records["market"]) == {"Clovis Livestock Auction - Clovis, NM"}
    assert set(records["currency"]) == {"USD"}
    assert records["weight_lb"].between(75, 2000).all()
    assert not records["flags"].str.contains("converted").any()
