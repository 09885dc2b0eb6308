"""Words that add to a plan: forward prices, and months never seen."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import ROOT, Run

PLAN = ROOT / "data_demo" / "plan.toml"


def test_a_forward_price_by_word(run: Run, demo_folder: Path) -> None:
    fit = ("--fit", demo_folder / "slide.json")
    plain = run("compare", PLAN, *fit, "--json").json["groups"][0]
    option = next(o for o in plain["keep"] if o["sale_month"] == "2027-03")
    words = ("--forward", plain["group"], "2027-03", f"{option['weight_lb']:.0f}", "400")
    bent = run("compare", PLAN, *fit, *words, "--json").json["groups"][0]
    now = next(o for o in bent["keep"] if (o["program"], o["sale_month"]) == (option["program"], "2027-03"))
    assert now["price_cwt"] == pytest.approx(400.0, rel=1e-3)
    assert any("the price typed for March 2027 (--forward): $400.00/cwt" in note for note in bent["notes"])
    for command in ("compare", "months"):
        assert "price typed for March 2027" in " ".join(run(command, PLAN, *fit, *words).out.split())
    noted = run("months", PLAN, *fit, *words, "--json").json["group_notes"][plain["group"]]
    assert any("price typed" in note for note in noted)


def test_wrong_forward_prices_are_told(run: Run, demo_folder: Path) -> None:
    fit = ("--fit", demo_folder / "slide.json")
    name = run("compare", PLAN, *fit, "--json").json["groups"][0]["group"]
    for words, said in (
        ((f"{name}x", "2027-03", "700", "400"), f"Did you mean {name!r}?"),
        ((name, "2026-09", "700", "400"), "not after weaning"),
        ((name, "March", "700", "400"), "year and month"),
        ((name, "2027-03", "700", "4"), "price_cwt"),
        ((name, "2027-03", "1300", "400"), "outside the weights seen"),
    ):
        told = run("compare", PLAN, *fit, "--forward", *words)
        assert told.code == 2 and told.out == "" and said in told.err, told


def test_months_never_seen_need_the_word(run: Run, demo_folder: Path) -> None:
    """The third barn is closed from June to August."""
    book = demo_folder / "sales.duckdb"
    markets = [m["market"] for m in run("book", "--book", book, "--json").json["markets"]]
    (closed,) = [name for name in markets if "Kettle" in name]
    assert run("fit", "--book", book, "--market", closed, "--out", "closed.json", "--json").code == 0
    Path("summer.toml").write_text(PLAN.read_text().replace('"2027-04"', '"2027-07"'))
    words = ("compare", "summer.toml", "--fit", "closed.json", "--json")
    refused = run(*words).json["groups"][0]
    reasons = [each["reason"] for each in refused["unavailable"] if each["sale_month"] == "2027-07"]
    assert reasons and any("--allow-unseen" in reason or "ends" in reason for reason in reasons)
    allowed = run(*words, "--allow-unseen").json
    assert any("No sale was ever seen in June, July" in note for note in allowed["notes"])
    assert not any("--allow-unseen" in each["reason"] for each in allowed["groups"][0]["unavailable"])
