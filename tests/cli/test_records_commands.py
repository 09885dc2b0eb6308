"""add, book, rename-market and undo as a person types them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.cli.conftest import Run

HEAD = "Sale Date,Barn,Class,Grade,Head,Avg Wt,Price $/cwt\n"
LOTS = ("10/05/2026,{},Steers,ML 1,10,520,380.00\n", "10/05/2026,{},Steers,ML 1,12,610,345.50\n")


def sale(path: Path, barn: str) -> None:
    path.write_text(HEAD + "".join(LOTS).format(barn, barn))


def test_two_names_of_a_market_become_one_and_two_again(run: Run, tmp_path: Path) -> None:
    sale(tmp_path / "a.csv", "Alder Ford Livestock")
    sale(tmp_path / "b.csv", "Alder Ford")
    for name in ("a.csv", "b.csv"):
        assert run("add", name).code == 0
    assert json.loads(run("book", "--json").out)["records"] == 4
    told = run("book", "rename-market", "Alder Ford", "Alder Ford Livestock")
    assert told.code == 0 and "2 records of Alder Ford are now of Alder Ford Livestock" in told.out
    document = json.loads(run("book", "--json").out)
    assert document["records"] == 2
    renaming = document["batches"][-1]
    assert renaming["renamed"] == {"from": "Alder Ford", "to": "Alder Ford Livestock"}
    assert "Alder Ford renamed Alder Ford Livestock" in " ".join(run("book").out.split())
    again = run("add", "b.csv")
    assert "Alder Ford was entered as Alder Ford Livestock" in again.out
    assert run("undo", renaming["batch"]).code == 0
    assert json.loads(run("book", "--json").out)["records"] == 4


def test_a_market_that_is_not_there_is_refused(run: Run, tmp_path: Path) -> None:
    sale(tmp_path / "a.csv", "Alder Ford Livestock")
    run("add", "a.csv")
    for old, new, word in (
        ("Gone", "New", "Alder Ford Livestock"),
        ("Alder Ford Livestock", " ", "another name"),
    ):
        refused = run("book", "rename-market", old, new)
        assert refused.code == 2 and word in refused.err


def test_a_source_is_taught_once_and_known_again(run: Run, tmp_path: Path) -> None:
    rows = "When;What;Kilos;Worth\n03.10.2026;Steers;240;7.4\n"
    (tmp_path / "one.csv").write_text(rows)
    (tmp_path / "two.csv").write_text(rows.replace("240", "260"))
    words = [
        word
        for pair in ("When=sale_date", "What=sex", "Kilos=weight_lb", "Worth=price_cwt")
        for word in ("--map", pair)
    ]
    units = (
        "--weight-unit",
        "kg",
        "--price-unit",
        "$/kg",
        "--date-order",
        "dmy",
        "--market",
        "Fern Ridge",
    )
    first = run("add", "one.csv", *words, *units, "--source", "ridge", "--json")
    assert first.code == 0 and first.json["added"] == 1, first
    second = run("add", "two.csv", "--json")
    assert second.code == 0 and second.json["added"] == 1, second
    run("export", "tidy.csv")
    with (tmp_path / "tidy.csv").open(newline="") as file:
        told = list(csv.DictReader(file))
    assert [r["sale_date"] for r in told] == ["2026-10-03"] * 2 and {r["market"] for r in told} == {
        "Fern Ridge"
    }
    assert min(float(r["weight_lb"]) for r in told) == pytest.approx(240 * 2.20462262, abs=0.1)
    listed = run("source", "list", "--json").json["sources"]
    assert [source["name"] for source in listed] == ["ridge"] and listed[0]["columns"]["Kilos"] == "weight"
    assert "ridge" in run("source", "list").out
    card = run("source", "show", "ridge").out
    (tmp_path / "mine.toml").write_text(card.replace("Fern Ridge", "Fern Valley"))
    assert run("source", "check", "mine.toml").code == 0
    lent = run("add", "one.csv", "--source", "mine.toml", "--json")
    assert lent.code == 0 and lent.json["files"][0]["source"] == "ridge"
    (tmp_path / "mine.toml").write_text(card.replace("price_unit", "prize_unit"))
    wrong = run("source", "check", "mine.toml")
    assert wrong.code == 2 and "line" in wrong.err and "price_unit" in wrong.err
    assert run("source", "forget", "ridge").code == 0 and run("source", "show", "ridge").code == 2


def test_words_are_taught_from_the_terminal(run: Run, tmp_path: Path) -> None:
    rows = "date,sex,head,wt,price\n2026-10-03,1,12,512,251\n2026-10-03,2,9,498,228\n2026-10-03,1,7,560,240\n"
    (tmp_path / "coded.csv").write_text(rows)
    asked = run("add", "coded.csv")
    assert asked.code == 2 and '--value "sex:1=?"' in asked.err.replace("\n", " ")
    words = ("--value", "sex:1=steer", "--value", "sex:2=heifer")
    shown = run("add", "coded.csv", *words, "--dry-run")
    assert shown.code == 0 and "Words of the columns" in shown.out
    assert run("add", "coded.csv", *words, "--json").json["added"] == 3
    assert run("add", "coded.csv", "--json").json["already_there"] == 3
    for wrong in ("sex=steer", "sex:1", ":1=steer"):
        assert run("add", "coded.csv", "--value", wrong).code == 2
