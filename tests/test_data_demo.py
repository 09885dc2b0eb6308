"""The demonstration data: the same every time, of the promised size, and true to its own truth."""

import csv
import json
import subprocess
import sys
from datetime import datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import slidefit
from slidefit.futures_contracts import LISTED_MONTHS
from slidefit.records.sale_levels import off_sales, sale_levels

FOLDER = Path(__file__).resolve().parents[1] / "data_demo"
DELIMITERS = {"alder_ford_lots.csv": ",", "tern_hollow_sales.csv": ";", "cold_kettle_auction.csv": ","}
DATE_FORMATS = {"alder_ford_lots.csv": "%m/%d/%Y", "tern_hollow_sales.csv": "%Y-%m-%d"}
DATE_FORMATS["cold_kettle_auction.csv"] = "%d-%b-%Y"
PRICE = {
    "alder_ford_lots.csv": ("Price $/cwt", 1.0),
    "tern_hollow_sales.csv": ("Price ($/lb)", 100.0),
    "cold_kettle_auction.csv": ("Cents/lb", 1.0),
}


@pytest.fixture(scope="module")
def truth():
    return json.loads((FOLDER / "truth.json").read_text())


def rows_of(name):
    with (FOLDER / name).open(newline="") as file:
        return list(csv.DictReader(file, delimiter=DELIMITERS[name]))


@cache
def reading_of(name):
    return slidefit.read(FOLDER / name)


def text_of(row):
    return " ".join(value for value in row.values() if value)


def test_the_script_writes_the_same_bytes_again(tmp_path):
    subprocess.run([sys.executable, FOLDER / "make_demo.py", "--out", tmp_path], check=True)
    written = sorted(path.name for path in tmp_path.iterdir())
    assert written == sorted([*DELIMITERS, "feeder_futures.tsv", "truth.json"])
    for name in written:
        assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes(), name


def test_size():
    lots = sum(len(rows_of(name)) for name in DELIMITERS)
    assert 14_000 < lots < 17_000
    files = [path for path in FOLDER.iterdir() if path.is_file()]
    assert sum(path.stat().st_size for path in files) < 3_000_000


@pytest.mark.parametrize("name", DELIMITERS)
def test_rows_and_dirt_are_as_stated(truth, name):
    stated, rows = truth["files"][name], rows_of(name)
    dirt = stated["dirt"]
    extra = sum(count for kind, count in dirt.items() if not kind.startswith("typo"))
    assert len(rows) == stated["rows"] == stated["lots"] + extra
    column, _ = PRICE[name]
    found = {
        "dairy": sum("Holstein" in text_of(row) for row in rows),
        "slaughter": sum("Slaughter" in text_of(row) for row in rows),
        "per_head": sum("Bred Cows" in text_of(row) for row in rows),
        "total": sum("Total" in text_of(row) for row in rows),
        "repeated_heading": sum(row[column] == column for row in rows),
        "open_ended_weight": sum("and up" in text_of(row) for row in rows),
        "missing_price": sum(row[column] == "" for row in rows),
    }
    assert found == {kind: dirt[kind] for kind in found}
    assert len(stated["typos"]) == dirt["typo_gross"] + dirt["typo_mild"]


@pytest.mark.parametrize("name", DELIMITERS)
def test_sale_days(truth, name):
    heading = "Sale Date" if name.startswith("alder") else "Date"
    days = {
        datetime.strptime(row[heading], DATE_FORMATS[name]).date()
        for row in rows_of(name)
        if row[heading] != heading
    }
    assert len(days) == truth["files"][name]["sales"]
    assert min(days).isoformat() < "2018-01-20" and max(days).isoformat() > "2026-09-27"
    assert len({day.weekday() for day in days}) == 1


def test_season_averages_zero_and_peaks_in_spring(truth):
    season = np.array([entry["log"] for entry in truth["season"]])
    assert season.mean() == pytest.approx(0.0, abs=1e-6)
    assert set(np.argsort(season)[-2:] + 1) == {3, 4}
    assert set(np.argsort(season)[:2] + 1) == {10, 11}


def test_the_crop_years_drift_around_the_stated_slide(truth):
    drifts = [entry["slope_drift_cwt"] for entry in truth["by_crop_year"]]
    assert np.mean(drifts) == pytest.approx(0.0, abs=1e-6)
    assert 0.003 < np.std(drifts) < 0.012


def test_the_slide_steepens_with_the_level(truth):
    def steer_550(key):
        return next(
            entry["percent_per_cwt"]
            for entry in truth[key]
            if (entry["sex"], entry["from_lb"], entry["month"]) == ("steer", 500, None)
        )

    assert truth["level_price_cwt"]["2020-04"] == pytest.approx(135.0)
    assert truth["level_price_cwt_on_last_sale"] > 2 * truth["level_price_cwt"]["2018-01"]
    assert steer_550("slides_at_last_sale") > steer_550("slides_at_reference_price") + 1.0


def test_stated_slides_follow_from_the_stated_parameters(truth):
    curve, slope_season = truth["curves"]["steer"], -0.018 * np.cos(np.arange(12) * np.pi / 6 - np.pi / 3)
    slope_season = slope_season - 0.004 * np.cos(np.arange(12) * np.pi / 3 - np.pi / 3)
    level = np.log(truth["level_price_cwt_on_last_sale"] / truth["reference_price_cwt"])
    slope = curve["slope_cwt"] + truth["level_slope_cwt"] * level + slope_season
    for month in range(1, 13):
        stated = next(
            entry["percent_per_cwt"]
            for entry in truth["slides_at_last_sale"]
            if (entry["sex"], entry["from_lb"], entry["month"]) == ("steer", 500, month)
        )
        assert stated == pytest.approx(100 * (1 - np.exp(slope[month - 1])), abs=2e-3)


def test_the_spread_of_prices_is_that_of_the_stated_noise(truth):
    """ML 1 steers of 500 to 600 lb, sale means taken out: sd near the root of lot and calf variance."""
    name, residuals, expected = "alder_ford_lots.csv", [], []
    by_sale: dict[str, list[tuple[float, float, float]]] = {}
    for row in rows_of(name):
        if (
            row["Class"] == "Steers"
            and row["Grade"] == "ML 1"
            and row["Price $/cwt"]
            and row["Avg Wt"].isdigit()
        ):
            x = (int(row["Avg Wt"]) - 550) / 100
            if abs(x) <= 0.5:
                net = np.log(float(row["Price $/cwt"])) + 0.12 * x
                net -= truth["head_slope"] * np.log(int(row["Head"]) / 15)
                by_sale.setdefault(row["Sale Date"], []).append((net, int(row["Head"]), x))
    for lots in by_sale.values():
        if len(lots) >= 2:
            net = np.array([lot[0] for lot in lots])
            if np.ptp(net) > 0.8:
                continue
            residuals.append(np.sum((net - net.mean()) ** 2))
            variance = truth["noise"]["lot_sd"] ** 2 + truth["noise"]["calf_sd"] ** 2 / np.array(
                [lot[1] for lot in lots]
            )
            expected.append(np.sum(variance) * (1 - 1 / len(lots)))
    assert len(residuals) > 60
    assert np.sum(residuals) / np.sum(expected) == pytest.approx(1.0, abs=0.15)


@pytest.mark.parametrize("name", DELIMITERS)
def test_reading_sets_aside_exactly_the_dirt(truth, name):
    """All but the mild typo, which only a fit can find."""
    read = reading_of(name)
    stated = truth["files"][name]
    dirt = stated["dirt"]
    expected = {
        "dairy": dirt["dairy"],
        "not_feeder": dirt["slaughter"] + dirt["per_head"],
        "missing_price": dirt["missing_price"],
        "summary_row": dirt["total"],
        "open_ended_weight": dirt["open_ended_weight"],
        "implausible_price": dirt["typo_gross"],
    }
    assert read.reasons == {reason: count for reason, count in expected.items() if count}
    records = read.records
    assert len(records) == stated["lots"] - dirt["typo_gross"]
    assert set(records["market"]) == {stated["market"]}
    assert records["sale_date"].nunique() == stated["sales"]
    grades = set(zip(records["frame"], records["muscle"], strict=True))
    assert grades == {("ML", "1"), ("ML", "1-2"), ("ML", "2"), ("M", "1")}
    levels = sale_levels(records)
    assert off_sales(levels) == [] and 0.0 < levels["level"].diff().abs().median() < np.log(1.2)


def test_every_quote_of_the_futures_is_read():
    from slidefit.records.futures_quotes import read_quotes

    found = read_quotes(FOLDER / "feeder_futures.tsv")
    assert not found.rejected and not found.repeated
    assert len({quote.as_of for quote in found.quotes}) > 400


def test_the_fit_finds_the_basis_behind_the_futures(truth):
    """In months that have a contract; elsewhere the nearest contract stands in another season. Futures that know of a
    rise to come stand high, so that the basis found is a little low."""
    from slidefit.records.futures_quotes import read_quotes

    quotes = read_quotes(FOLDER / "feeder_futures.tsv").quotes
    fitted = slidefit.fit(reading_of("alder_ford_lots.csv")).with_quotes(quotes)
    assert fitted.month_basis.weight_lb == 750.0
    listed = [month - 1 for month in LISTED_MONTHS]
    found, true = fitted.month_basis.log[listed], np.array(truth["futures"]["basis_log"])[listed]
    assert np.corrcoef(found, true)[0, 1] > 0.9
    assert found == pytest.approx(true, abs=0.03)
    view = fitted.outlook().futures
    assert view.set_aside == "" and len(view.contracts) == 4 and 0.3 < view.share < 0.9
