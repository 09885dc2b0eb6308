"""Records wherever they stand in a JSON or XML document."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from slidefit.errors import RecordsError
from slidefit.records.read import read
from slidefit.records.reading.json_records import (
    MOST_DEPTH,
    json_document,
    json_tables,
    xml_document,
)
from slidefit.records.reading.read_options import ReadOptions
from slidefit.records.reading.spreadsheets import parquet_table

LOT = {"sex": "steer", "head": 12, "price": 251.25}


def rows(document: object) -> list[dict[str, str]]:
    found = []
    for table in json_tables(document, "a.json", ReadOptions())[0]:
        names = [heading.text for heading in table.headings]
        texts = [column.texts() for column in table.columns]
        found += [dict(zip(names, row, strict=True)) for row in zip(*texts, strict=True)]
    return found


def test_what_is_said_above_a_list_holds_for_each_of_its_lots() -> None:
    document = {"market": "Fen", "sales": [{"date": "2023-10-03", "lots": [LOT, {**LOT, "head": 9}]}]}
    said = {"market": "Fen", "date": "2023-10-03", "sex": "steer", "price": "251.25"}
    assert rows(document) == [{**said, "head": "12"}, {**said, "head": "9"}]


@pytest.mark.parametrize(
    "document",
    [
        [LOT, {**LOT, "head": 9}],
        {"sex": ["steer", "steer"], "head": [12, 9], "price": [251.25, 251.25]},
        {"columns": ["sex", "head", "price"], "data": [["steer", 12, 251.25], ["steer", 9, 251.25]]},
        {"sex": {"0": "steer", "1": "steer"}, "head": {"0": 12, "1": 9}, "price": {"0": 251.25, "1": 251.25}},
        {"0": LOT, "1": {**LOT, "head": 9}},
        [{"properties": LOT}, {"properties": {**LOT, "head": 9}}],
    ],
)
def test_one_table_in_six_shapes(document: object) -> None:
    lot = {"sex": "steer", "price": "251.25"}
    assert rows(document) == [{**lot, "head": "12"}, {**lot, "head": "9"}]


def test_low_in_a_list_of_weights_is_a_low_weight() -> None:
    assert rows({"weights": [{"low": 500, "high": 550}, {"low": 551, "high": 600}]})[0] == {
        "weight low": "500",
        "weight high": "550",
    }


def test_a_document_a_line_and_what_is_no_json() -> None:
    assert json_document(f"{json.dumps(LOT)}\n\n{json.dumps(LOT)}\n", "a.json") == [LOT, LOT]
    with pytest.raises(RecordsError, match=r"a\.json: is no JSON .* Fetch or save it again"):
        json_document('{"sex": ', "a.json")
    with pytest.raises(RecordsError, match=r"a\.parquet: the Parquet file can't be read"):
        parquet_table(b"PAR1 but damaged PAR1", "a.parquet", ReadOptions())


@pytest.mark.parametrize(("depth", "read_at_all"), [(MOST_DEPTH - 2, True), (64, False), (100_000, False)])
def test_lists_inside_one_another_are_bounded(depth: int, read_at_all: bool, tmp_path: Path) -> None:
    rows = json.dumps([{**LOT, "date": "2023-10-03", "weight_lb": lb} for lb in (512, 604)])
    (tmp_path / "a.json").write_text('{"a":' * depth + rows + "}" * depth, encoding="utf-8")
    if read_at_all:
        assert read(tmp_path / "a.json").accepted == 2
        return
    with pytest.raises(RecordsError, match=r"a\.json: (the document holds lists|is no JSON)"):
        read(tmp_path / "a.json")


def test_one_record_in_xml_stays_a_record_and_repeated_ones_are_a_list() -> None:
    two = "<a xmlns='u'><sale><lot n='1'/><lot n='2'/></sale><sale><lot n='3'/></sale></a>"
    assert xml_document(two, "a") == {
        "sale": [{"lot": [{"n": "1"}, {"n": "2"}]}, {"lot": [{"n": "3"}]}]
    }  # the lone lot of the second sale is a list like those of the first


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (
            '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bb"><!ENTITY c "&b;&b;">]><a>&c;</a>',
            "document type",
        ),
        ("<a>" * (MOST_DEPTH + 1) + "</a>" * (MOST_DEPTH + 1), "more than 64 deep"),
        ("<a><b></a>", "is no XML"),
    ],
)
def test_xml_that_is_no_list_of_records_is_refused(text: str, fault: str) -> None:
    with pytest.raises(RecordsError, match=fault):
        xml_document(text, "a")


def test_names_beside_rows_are_headings_whatever_their_keys(tmp_path) -> None:
    path = tmp_path / "a.json"
    path.write_text(
        '{"yard": "Fen Livestock", "fields": ["Sale date", "Sex", "Hd", "Wt", "$/cwt"],'
        ' "lots": [["10/06/2026", "strs", 21, 512, 401.25], ["10/06/2026", "hfrs", 14, 498, 371]]}'
    )
    assert read(path).records[["market", "price_cwt"]].to_numpy().tolist() == [
        ["Fen Livestock", 401.25],
        ["Fen Livestock", 371.0],
    ]


def test_the_name_of_a_list_is_its_class_only_where_it_names_nothing_else() -> None:
    lots = [{"wt": 512, "price": 351}, {"wt": 498, "price": 348}]
    for name, named in (("Feeder Steers", True), ("Bull Creek Yards", False)):
        tables, _ = json_tables([{"name": name, "lots": lots}], "a", ReadOptions())
        assert ("class" in [heading.text for heading in tables[0].headings]) == named


def test_counts_of_a_list_are_no_head_of_its_lots_and_keys_tell_day_class_and_weight() -> None:
    lots = [{"sex": "steer", "price": 251.25}, {"sex": "heifer", "price": 231.25}]
    assert all("head" not in row for row in rows({"head": 40, "lots": lots}))
    assert rows({"totalCount": 1, "lots": lots[:1]}) == rows(lots[:1])
    one = [{"head": 12, "prices": [{"price": 251.25}]}]
    assert [row["head"] for row in rows(one)] == ["12"]
    keyed = {"2026-10-06": {"steers": {"400-500": LOT, "500-600": LOT}}}
    told = [(row["date"], row["class"], row["weight range"]) for row in rows(keyed)]
    assert told == [("2026-10-06", "steers", "400-500"), ("2026-10-06", "steers", "500-600")]


def test_a_list_that_another_points_to_by_id_is_told_of_its_records_and_a_yard_has_a_name() -> None:
    yards = [{"id": 1, "name": "Fen Hill"}, {"id": 2, "name": "Oak Bend"}]
    lots = [{"id": at, "yard_id": 1 + at % 2, **LOT} for at in range(3)]
    assert [row["yard name"] for row in rows({"yards": yards, "lots": lots})] == [
        "Fen Hill",
        "Oak Bend",
        "Fen Hill",
    ]
    lots[0]["yard_id"] = 9  # of no yard: nothing is joined
    assert not any("yard name" in row for row in rows({"yards": yards, "lots": lots}))
    told = xml_document("<auction name='Fen Hill'><lot price='251'/><lot price='231'/></auction>", "a")
    assert [row["market"] for row in rows(told)] == ["Fen Hill", "Fen Hill"]
