"""Futures added to a book, shown, undone; a file of them for one run."""

from pathlib import Path

from tests.cli.conftest import Run

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "data_demo" / "plan.toml"
QUOTES = ROOT / "data_demo" / "feeder_futures.tsv"


def test_futures_are_added_shown_and_taken_out_again(run: Run, tmp_path: Path) -> None:
    book = tmp_path / "sales.duckdb"
    path = tmp_path / "nov4.csv"
    path.write_text("Contract,Settlement\nJan 2027,332.10\nH27,331.40\n")
    added = run("futures", "add", path, "--as-of", "2026-11-04", "--book", book, "--json").json
    assert (added["added"], added["contracts"]) == (2, ["2027-01", "2027-03"])
    shown = run("futures", "show", "--book", book)
    assert "Jan 2027" in shown.out and "332.10" in shown.out
    run("undo", added["batch"], "--book", book)
    assert run("futures", "show", "--book", book, "--json").json["quotes"] == 0


def test_a_file_without_a_day_is_asked_about(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "quotes.csv"
    path.write_text("Contract,Settlement\nJan 2027,332.10\n")
    refused = run("futures", "add", path, "--book", tmp_path / "sales.duckdb")
    assert refused.code == 2 and "quotes.csv" in refused.err and "no column for the day" in refused.err


def test_a_file_of_futures_moves_one_comparison(run: Run, demo_folder: Path) -> None:
    fit = demo_folder / "slide.json"
    without = run("compare", PLAN, "--fit", fit, "--json").json
    told = run("compare", PLAN, "--fit", fit, "--futures", QUOTES, "--json").json
    assert without["futures"] is None and told["futures"]["set_aside"] is None
    assert told["futures"]["share"] == 0.5 and len(told["futures"]["contracts"]) == 4
    assert told["groups"] != without["groups"]
    assert without["said_came"]["source"] == "records" and without["said_came"]["rows"]
    assert (
        "expected price is from futures of Oct 9,"
        in run("months", PLAN, "--fit", fit, "--futures", QUOTES).out
    )
