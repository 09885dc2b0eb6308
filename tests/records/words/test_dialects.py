"""Published formats are data: a new one is read from its declaration alone, with its units."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from slidefit.records.read import read
from slidefit.records.words import dialects
from slidefit.records.words.dialects import PublishedFormat, dialect_of
from slidefit.records.words.vocabulary import VOCABULARY

BULLETIN = """
[records]
known_by = "evt|bunch|heft|yield"
price_unit = "cents/kg"
weight_unit = "kg"
columns = { date = "evt", market = "where", sex = "bunch", head = "tally", weight = "heft", price = "yield" }

[report]
line_begins = "tally"
price_unit = "$/lb"
weight_unit = "lb"
columns = { head = "tally", weight = "mean heft", price = "mean yield" }
"""
RECORD = {"evt": "2024-10-08", "where": "Fen", "bunch": "Steers", "tally": 12, "heft": 250, "yield": 410}
REPORT = """Fen Livestock Auction
Report for 10/08/2024
Feeder Steers Medium and Large 1
Tally   Mean Heft   Mean Yield
   12         551       1.8475
    9         602       1.7850
"""


@pytest.fixture
def bulletin(monkeypatch: pytest.MonkeyPatch) -> None:
    more = map(PublishedFormat.of, tomllib.loads(BULLETIN).values())
    monkeypatch.setattr(dialects, "DIALECTS", (*dialects.DIALECTS, *more))


@pytest.mark.usefixtures("bulletin")
@pytest.mark.parametrize("kind", ["json", "csv"])
def test_records_of_a_format_added_as_data_are_read_with_its_units(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"a.{kind}"
    text = (
        json.dumps([RECORD])
        if kind == "json"
        else f"{','.join(RECORD)}\n{','.join(map(str, RECORD.values()))}"
    )
    path.write_text(text, encoding="utf-8")
    row = read(path, currency="AUD").records.iloc[0]
    # 1 kg = 2.20462262 lb (NIST Handbook 44, appendix C, rounded there to 2.204 623)
    assert (row["market"], row["sex"], row["head"]) == ("Fen", "steer", 12)
    assert row["weight_lb"] == pytest.approx(551.16, abs=0.01)
    assert row["price_cwt"] == pytest.approx(410 / 2.20462262, abs=0.001)


@pytest.mark.usefixtures("bulletin")
def test_a_text_report_of_a_format_added_as_data_is_read_by_its_line_of_names(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text(REPORT, encoding="utf-8")
    found = read(path).records
    assert found[["head", "weight_lb", "price_cwt"]].to_numpy().tolist() == [
        [12, 551, 184.75],
        [9, 602, 178.5],
    ]
    assert found["muscle"].tolist() == ["1", "1"]


def test_the_units_of_a_format_count_only_for_files_with_all_its_names() -> None:
    names = VOCABULARY["dialects"]["market_news_records"]["known_by"].split("|")
    found = dialect_of([*names, "anything"])
    assert found is not None and found.price_unit == "$/cwt"
    assert dialect_of(names[1:]) is None
