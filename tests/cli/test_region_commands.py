"""Regions by command: made, shown, checked, updated, put back, listed, handed out, and in place of a fit."""

from __future__ import annotations

import os
import re
import shutil
import sys
from functools import cache
from pathlib import Path

import pandas as pd
import pytest

from slidefit.cli import region_commands
from slidefit.cli.speaking import INTERRUPTED
from slidefit.files import write_whole
from tests.cli.conftest import ROOT, Run, refused
from tests.market.simulate import simulate

PLAN = ROOT / "data_demo" / "plan.toml"
SHIPPED = ROOT / "data_demo" / "kettle_fork.toml"


@cache
def barn(name: str) -> pd.DataFrame:
    """The records of a barn; two barns never hold the same sale."""
    seed = {"Birch Landing": 31, "Low Ferry": 32, "Stone Gap": 33}[name]
    return simulate(seed, sales=78, lots=10, days_between=28, first="2019-10-02", market=name).records


def write_barn(folder: Path, name: str, until: str) -> Path:
    """Write a barn's sales up to a day as an ordinary file."""
    records = barn(name)
    records = records[records["sale_date"] <= until]
    file = folder / f"{name.lower().replace(' ', '_')}_{until}.csv"
    pd.DataFrame(
        {
            "Sale Date": records["sale_date"].dt.strftime("%Y-%m-%d"),
            "Market": records["market"],
            "Class": records["sex"].map({"steer": "Steers", "heifer": "Heifers"}),
            "Grade": records["frame"] + " " + records["muscle"],
            "Head": records["head"].astype(int),
            "Avg Wt": records["weight_lb"],
            "Price $/cwt": records["price_cwt"].round(2),
        }
    ).to_csv(file, index=False)
    return file


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a book of two barns up to a day, and the files that --each makes."""
    from slidefit.cli.main import slidefit
    from slidefit.cli.speaking import run_safely

    folder = tmp_path_factory.mktemp("regions")
    files = [write_barn(folder, name, "2024-09-30") for name in ("Birch Landing", "Low Ferry")]
    book = str(folder / "sales.duckdb")
    words = ["region", "make", "River country", "--book", book, "--each", "--commission-pct", "3"]
    words += [
        "--out",
        str(folder / "river_country.toml"),
        "--chart",
        str(folder / "pool.png"),
        "--made",
        "2024-10-01",
    ]
    for each in (["add", *map(str, files), "--book", book], words):
        assert run_safely(lambda each=each: slidefit.main([*each, "--json"], standalone_mode=False)) == 0
    return folder


@pytest.fixture(scope="module")
def later(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same folder a year later: more sales of the two barns in the book, and those of a third."""
    from slidefit.cli.main import slidefit
    from slidefit.cli.speaking import run_safely

    folder = Path(shutil.copytree(made, tmp_path_factory.mktemp("later") / "west"))
    files = [write_barn(folder, name, "2025-09-30") for name in ("Birch Landing", "Low Ferry", "Stone Gap")]
    words = ["add", *map(str, files), "--book", str(folder / "sales.duckdb"), "--json"]
    assert run_safely(lambda: slidefit.main(words, standalone_mode=False)) == 0
    return folder


@pytest.fixture
def grown(later: Path, tmp_path: Path) -> Path:
    """A copy of it to work in."""
    return Path(shutil.copytree(later, tmp_path / "west"))


@pytest.fixture
def early_plan(tmp_path: Path) -> Path:
    """The demonstration's plan two years earlier, when the barns' records end."""
    text = PLAN.read_text()
    for year in (2026, 2027):
        text = text.replace(f"{year}-", f"{year - 2}-")
    plan = tmp_path / "plan.toml"
    plan.write_text(text)
    return plan


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of it to work in."""
    shutil.copytree(made, tmp_path / "west")
    return tmp_path / "west"


def test_made_shown_and_checked(run: Run, folder: Path) -> None:
    assert {p.name for p in folder.glob("*.toml")} == {
        "river_country.toml",
        "birch_landing.toml",
        "low_ferry.toml",
    }
    assert (folder / "pool.png").read_bytes().startswith(b"\x89PNG")
    shown = run("region", "show", folder / "river_country.toml")
    assert shown.code == 0 and "River country" in shown.out and "commission 3.0%" in shown.out
    told = run("region", "show", folder / "low_ferry.toml", "--json").json
    assert told["markets"] == ["Low Ferry"] and told["pool"]["name"] == "River country"
    assert told["pool"]["markets"] == 2 and len(told["source"]["batches_sha256"]) == 64
    checked = run("region", "check", folder / "river_country.toml", "--json").json
    assert checked["version"] == 1 and "is old" in checked["notes"][0]


def test_a_fit_of_few_sales_leans_on_a_region(run: Run, folder: Path) -> None:
    words = ("fit", "--book", folder / "sales.duckdb", "--market", "Low Ferry", "--since", "2024-05-01")
    alone = run(*words, "--out", "alone.json", "--json").json
    file = folder / "river_country.toml"
    leaning = run(*words, "--out", "leaning.json", "--region", file, "--json").json
    assert alone["model"].startswith("straight") and "region's file can stand in" in alone["notes"][0]
    assert leaning["model"] == "quadratic, pulled toward a region's slide"
    assert "the slide is that of region file River country" in leaning["notes"][0]
    shown = run("season", "--fit", "leaning.json", "--json").json["months"]
    own = run("season", "--region", file, "--json").json["months"]
    assert [m["index"] for m in shown] == pytest.approx([m["index"] for m in own], abs=0.05)
    refused(run(*words, "--region", folder / "nowhere.toml"), "nowhere.toml")


@pytest.mark.usefixtures("undrawn")
def test_update_shows_first_and_writes_only_when_told(run: Run, grown: Path) -> None:
    folder = grown
    file, book = folder / "river_country.toml", folder / "sales.duckdb"
    before = file.read_bytes()
    listed = run("region", "list", folder, "--book", book, "--json").json["regions"]
    assert [r["records_behind"] > 100 for r in listed if r["name"] == "River country"] == [True]
    looked = run("region", "update", file, "--book", book, "--chart", folder / "change.png")
    assert looked.code == 0 and "Steady (within $" in looked.out and "--yes" in looked.out, looked
    assert file.read_bytes() == before and (folder / "change.png").exists()
    told = run("region", "update", file, "--book", book, "--yes", "--json").json
    assert told["written"] and Path(told["kept"]).read_bytes() == before
    kinds = {change["kind"] for change in told["changes"]}
    assert {
        "slide",
        "discount",
        "season",
        "spread",
        "price",
        "slide season",
        "grade",
        "noise",
        "head",
    } <= kinds
    for change in told["changes"]:
        assert change["head_low"] <= change["head"] <= change["head_high"]
        price = change["kind"] == "price"
        assert (
            change["verdict"] in ((None,) if price else ("moved", "steady", "can't tell"))
            and change["because"]
        )
        assert change["moved"] == (None if price else change["verdict"] == "moved")
    assert told["fed_by"][0]["market"] == "Birch Landing" and told["kin"] == []
    now = run("region", "show", file, "--json").json
    assert now["source"]["last_sale"] > "2025-08" and now["selling"] == {"commission_pct": 3.0}
    log = run("region", "log", file, "--json").json
    assert [f["number"] for f in log["former"]] == [1] and log["now"]["lots"] > log["former"][0]["lots"]
    assert "Sep" in run("region", "log", file).out
    assert run("region", "back", file, "--json").json["version"] == 1
    assert file.read_bytes() == before
    refused(run("region", "back", file, 9), "no former version 9")


def test_drawn_toward_a_file(run: Run, folder: Path) -> None:
    words = ("--market", "Low Ferry", "--since", "2024-06-01", "--book", folder / "sales.duckdb")
    told = run(
        "region", "make", "Low Ferry lately", *words, "--pool", folder / "river_country.toml", "--json"
    ).json
    assert told["files"] == ["low_ferry_lately.toml"]
    for slide in told["slides"]:
        assert 0.0 < slide["own_share"] < 1.0 and slide["drawn_se"] < slide["own_se"]
    book, pool = folder / "sales.duckdb", folder / "river_country.toml"
    refused(
        run("region", "update", "low_ferry_lately.toml", "--book", book),
        "pooled toward River country",
        "--pool",
    )
    again = run("region", "update", "low_ferry_lately.toml", "--book", book, "--pool", pool, "--json").json
    assert not any(change["moved"] for change in again["changes"])
    refused(run("region", "make", "Low Ferry", "--book", book, "--each"), "two regions", "no market has")
    refused(run("region", "make", "x", "--book", book, "--commission-pct", 0.03), "0.03")
    refused(run("region", "make", "x", *words, "--pool", "a.toml", "--each"), "--pool")


def test_folder_map_and_sheet(run: Run, folder: Path) -> None:
    feeds = run("region", "map-markets", folder, "--book", folder / "sales.duckdb", "--json").json["markets"]
    assert [(f["market"], f["regions"]) for f in feeds] == [
        ("Birch Landing", ["Birch Landing", "River country"]),
        ("Low Ferry", ["Low Ferry", "River country"]),
    ]
    assert "Low Ferry" in run("region", "map-markets", folder, "--book", folder / "sales.duckdb").out
    assert "stale" in run("region", "list", folder, "--book", "none.duckdb").out
    refused(run("region", "sheet", folder / "river_country.toml"), "days old", "--old")
    words = ("--old", "--office", "River office", "--json")
    told = run("region", "sheet", folder / "river_country.toml", *words).json
    page = Path(told["sheet"]).read_text(encoding="utf-8")
    assert (
        page.count("<table>") == 4
        and "How to use it" in page
        and "OLD PRICES" in page
        and "River office" in page
    )
    assert run("region", "list", folder.parent / "none").out.startswith(str(folder.parent / "none")[:20])


@pytest.mark.usefixtures("undrawn")
def test_in_place_of_a_fit(run: Run, folder: Path, early_plan: Path) -> None:
    region = ("--region", folder / "river_country.toml")
    slides = run("slide", *region, "--weight", 550, "--sex", "steer", "--month", 10, "--json").json["slides"]
    assert [(s["sex"], s["from_lb"], s["to_lb"], s["month"]) for s in slides] == [("steer", 500.0, 600.0, 10)]
    assert slides[0]["percent_low"] < slides[0]["percent_per_cwt"] < slides[0]["percent_high"]
    assert len(run("season", *region, "--json").json["months"]) == 12
    assert "95% interval" in run("slide", *region).out and "River country" in run("season", *region).out
    refused(run("slide", *region, "--fit", "slide.json"), "--region", "one of the two")
    refused(run("slide", "--region", "gone.toml"), "gone.toml", "no such file")
    broken = folder / "broken.toml"
    broken.write_text((folder / "river_country.toml").read_text().replace("version = 1", "version = 3"))
    refused(run("compare", early_plan, "--region", broken), "broken.toml", "line 6", "newer slidefit")
    months = run("months", early_plan, *region)
    assert months.code == 0 and "Heifers" in months.out
    assert run("flip", early_plan, *region, "--group", "Heifers").code == 0
    done = run("report", early_plan, *region)
    assert done.code == 0 and "River country is old" in Path("report.html").read_text()


def test_typical_costs_where_the_plan_has_none(
    run: Run, folder: Path, tmp_path: Path, early_plan: Path
) -> None:
    text = early_plan.read_text()
    bare = text[: text.index("[selling]")] + text[text.index("[money]") :]
    (tmp_path / "bare.toml").write_text(bare)
    sold = run("compare", "bare.toml", "--region", folder / "river_country.toml", "--json").json
    assert "selling.commission_pct" not in str(sold["defaults_used"])
    assert sold["groups"][0]["sell_now"]["net_per_head"] > 0


def test_the_shipped_region_gives_the_demos_own_answer(run: Run, demo_folder: Path) -> None:
    """Within $0.50 a head and one point of odds; made again as data_demo/README.md says when the model changes."""
    fit = run("compare", PLAN, "--fit", demo_folder / "slide.json", "--json").json
    own = run("compare", PLAN, "--region", SHIPPED, "--json").json
    options = 0
    for a, b in zip(fit["groups"], own["groups"], strict=True):
        assert a["sell_now"]["net_per_head"] == pytest.approx(b["sell_now"]["net_per_head"], abs=0.5)
        for x, y in zip(a["keep"], b["keep"], strict=True):
            assert x["net_per_head"] == pytest.approx(y["net_per_head"], abs=0.5)
            assert x["gain_per_head"] == pytest.approx(y["gain_per_head"], abs=0.5)
            assert x["odds"] == pytest.approx(y["odds"], abs=0.01)
            options += 1
    assert options > 20


def test_an_update_tells_its_steps_on_a_terminal_only(
    run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("region", "update", folder / "river_country.toml", "--book", folder / "sales.duckdb")
    assert run(*words).err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    steps = run(*words, "--json").err.splitlines()
    assert steps[0] == "opening the book ..." and steps[-1] == "comparing old with new ..."
    assert re.fullmatch(r"reading 1,\d{3} rows of 2 markets \.\.\.", steps[1])
    assert "fitting the season ..." in steps


@pytest.mark.parametrize("step", ["opening the book", "fitting the slide", "comparing old with new"])
def test_an_update_that_is_stopped_changes_nothing(
    run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def stopped(word: str) -> None:
        if word == step:
            raise KeyboardInterrupt

    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    monkeypatch.setattr(region_commands, "progress_words", lambda: stopped)
    words = ("region", "update", folder / "river_country.toml", "--book", folder / "sales.duckdb", "--yes")
    outcome = run(*words)
    assert (
        outcome.code == INTERRUPTED and "nothing was left half-written" in outcome.err and outcome.out == ""
    )
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_file_whose_writing_is_stopped_stays_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "west.toml"
    target.write_text("before")

    def stopped(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_whole(target, "after")
    assert target.read_text() == "before" and list(tmp_path.iterdir()) == [target]


@pytest.mark.usefixtures("undrawn")
def test_a_seasons_work_in_one_command(run: Run, grown: Path) -> None:
    """A region, its two barns pooled toward it, a barn that feeds none, a file at fault: one table, then written."""
    folder, book = grown, grown / "sales.duckdb"
    (folder / "broken.toml").write_text(
        (folder / "low_ferry.toml").read_text().replace("version = 1", "version = 9")
    )
    before = {path.name: path.read_bytes() for path in folder.glob("*.toml")}
    shown = run("region", "refresh", folder, "--book", book)
    assert shown.code == 0 and "Stone Gap" in shown.out and "at fault" in shown.out and "--yes" in shown.out
    assert {path.name: path.read_bytes() for path in folder.glob("*.toml")} == before
    told = run(
        "region", "refresh", folder, "--book", book, "--yes", "--office", "River office", "--json"
    ).json
    assert [r["name"] for r in told["regions"]] == ["Birch Landing", "Low Ferry", "River country"]
    assert [span["market"] for span in told["unfed"]] == ["Stone Gap"] and list(told["faults"]) == [
        "broken.toml"
    ]
    for region in told["regions"]:
        assert region["refused"] is None and {c["verdict"] for c in region["changes"]} >= {"steady", None}
    assert len(told["hand_outs"]) == 9 and all(
        Path(file).stat().st_size > 1000 for file in told["hand_outs"][::3]
    )
    now = run("region", "show", folder / "low_ferry.toml", "--json").json
    assert now["source"]["last_sale"] > "2025-08" and now["pool"]["name"] == "River country"
    assert (folder / "low_ferry.former" / "0001.toml").read_bytes() == before["low_ferry.toml"]
    refused(
        run("region", "refresh", folder / "low_ferry.former", "--book", folder / "none.duckdb"), "none.duckdb"
    )
