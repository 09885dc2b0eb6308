"""The demonstration by command."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Run


@pytest.mark.usefixtures("undrawn")
def test_demo_leaves_everything(run: Run, tmp_path: Path) -> None:
    told = run("demo", "--out", "out", "--json")
    assert told.code == 0, told.err
    demo_folder = tmp_path / "out"
    names = {path.name for path in demo_folder.iterdir()}
    assert names == set(told.json["files"])
    assert {
        "sales.duckdb",
        "slide.json",
        "report.html",
        "report.pdf",
        "plan.toml",
        "typed_prices.toml",
        "season.png",
        "season.svg",
    } <= names
    assert {"price_by_weight.png", "slide_by_weight.svg", "gain_heifers.png"} <= names
    page = (demo_folder / "report.html").read_text()
    assert "<html" in page and "http://" not in page.replace("http://www.w3.org/", "")
