"""The whole job by command, and the JSON that others rely on."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from slidefit.market.saved_fit import VERSION
from tests.cli.conftest import ROOT, Run, first_lots

DATA = ROOT / "data_demo"
KEEP_KEYS = {
    "program", "sale_month", "days", "weight_lb", "price_cwt", "net_per_head", "gain_per_head", "gain_per_acre",
    "value_of_gain_per_lb", "cost_of_gain_per_lb", "odds", "p10", "p50", "p90", "breakeven",
}  # fmt: skip


def test_records_in_and_out_again(run: Run, tmp_path: Path) -> None:
    barn = first_lots("alder_ford_lots.csv", tmp_path)
    first = run("add", barn, "--json")
    assert first.code == 0 and first.err == ""
    rows = len(barn.read_text().splitlines()) - 1
    told = first.json
    assert told["added"] + told["already_there"] + told["set_aside"] == told["rows_seen"] <= rows
    assert told["added"] > 1_000 and sum(told["reasons"].values()) == told["set_aside"] > 0
    again = run("add", barn, "--json").json
    assert again["added"] == 0 and again["already_there"] == told["added"]
    assert run("book", "--json").json["records"] == told["added"]
    out = run("export", "tidy.csv", "--json").json
    assert out["records"] == told["added"]
    with (tmp_path / "tidy.csv").open() as file:
        heading = next(csv.reader(file))
    assert heading[:5] == ["sale_date", "date_precision", "market", "sex", "frame"]
    assert run("undo", told["batch"], "--json").json["removed"] == told["added"]
    assert run("book", "--json").json["records"] == 0


def test_mended_rows_go_in_again(run: Run, tmp_path: Path) -> None:
    source = tmp_path / "barn.csv"
    source.write_text(
        "Sale Date,Barn,Class,Grade,Head,Avg Wt,Price $/cwt\n"
        "10/05/2026,Alder Ford Livestock,Steers,ML 1,10,520,380.00\n"
        "10/05/2026,Alder Ford Livestock,Steers,ML 1,12,610,\n"
    )
    told = run("add", source, "--set-aside", "mend.csv", "--json").json
    assert (told["added"], told["reasons"]) == (1, {"missing_price": 1})
    mend = tmp_path / "mend.csv"
    text = mend.read_text()
    assert "Avg Wt" in text and "missing_price" in text
    with mend.open(newline="") as file:
        rows = list(csv.DictReader(file))
    rows[0]["Price $/cwt"] = "344.00"
    with mend.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    assert run("add", mend, "--json").json["added"] == 1


def test_dry_run_adds_nothing(run: Run, tmp_path: Path) -> None:
    told = run("add", first_lots("alder_ford_lots.csv", tmp_path), "--dry-run")
    assert told.code == 0 and "Nothing was added" in told.out.replace("\n", " ") and "Read as" in told.out
    assert not (tmp_path / "sales.duckdb").exists()


def test_slide_document(run: Run, demo_folder: Path) -> None:
    told = run(
        "slide",
        "--fit",
        demo_folder / "slide.json",
        "--weight",
        550,
        "--weight",
        650,
        "--sex",
        "steer",
        "--month",
        10,
        "--json",
    ).json["slides"]
    assert [(s["sex"], s["from_lb"], s["to_lb"], s["month"]) for s in told] == [
        ("steer", 500.0, 600.0, 10),
        ("steer", 600.0, 700.0, 10),
    ]
    for row in told:
        assert row["percent_low"] < row["percent_per_cwt"] < row["percent_high"]
        assert row["dollars_per_cwt_per_cwt"] == pytest.approx(
            row["percent_per_cwt"] * row["price_cwt"] / 100, rel=1e-3
        )
    year = run("slide", "--fit", demo_folder / "slide.json", "--json").json["slides"]
    assert {s["month"] for s in year} == {None}


def test_season_document(run: Run, demo_folder: Path) -> None:
    months = run("season", "--fit", demo_folder / "slide.json", "--json").json["months"]
    assert [m["month"] for m in months] == list(range(1, 13))
    assert sum(m["index"] for m in months) / 12 == pytest.approx(100.0, abs=1e-3)
    assert all(m["low"] < m["index"] < m["high"] for m in months)


def test_compare_document(run: Run, demo_folder: Path) -> None:
    told = run("compare", DATA / "plan.toml", "--fit", demo_folder / "slide.json", "--json").json
    assert [g["group"] for g in told["groups"]] == ["Heavy steers", "Light steers", "Heifers"]
    for group in told["groups"]:
        assert group["sell_now"]["net_per_head"] > 1_000
        assert group["best"]
        for option in group["keep"]:
            assert option.keys() >= KEEP_KEYS
            assert option["p10"] < option["p50"] < option["p90"] and 0 <= option["odds"] <= 1
            assert option["budget_gain_per_head"] == pytest.approx(
                option["net_per_head"] - group["sell_now"]["net_per_head"]
            )
    months = {o["sale_month"] for o in told["groups"][2]["keep"]}
    assert months == {"2026-11", "2026-12", "2027-01", "2027-02", "2027-03", "2027-04"}


def test_report_and_texts(run: Run, demo_folder: Path) -> None:
    fit = ("--fit", demo_folder / "slide.json")
    book = ("--book", demo_folder / "sales.duckdb")
    both = ("--pdf", "a4.pdf", "--paper", "a4", "--out", "page.html", "--json")
    assert run("report", DATA / "plan.toml", *fit, *book, *both).json == {
        "report": "page.html",
        "pdf": "a4.pdf",
    }
    page = Path("page.html").read_text(encoding="utf-8")
    assert len(page) > 100_000 and "<h1>Cedar Fork: spring-born calves, autumn 2026</h1>" in page
    assert len(PdfReader("a4.pdf").pages) == 2
    assert "95% interval" in run("slide", *fit).out
    assert "October" in run("season", *fit).out
    shown = run("compare", DATA / "plan.toml", *fit).out
    assert "not a promise" in shown and "Heifers" in shown
    assert "Batches" in run("book", *book).out


def test_report_as_pdf_alone(run: Run, demo_folder: Path) -> None:
    words = ("report", DATA / "plan.toml", "--fit", demo_folder / "slide.json", "--json")
    assert run(*words, "--pdf", "kitchen.pdf").json == {"report": None, "pdf": "kitchen.pdf"}
    assert not Path("report.html").exists()
    pdf = PdfReader("kitchen.pdf")
    assert len(pdf.pages) == 2 and [float(side) for side in pdf.pages[0].mediabox[2:]] == [612.0, 792.0]
    assert "Heifers: probably keep." in pdf.pages[0].extract_text()


def test_fit_narrows_to_a_market_and_a_time(run: Run, demo_folder: Path) -> None:
    told = run(
        "fit", "--book", demo_folder / "sales.duckdb", "--market", "Tern Hollow Stockyard", "--since", "2021-01-01",
        "--until", "2024-12-31", "--json",
    ).json  # fmt: skip
    assert told["markets"] == ["Tern Hollow Stockyard"]
    assert told["first_sale"] >= "2021-01-01" and told["last_sale"] <= "2024-12-31"
    assert json.loads(Path("slide.json").read_text())["version"] == VERSION


def test_months_detail_and_weeks(run: Run, demo_folder: Path) -> None:
    fit = ("--fit", demo_folder / "slide.json")
    plan = DATA / "plan.toml"
    months = run("months", plan, *fit, "--json").json["months"]
    assert len([m for m in months if m["group"] == "Heifers"]) == 6
    assert sum(m["is_best"] for m in months) == 3
    weeks = run("months", plan, *fit, "--every-week", "--json").json["months"]
    assert len(weeks) > 3 * len(months)
    option = run(
        "compare", plan, *fit, "--group", "Heifers", "--program", "Dry lot", "--detail", "--json"
    ).json
    costs = [line for line in option["lines"] if line["kind"] == "cost"]
    income = [line for line in option["lines"] if line["kind"] == "income"]
    assert sum(line["amount_per_head"] for line in costs + income) == pytest.approx(option["net_per_head"])
    assert "net of keeping" in run("compare", plan, *fit, "--group", "Heifers", "--detail").out
    only = run("compare", plan, *fit, "--group", "Heifers", "--sale-month", "2027-02", "--json").json[
        "groups"
    ]
    assert [g["group"] for g in only] == ["Heifers"] and {k["sale_month"] for k in only[0]["keep"]} == {
        "2027-02"
    }
    assert "Heifers" in run("months", plan, *fit).out
    wrong = run("compare", plan, *fit, "--group", "Heifer", "--detail")
    assert wrong.code == 2 and "Heifers" in wrong.err


def test_what_would_flip_it(run: Run, demo_folder: Path, tmp_path: Path) -> None:
    fit = ("--fit", demo_folder / "slide.json", "--group", "Heifers")
    plan = DATA / "plan.toml"
    (flips,) = run("flip", plan, *fit, "--json").json["flips"]
    sizes = [swing["swing"] for swing in flips["swings"]]
    assert sizes == sorted(sizes, reverse=True) and sizes[0] > 50
    grid = run("flip", plan, *fit, "--grid", "gain,feed_cost", "--out", "grid.png", "--json").json
    assert len(grid["gains"]) == len(grid["y_values"]) and (tmp_path / "grid.png").stat().st_size > 10_000
    assert "lb" in run("flip", plan, *fit, "--sort").out
    assert "What would change the answer" in run("flip", plan, *fit).out
    wrong = run("flip", plan, *fit, "--grid", "gain,fed_cost")
    assert wrong.code == 2 and "feed_cost" in wrong.err
