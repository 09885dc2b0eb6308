"""Uploads, downloads and names as the page's views share them."""

from __future__ import annotations

import csv
import io
import tempfile
from pathlib import Path

import pytest
from running import running, sales, token_in

from slidefit.errors import RecordsError
from slidefit.web import pages
from slidefit.web.pages import Uploads, csv_text, held_name
from slidefit.web.security import Settings


def test_files_are_held_under_their_names_in_folders_of_their_own_and_taken_away() -> None:
    held = Uploads()
    names = [
        "../../../../tmp/h\u202ecod.csv",
        "a" * 300 + ".csv",
        "..",
        "\U0001f402" * 90,
        "cod\ud800.csv",
        "hcod.csv",
    ]
    number = held.hold("me", [(name, io.BytesIO(sales())) for name in names])
    upload = held.find(number, "me")
    wanted = [
        "hcod.csv",
        "a" * 236 + ".csv",
        "a file without a name",
        "\U0001f402" * 60,
        "cod.csv",
        "hcod.csv",
    ]
    assert [path.name for path in upload.paths] == wanted
    assert all(path.resolve().parent.parent == upload.folder.resolve() for path in upload.paths)
    assert upload.folder.resolve().is_relative_to(tempfile.gettempdir())
    assert {path.read_bytes() for path in upload.paths} == {sales()}
    with pytest.raises(RecordsError):
        held.find(number, "another")
    held.drop(number)
    assert not upload.folder.exists()
    held.close()


def test_forgotten_uploads_are_swept(monkeypatch: pytest.MonkeyPatch) -> None:
    held = Uploads()
    monkeypatch.setattr(pages, "HELD_SECONDS", -1.0)
    number = held.hold("me", [("a", io.BytesIO(b"x"))])
    with pytest.raises(RecordsError, match="no longer held"):
        held.find(number, "me")
    held.close()


def test_the_oldest_uploads_go_when_too_many_are_held(monkeypatch: pytest.MonkeyPatch) -> None:
    held = Uploads()
    monkeypatch.setattr(pages, "MOST_HELD", 3)
    numbers = [held.hold("me", [("a", io.BytesIO(b"x"))]) for _ in range(5)]
    folders = [held.find(number, "me").folder for number in numbers[-3:]]
    assert all(folder.exists() for folder in folders)
    for number in numbers[:2]:
        with pytest.raises(RecordsError):
            held.find(number, "me")
    held.close()


def test_the_folder_of_uploads_goes_with_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))  # other pages open and close meanwhile
    before = set(Path(tempfile.gettempdir()).glob("slidefit-page-*"))
    with running(Settings(tmp_path / "b", tmp_path / "f", port=0)) as found, found.client() as client:
        token = token_in(client.get("/records").text)
        assert (
            client.post(
                "/records/look", data={"token": token}, files={"files": ("a.csv", sales())}
            ).status_code
            == 200
        )
        assert any(
            each.rglob("upload-*")
            for each in set(Path(tempfile.gettempdir()).glob("slidefit-page-*")) - before
        )
    assert set(Path(tempfile.gettempdir()).glob("slidefit-page-*")) <= before


def test_csv_keeps_numbers_and_disarms_text() -> None:
    import pandas as pd

    table = pd.DataFrame({"=a": ["-1.5", "-x", "\t=1", "plain"], "n": [-1.0, 2.0, 3.0, 4.0]})
    rows = list(csv.reader(io.StringIO(csv_text(table))))
    assert rows[0] == ["'=a", "n"] and [row[0] for row in rows[1:]] == ["-1.5", "'-x", "'\t=1", "plain"]
    assert rows[1][1] == "-1.0"


def test_a_name_is_only_its_last_part() -> None:
    assert held_name("a/b\\c.csv") == "c.csv" and held_name(None) == "a file without a name"
    assert len(held_name("x" * 500)) == 240
