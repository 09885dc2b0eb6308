"""add, book, rename-market and undo as a person types them."""

from __future__ import annotations

import json
from pathlib import Path

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
