"""Small files with the habits of many desks and countries: every record, reason and question. All are invented here."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from slidefit.errors import QuestionError
from slidefit.records.read import read
from tests.records.as_expected import TODAY, read_as_expected

FOLDER = Path(__file__).parent / "odd"
EXPECTED: dict[str, dict[str, Any]] = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))
COLUMNS = ["sale_date", "date_precision", "market", "sex", "head", "weight_lb", "price_cwt", "currency"]
PEOPLE = ("Tolland", "Oakdale", "Teal", "Bright", "Orrick", "Nyland", "Crane", "Finch")


def test_every_file_has_its_expectation() -> None:
    assert {path.name for path in FOLDER.iterdir()} - {"expected.json"} == set(EXPECTED)


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_odd_file(name: str) -> None:
    wanted = EXPECTED[name]
    result = read_as_expected(FOLDER / name, wanted, wanted.get("reasons"))
    if result is None:
        return
    records = result.records
    assert len(records) == len(wanted["rows"])
    for (_, record), row in zip(records.iterrows(), wanted["rows"], strict=True):
        told = dict(zip(COLUMNS, row, strict=True))
        assert record["sale_date"].date().isoformat() == told["sale_date"]
        for key in ("date_precision", "market", "sex", "currency"):
            assert record[key] == told[key], key
        assert record["weight_lb"] == pytest.approx(told["weight_lb"], abs=0.01)
        assert record["price_cwt"] == pytest.approx(told["price_cwt"], abs=0.0001)
        assert told["head"] == record["head"] or (told["head"] is None and record["head"] != record["head"])
    text = records.to_csv()
    assert not any(person in text for person in PEOPLE)


def test_flags_settle_what_was_asked() -> None:
    spanish = read(
        FOLDER / "spanish_nounit.csv", today=TODAY, weight_unit="kg", price_unit="$/kg", currency="USD"
    ).records
    assert spanish["weight_lb"].iloc[0] == pytest.approx(250 * 2.20462262, abs=0.01)
    assert spanish["price_cwt"].iloc[0] == pytest.approx(8.5 * 45.359237, abs=0.0001)
    with pytest.raises(QuestionError, match="country's money") as asked:
        read(FOLDER / "spanish_nounit.csv", today=TODAY, weight_unit="kg", price_unit="$/kg")
    assert "currency" in asked.value.remedy
    mixed = read(FOLDER / "date_conflict.csv", today=TODAY, date_order="dmy")
    assert mixed.records["sale_date"].dt.strftime("%Y-%m-%d").tolist() == ["2023-10-13", "2023-11-05"]
    assert mixed.reasons == {"missing_date": 1}


def test_an_old_workbook_with_merged_cells_serials_and_a_hidden_sheet() -> None:
    """tamarack.xls and dates1904.xls were written by the package xlwt 1.3.0; the second counts days from 1904."""
    result = read(FOLDER / "tamarack.xls", today=TODAY)
    assert any("hidden sheets were passed over: old draft" in note for note in result.notes)
    assert 999.0 not in set(result.records["price_cwt"])
    draft = read(FOLDER / "tamarack.xls", today=TODAY, sheet="old draft").records
    assert draft["price_cwt"].tolist() == [999.0]
    early = read(FOLDER / "dates1904.xls", today=TODAY)
    assert early.reasons == {"missing_price": 1}  # a formula that was saved without its value


def test_a_range_of_units_is_told_in_the_account() -> None:
    notes = " ".join(read(FOLDER / "quarterly_b.csv", today=TODAY).notes)
    assert "averages over quarters" in notes and "were set aside" in notes
    assert "whole months" in " ".join(read(FOLDER / "month_end.csv", today=TODAY).notes)
