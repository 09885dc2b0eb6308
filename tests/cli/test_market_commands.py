"""Past forecasts and past decisions by command, on four years of one barn."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from slidefit.records.read import read
from slidefit.records.sale_book import SaleBook
from tests.cli.conftest import ROOT, Run


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    lines = (ROOT / "data_demo" / "tern_hollow_sales.csv").read_text().splitlines()
    kept = [lines[0], *(line for line in lines[1:] if line[:4] in ("2021", "2022", "2023"))]
    (folder / "barn.csv").write_text("\n".join(kept) + "\n")
    SaleBook(folder / "sales.duckdb").add(read(folder / "barn.csv"))
    return folder


@pytest.fixture
def small_book(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path, dirs_exist_ok=True))


def test_backtest(run: Run, small_book: Path) -> None:
    done = run("backtest", "--months-kept", 2, "--out", "years.png", "--json")
    assert done.code == 0, done.err
    told = done.json
    assert [row["months_ahead"] for row in told["horizons"]] == list(range(1, 10))
    assert all(0 <= row["covered_80_pct"] <= 100 for row in told["horizons"] if row["forecasts"])
    assert sum(row["decisions"] for row in told["money"]["by_year"]) >= 6
    assert all(row["hindsight"] >= max(row["advice"], 0) - 1e-9 for row in told["money"]["by_months_kept"])
    assert {"crps_pct", "pit_fifths", "rmse_pct_low", "skill_last_sale_pct"} <= set(told["horizons"][0])
    assert told["horizons"][0]["walk_ratio"] is None and told["futures_share"] is None
    keys = {"months", "said_low", "said_high", "decisions", "came_pct"}
    assert told["said_came"] and all(set(row) == keys for row in told["said_came"])
    assert told["money"]["notes"] and (small_book / "years.png").stat().st_size > 10_000


def test_backtest_with_futures_of_the_book(run: Run, small_book: Path) -> None:
    assert run("futures", "add", ROOT / "data_demo" / "feeder_futures.tsv").code == 0
    told = run("backtest", "--json").json
    assert 0.3 < told["horizons"][0]["walk_ratio"] < 2.0
    assert 0.0 <= told["futures_share"] <= 1.0
    assert any("with futures the error was" in note for note in told["notes"])


def test_backtest_refuses_a_short_history(run: Run, tmp_path: Path) -> None:
    (tmp_path / "barn.csv").write_text(
        "Sale Date,Barn,Class,Grade,Head,Avg Wt,Price $/cwt\n"
        "10/05/2026,Alder Ford Livestock,Steers,ML 1,10,520,380.00\n"
        "10/05/2026,Alder Ford Livestock,Steers,ML 1,12,610,345.50\n"
    )
    run("add", "barn.csv")
    done = run("backtest")
    assert done.code == 2 and "backtest needs" in done.err
