"""Former versions are kept, listed and put back; nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import OutputError, SlidefitError
from slidefit.regions.history import formers, go_back, history_folder, keep_former, replace_region
from slidefit.regions.reading import read_region
from slidefit.regions.region import Region
from slidefit.regions.writing import save_region


def renamed(region: Region, name: str) -> Region:
    return region.model_copy(update={"name": name})


def test_versions_come_and_go(tmp_path: Path, shipped: Region) -> None:
    file = tmp_path / "west.toml"
    assert replace_region(renamed(shipped, "one"), file) is None
    file.write_text(file.read_text().replace("remarks = []", 'remarks = ["by hand"]  # mine'))
    hand = file.read_bytes()
    kept = replace_region(renamed(shipped, "two"), file)
    assert kept is not None and kept.read_bytes() == hand
    replace_region(renamed(shipped, "three"), file)
    assert [(f.number, f.region.name) for f in formers(file) if f.region] == [(1, "one"), (2, "two")]
    assert go_back(file, 1).number == 1
    assert file.read_bytes() == hand
    assert [f.region.name for f in formers(file) if f.region] == ["one", "two", "three"]
    go_back(file)
    assert read_region(file).name == "three"


def test_no_such_version(tmp_path: Path, shipped: Region) -> None:
    file = save_region(shipped, tmp_path / "west.toml")
    with pytest.raises(SlidefitError, match="no former version"):
        go_back(file)
    keep_former(file)
    with pytest.raises(SlidefitError, match=r"no former version 9.*versions are: 1"):
        go_back(file, 9)


def test_a_former_version_that_is_damaged_is_listed_as_such(tmp_path: Path, shipped: Region) -> None:
    file = save_region(shipped, tmp_path / "west.toml")
    keep_former(file)
    (history_folder(file) / "0002.toml").write_text("format = 1")
    (history_folder(file) / "notes.txt").write_text("mine")
    assert [(f.number, f.region is None) for f in formers(file)] == [(1, False), (2, True)]


def test_a_history_that_cannot_be_kept_stops_the_update(tmp_path: Path, shipped: Region) -> None:
    file = save_region(shipped, tmp_path / "west.toml")
    history_folder(file).write_text("in the way")
    before = file.read_bytes()
    with pytest.raises(OutputError, match="former version"):
        replace_region(renamed(shipped, "new"), file)
    assert file.read_bytes() == before
