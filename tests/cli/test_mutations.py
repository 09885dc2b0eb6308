"""Source cards and books changed in every way, at the command line: the same answer, or exit 2 with its place."""

from __future__ import annotations

import errno
import os
import re
import tempfile
from pathlib import Path

import pytest

from slidefit.records.reading.source_card import SourceCard, card_toml
from tests.cli.conftest import Outcome, Run
from tests.records.sale_files import book_of_lots, lot_file

VALUES = (
    "0", "-1", "1e9", "nan", "inf", '""', '"x"', "true", "[]", "{}", "1979-05-27", "1" + "0" * 30, '["a", 1]',
)  # fmt: skip
CARD = SourceCard(
    name="fen",
    headings=("Head", "Wt"),
    mapping={"Wt": "weight"},
    values={"sex": {"1": "steer"}},
    market="Fen Gate",
    price_unit="cwt",
    weight_unit="lb",
    date_order="mdy",
    sale_day="title",
    skip_rows=1,
    market_names={"Fen": "Fen Gate"},
    ranges={"price_cwt": (100.0, 400.0)},
)
CUTS, PLACES_IN_BOOK = 200, 40  # of a book 200 have been tried once: docs/safety.md


def told(outcome: Outcome, file: str) -> bool:
    """Whether it was an answer; a refusal names the file and says what to do."""
    assert outcome.code in (0, 2), outcome
    assert "Traceback" not in outcome.err and "fault of the program" not in outcome.err
    if outcome.code == 2:
        assert file in outcome.err and outcome.err.rstrip().count(". ") and not outcome.out, outcome
    return outcome.code == 0


def test_any_change_of_a_source_card(run: Run, tmp_path: Path) -> None:
    card = tmp_path / "fen.toml"
    lines = card_toml(CARD).split("\n")
    whole = "\n".join(lines)
    texts = [
        "\n".join([*lines[:at], f"{key[1]} = {value}", *lines[at + 1 :]])
        for at, line in enumerate(lines)
        if (key := re.match(r'^("[^"]*"|[\w-]+) *=', line))
        for value in VALUES
    ]
    texts += ["\n".join([*lines[:at], *lines[at + 1 :]]) for at in range(len(lines))]
    texts += [whole[:cut] for cut in range(0, len(whole), max(len(whole) // CUTS, 1))]
    answers = 0
    for text in texts:
        card.write_text(text)
        answers += told(run("source", "check", "fen.toml"), "fen.toml")
    assert len(texts) > 300 and 20 < answers < len(texts) - 100


def test_any_damage_of_a_book(run: Run, tmp_path: Path) -> None:
    """Bytes changed at twenty places, and twenty truncations: the export is the same, or refused."""
    book = book_of_lots(tmp_path / "good.duckdb")
    assert run("export", "good.csv", "--book", "good.duckdb").code == 0
    good, expected = book.path.read_bytes(), (tmp_path / "good.csv").read_bytes()
    step = 2 * len(good) // PLACES_IN_BOOK
    damaged = [good[:size] for size in range(0, len(good), step)]
    damaged += [
        good[:at] + bytes(255 - byte for byte in good[at : at + 8]) + good[at + 8 :]
        for at in range(3, len(good), step)
    ]
    for content in damaged:
        (tmp_path / "bad.duckdb").write_bytes(content)
        if told(run("export", "bad.csv", "--book", "bad.duckdb"), "bad.duckdb"):
            assert (tmp_path / "bad.csv").read_bytes() == expected
        else:
            assert not (tmp_path / "bad.csv").exists()
        assert (tmp_path / "bad.duckdb").read_bytes() == content
        (tmp_path / "bad.csv").unlink(missing_ok=True)


def test_an_export_to_a_disk_that_can_only_be_read(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lot_file(tmp_path / "a.csv")
    assert run("add", "a.csv").code == 0
    made = tempfile.mkstemp

    def only_read(*words: object, **named: object) -> object:
        if str(named.get("dir", "")).endswith("disk"):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        return made(*words, **named)  # type: ignore[call-overload]

    monkeypatch.setattr(tempfile, "mkstemp", only_read)
    (tmp_path / "disk").mkdir()
    outcome = run("export", "disk/out.csv")
    assert outcome.code == 2
    assert (
        "disk/out.csv: can't be written: the disk can only be read. Choose a folder on another disk."
        in outcome.err
    )


def test_a_region_never_takes_the_place_of_another_file(run: Run, tmp_path: Path) -> None:
    lot_file(tmp_path / "a.csv")
    assert run("add", "a.csv").code == 0
    (tmp_path / "plan.toml").write_text("[[groups]]\n")
    for words in (
        ("make", "Plan"),
        ("make", "West", "--out", "plan.toml"),
        ("back", "plan.toml"),
        ("update", "plan.toml"),
    ):
        assert not told(run("region", *words), "plan.toml")
        assert (tmp_path / "plan.toml").read_text() == "[[groups]]\n"
    assert {path.name for path in tmp_path.iterdir()} == {
        "a.csv",
        "plan.toml",
        "sales.duckdb",
        "sales.sources",
    }
