"""Bad input: one clear message that names the place and the remedy, exit code 2, and nothing touched."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from slidefit.cli import plan_commands
from slidefit.market import market_fit
from slidefit.market.saved_fit import load_fit
from slidefit.records.sale_book import SaleBook
from slidefit.report.document import document
from tests.cli.conftest import ROOT, Run, first_lots, refused

GOOD = (
    "Sale Date,Barn,Class,Grade,Head,Avg Wt,Price $/cwt\n"
    "10/05/2026,Alder Ford Livestock,Steers,ML 1,10,520,380.00\n"
    "10/05/2026,Alder Ford Livestock,Steers,ML 1,12,610,345.50\n"
)
PLAN = (ROOT / "data_demo" / "plan.toml").read_text()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", ("barn.csv", "empty")),
        (
            "Sale Date,Class,Head,Avg Wt\n10/05/2026,Steers,10,520\n",
            ("barn.csv", "price", "--map", "Their Heading"),
        ),
    ],
)
def test_unreadable_file(run: Run, tmp_path: Path, content: str, words: tuple[str, ...]) -> None:
    (tmp_path / "barn.csv").write_text(content)
    refused(run("add", "barn.csv"), *words)
    assert not (tmp_path / "sales.duckdb").exists()


def test_missing_files(run: Run, demo_folder: Path) -> None:
    refused(run("add", "gone.csv"), "gone.csv", "no such file")
    refused(run("fit", "--book", "gone.duckdb"), "gone.duckdb")
    refused(run("book", "--book", "gone.duckdb"), "gone.duckdb")
    refused(run("slide", "--fit", "gone.json"), "gone.json", "slidefit fit")
    refused(run("compare", "gone.toml", "--fit", demo_folder / "slide.json"), "gone.toml")
    assert not Path("gone.duckdb").exists()


def test_plan_faults_are_told_together_with_lines(run: Run, tmp_path: Path, demo_folder: Path) -> None:
    bad = PLAN.replace("gain_lb_day = 2.0", "gain_lb_dya = 2.0").replace(
        "weight_lb = 585", "weight_lb = -585"
    )
    (tmp_path / "plan.toml").write_text(bad)
    place = {word: bad[: bad.index(word)].count("\n") + 1 for word in ("gain_lb_dya", "weight_lb = -585")}
    outcome = run("compare", "plan.toml", "--fit", demo_folder / "slide.json")
    refused(outcome, "gain_lb_dya", "gain_lb_day", "-585", *(f"line {line}" for line in place.values()))


def test_book_that_is_not_ours_stays_as_it_was(run: Run, tmp_path: Path) -> None:
    (tmp_path / "barn.csv").write_text(GOOD)
    foreign = tmp_path / "other.duckdb"
    with duckdb.connect(str(foreign)) as connection:
        connection.execute("create table cows (name text)")
    text = tmp_path / "notes.duckdb"
    text.write_text("not a database")
    for book in (foreign, text):
        before = book.read_bytes()
        refused(run("add", "barn.csv", "--book", book), book.name)
        refused(run("fit", "--book", book), book.name)
        assert book.read_bytes() == before


def test_fit_that_is_not_ours(run: Run, tmp_path: Path) -> None:
    (tmp_path / "slide.json").write_text('{"format": "something else"}')
    refused(run("slide"), "slide.json", "not a saved fit")
    (tmp_path / "slide.json").write_text('{"format": "slidefit slide", "version": 99}')
    refused(run("slide"), "version 99")


def test_missing_folder_for_the_result(run: Run, demo_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_commands, "_report_of", lambda *_: document("Keep."))
    monkeypatch.setattr(market_fit, "fit_market", lambda *_, **__: load_fit(demo_folder / "slide.json"))
    plan = ROOT / "data_demo" / "plan.toml"
    refused(run("report", plan, "--fit", demo_folder / "slide.json", "--out", "gone/report.html"), "gone")
    refused(run("report", plan, "--fit", demo_folder / "slide.json", "--pdf", "gone/report.pdf"), "gone")
    refused(run("fit", "--book", demo_folder / "sales.duckdb", "--out", "gone/slide.json"), "gone")
    (Path("file")).write_text("x")
    refused(run("demo", "--out", "file"), "file")


def full_disk(folder: Path, limit: int, *words: str) -> subprocess.CompletedProcess[str]:
    """Run the command where no file may grow past ``limit`` bytes: what a full disk does to a writer."""
    return subprocess.run(  # -B: Python would leave its own compiled files cut short
        [sys.executable, "-B", "-c", "from slidefit.cli.main import run; run()", *words],
        cwd=folder, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit)),
    )  # fmt: skip


def test_full_disk_leaves_what_was_there(run: Run, tmp_path: Path) -> None:
    """The book's file; those that slidefit writes itself: `test_write_faults.py`."""
    (tmp_path / "barn.csv").write_text(GOOD)
    assert run("add", "barn.csv").code == 0
    before = SaleBook(tmp_path / "sales.duckdb").records()
    done = full_disk(tmp_path, 20_000, "add", first_lots("tern_hollow_sales.csv", tmp_path).name)
    assert done.returncode == 2 and "Traceback" not in done.stderr, done.stderr
    assert "sales.duckdb" in done.stderr and "larger than the disk" in done.stderr
    pd.testing.assert_frame_equal(SaleBook(tmp_path / "sales.duckdb").records(), before)
    assert run("book", "--json").json["records"] == 2
    left = {p.name for p in tmp_path.iterdir()} - {
        "sales.duckdb.wal"
    }  # DuckDB's own, emptied at the next opening
    assert left == {"barn.csv", "tern_hollow_sales.csv", "sales.duckdb", "sales.sources"}
