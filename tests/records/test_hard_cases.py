"""Small files of many kinds: what they must give, what must be set aside and why. All are invented for these tests."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from slidefit.errors import QuestionError
from slidefit.records.read import read
from tests.records.as_expected import TODAY, read_as_expected

FOLDER = Path(__file__).parent / "hard"
EXPECTED: dict[str, dict[str, Any]] = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))


def test_every_file_has_its_expectation() -> None:
    assert {path.name for path in FOLDER.iterdir()} - {"expected.json"} == set(EXPECTED)


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_hard_file(name: str) -> None:
    wanted = EXPECTED[name]
    result = read_as_expected(FOLDER / name, wanted, wanted.get("set_aside"))
    if result is None:
        return
    records = result.records
    assert len(records) == wanted["accept"]
    for row in wanted["rows"]:
        near = records[(records["source_row"] == row["source_row"]) & (records["sex"] == row["sex"])]
        near = near[(near["weight_lb"] - row["weight_lb"]).abs() < 0.01]
        near = near[(near["price_cwt"] - row["price_cwt"]).abs() < 0.0001]
        assert len(near) >= 1, f"{name}: no record like {row}"
        found = near.iloc[0]
        assert found["sale_date"].date().isoformat() in set(near["sale_date"].dt.strftime("%Y-%m-%d"))
        assert row["sale_date"] in set(near["sale_date"].dt.strftime("%Y-%m-%d"))
        for key in ("market", "frame", "muscle", "traits", "currency", "flags"):
            assert row[key] in set(near[key]), key
        heads = near["head"]
        assert heads.isna().any() if row["head"] is None else (heads == row["head"]).any()


def test_names_of_people_never_reach_the_records() -> None:
    for name in (
        "h01_lot_list_reprod.csv",
        "h02_lot_weights.csv",
        "h08_nested.json",
        "h44_glued_headings.csv",
    ):
        text = read(FOLDER / name, today=TODAY).records.to_csv()
        for person in (
            "Harold",
            "Quist",
            "Otto",
            "Abel",
            "Lunt",
            "Cy Marsh",
            "Q. Orr",
            "L. Ives",
            "Doe",
            "Roe",
        ):
            assert person not in text, name


def test_units_asked_about_are_settled_by_the_flags() -> None:
    metric = read(FOLDER / "h33_ask_unit.csv", price_unit="cents/kg", weight_unit="kg", today=TODAY).records
    assert metric["weight_lb"].iloc[0] == pytest.approx(280 * 2.20462262, abs=0.01)
    assert metric["price_cwt"].iloc[0] == pytest.approx(380 * 0.45359237, abs=0.0001)
    plain = read(FOLDER / "h33_ask_unit.csv", price_unit="$/cwt", weight_unit="lb", today=TODAY).records
    assert plain["price_cwt"].tolist() == [380.0, 352.0, 371.0, 366.0]


def test_prices_by_the_head_are_converted_only_when_said() -> None:
    name = FOLDER / "h18_only_per_head.csv"
    with pytest.raises(QuestionError, match="by the head"):
        read(name, today=TODAY)
    records = read(name, price_unit="$/head", today=TODAY).records
    assert records["price_cwt"].iloc[0] == pytest.approx(948.22 / 521 * 100, abs=0.0001)
    assert set(records["flags"]) == {"converted"}
