"""Words for a newsletter, and regions side by side, by command."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from slidefit.regions.region_file import read_region
from tests.cli.conftest import ROOT, Run, refused


@pytest.mark.usefixtures("undrawn")
def test_words_for_a_newsletter_and_regions_side_by_side(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "regions"
    shutil.copytree(ROOT / "data_demo" / "regions", folder)
    files = sorted(folder.glob("*.toml"))
    told = run("region", "brief", files[0], "--pictures", folder / "talk", "--json").json
    level, ahead, moved = told["paragraphs"]
    assert "between $" in level and "a year earlier" in level
    assert "compared with" in ahead and "from 500 to 600 lb" in ahead and "first version" in moved
    assert not re.search(r"\b(should|sell now|keep them|buy|recommend)\b", " ".join(told["paragraphs"]))
    assert [Path(p).read_bytes()[:4] for p in told["pictures"]] == [b"\x89PNG"] * 2
    side = run("region", "compare", *files, "--chart", folder / "side.png", "--json").json
    assert side["regions"] == [read_region(file).name for file in files]
    slides = [n for n in side["numbers"] if n["kind"] == "slide"]
    # each file's slides hold at its own barn's price
    assert len(slides) == 8 and all(len(n["values"]) == 3 for n in slides)
    assert not all(n["apart"] for n in slides)
    assert "can't tell" in run("region", "compare", *files).out and (folder / "side.png").exists()
    refused(run("region", "compare", files[0]), "two files")
