"""Unknown headings: suggested by spelling and by cells, asked about in one round, never read by a guess."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.read import read
from slidefit.records.reading.suggestions import NEAR, near_field

ROWS = "10/03/2023,Rook Hill,Steers,12,512,251.25\n10/10/2023,Rook Hill,Heifers,9,498,228.00\n"


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("Sale Dat", "date"), ("Markt", "market"), ("Clas", "sex"), ("Haed", "head"), ("Avrage Prise", "price"),
        ("Wieght", "weight"), ("Pirce", "price"), ("Numbr of head", "head"), ("Auction Dtae", "date"),
        ("Kolor", ""), ("Zebra", ""), ("xy", ""),
    ],
)  # fmt: skip
def test_the_nearest_field_by_spelling(heading: str, field: str) -> None:
    assert near_field(heading) == field
    assert 0.5 < NEAR < 1.0


@pytest.mark.parametrize("heading", ["What day,What place,What,How big,How wide,How much", ""])
def test_all_headings_are_asked_about_in_one_round(tmp_path: Path, heading: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(f"{heading}\n{ROWS}" if heading else ROWS)
    with pytest.raises(QuestionError) as asked:
        read(path)
    assert "(10/03/2023, 10/10/2023)" in str(asked.value.what) and "(Rook Hill)" in str(asked.value.what)
    assert [field for _, field, _ in asked.value.values["headings"]].count("weight") == 1
    for field in ("date", "sex", "head", "weight", "price"):
        assert f"={field}" in str(asked.value.remedy)
    names = (heading or "column 1,column 2,column 3,column 4,column 5,column 6").split(",")
    fields = ("date", "market", "sex", "head", "weight", "price")
    result = read(path, mapping=dict(zip(names, fields, strict=True)))
    assert result.accepted == 2
    assert [text for _, text in result.files[0].samples] == [
        line.replace(",", " | ") for line in ROWS.strip().split("\n")
    ]


def test_a_table_of_other_things_is_refused_and_not_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("Name,Age,Legs\nRex,4,4\nTom,7,4\n")
    with pytest.raises(RecordsError) as fault:
        read(path)
    assert not isinstance(fault.value, QuestionError)


def test_a_class_between_rows_under_unknown_headings_begins_the_next_table(tmp_path: Path) -> None:
    path = tmp_path / "yards.csv"
    heading = "Weight,Rook Hill,Oak Bend,Tern Run\n"
    path.write_text(
        "Prices by yard, 10/19/2026 ($ per cwt)\n\nFeeder steers\n"
        f"{heading}400-499,428.50,436.75,436.00\n\nFeeder heifers\n{heading}400-499,402.50,411.50,408.00\n"
        "\nFeeder bulls\n400-499,405.50,413.50,401.00\n"
    )
    found = read(path).records
    assert list(found["sex"]) == ["steer"] * 3 + ["heifer"] * 3 + ["bull"] * 3
    assert list(found["source_row"])[::3] == [5, 9, 12]
