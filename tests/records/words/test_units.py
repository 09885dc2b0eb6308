"""Money by its name, by Canadian province, and row by row where both countries stand in one list."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.records.read import read
from slidefit.records.words.units import currency_of, is_province, names_province


@pytest.mark.parametrize(
    ("text", "code"),
    [("C$/cwt", "CAD"), ("$/cwt", ""), ("pesos por kg", "MXN"), ("R$ 8,50", "BRL"), ("US$", "USD")],
)
def test_money_by_its_name(text: str, code: str) -> None:
    assert currency_of(text) == code


def test_provinces_are_no_states() -> None:
    assert all(map(is_province, ("AB", "Saskatchewan", "QC", "Québec", "BC")))
    assert not any(map(is_province, ("MT", "ND", "NSW", "Alberta Springs", "")))
    assert names_province("Alder Coulee, Alberta") and not names_province("Sale on Monday, MB")


@pytest.mark.parametrize(
    ("places", "said", "wanted"),
    [
        (("AB", "SK"), None, ["CAD", "CAD"]),
        (("MT", "SK"), None, ["USD", "CAD"]),
        (("MT", "ND"), None, ["USD", "USD"]),
        (("AB", "SK"), "USD", ["USD", "USD"]),
    ],
)
def test_money_by_province(
    tmp_path: Path, places: tuple[str, str], said: str | None, wanted: list[str]
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "date,state,class,head,wt,price\n"
        f"2023-10-03,{places[0]},Steers,40,560,352\n2023-10-03,{places[1]},Steers,35,565,349\n"
    )
    result = read(path, currency=said)
    assert result.records["currency"].tolist() == wanted
    assert any("taken as CAD" in note for note in result.notes) == ("CAD" in wanted)
