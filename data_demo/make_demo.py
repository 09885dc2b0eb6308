"""Write the demonstration data: three invented barns and their futures, 2018 to 2026, and the truth behind them.

Run it from anywhere: ``python data_demo/make_demo.py [--out FOLDER]``. The same bytes come out every time.
The barns, their places and every number are made up.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import futures_truth
import market_truth as truth
import numpy as np
from barn_files import DIRT, STYLES, Lot, csv_text, file_rows

SEED = 20261012
GRADE_SHARES = {"ML 1": 0.55, "ML 1-2": 0.25, "ML 2": 0.08, "M 1": 0.12}
SEX_SHARES = {"steer": 0.53, "heifer": 0.44, "bull": 0.03}
# By month, January first: how many lots against an average month; the share that are last spring's calves
# and their mean weight; the share that are yearlings and theirs. The rest are spread over all weights.
BUSY = (1.3, 1.2, 1.1, 1.0, 0.7, 0.5, 0.5, 0.8, 1.2, 1.9, 1.9, 1.0)
CALF_SHARE = (0.75, 0.70, 0.65, 0.60, 0.40, 0.30, 0.25, 0.35, 0.60, 0.85, 0.85, 0.80)
CALF_LB = (585, 640, 690, 725, 740, 760, 430, 450, 480, 515, 525, 550)
YEARLING_SHARE = (0.05, 0.10, 0.15, 0.20, 0.35, 0.50, 0.55, 0.50, 0.25, 0.05, 0.05, 0.05)
YEARLING_LB = (780, 780, 790, 790, 780, 770, 780, 800, 820, 820, 800, 790)


@dataclass(frozen=True)
class Barn:
    """An invented sale barn: its file, its calendar, its size and how far its prices stand off."""

    name: str
    file_name: str
    weekday: int
    every_weeks: int
    closed_months: tuple[int, ...]
    lots_per_sale: float
    log_offset: float
    trait_shares: tuple[float, float, float]


BARNS = (
    Barn("Alder Ford Livestock", "alder_ford_lots.csv", 0, 1, (), 15.5, 0.000, (0.0, 0.0, 0.0)),
    Barn("Tern Hollow Stockyard", "tern_hollow_sales.csv", 2, 2, (), 21.5, -0.012, (0.0, 0.0, 0.0)),
    Barn("Cold Kettle Auction", "cold_kettle_auction.csv", 3, 2, (6, 7, 8), 17.5, 0.008, (0.06, 0.03, 0.12)),
)


def sale_days(barn: Barn) -> list[date]:
    """Return the barn's sale days."""
    day = truth.FIRST_SALE + timedelta(days=(barn.weekday - truth.FIRST_SALE.weekday()) % 7)
    days = []
    while day <= truth.LAST_SALE:
        if day.month not in barn.closed_months:
            days.append(day)
        day += timedelta(weeks=barn.every_weeks)
    return days


def draw_weight_lb(rng: np.random.Generator, month: int, sex: str) -> int:
    """Draw a lot's mean weight: mostly spring-born calves growing, some yearlings, some of any."""
    kind = rng.random()
    low, high = (300.0, 650.0) if sex == "bull" else (300.0, 900.0)
    if kind < CALF_SHARE[month - 1]:
        weight = rng.normal(CALF_LB[month - 1], 75.0)
    elif kind < CALF_SHARE[month - 1] + YEARLING_SHARE[month - 1]:
        weight = rng.normal(YEARLING_LB[month - 1], 65.0)
    else:
        weight = rng.uniform(320.0, 880.0)
    if sex == "heifer":
        weight -= 28.0
    folded = low + abs(weight - low)
    return round(high - abs(high - folded))


def draw_lots(
    rng: np.random.Generator, barn: Barn, levels: dict[str, float], drifts: dict[int, float]
) -> list[Lot]:
    """Draw every lot that the barn sold, in the order of sale, priced by the true model with its noise."""
    days = sale_days(barn)
    positions = np.array([truth.month_position(day) for day in days])
    indexes = (
        truth.log_level_on(days, levels)
        + truth.harmonic(truth.INDEX_SEASON, positions)
        + barn.log_offset
        + rng.normal(0.0, truth.SALE_SD, len(days))
    )
    traits = [*list(truth.TRAITS)[1:], ""]
    trait_shares = [*barn.trait_shares, 1.0 - sum(barn.trait_shares)]
    lots = []
    for day, position, index in zip(days, positions, indexes, strict=True):
        for _ in range(max(4, rng.poisson(barn.lots_per_sale * BUSY[day.month - 1] / 1.09))):
            sex = str(rng.choice(list(SEX_SHARES), p=list(SEX_SHARES.values())))
            grade = str(rng.choice(list(GRADE_SHARES), p=list(GRADE_SHARES.values())))
            trait = str(rng.choice(traits, p=trait_shares))
            head = int(min(80.0, np.ceil(rng.lognormal(1.9, 1.0))))
            weight = draw_weight_lb(rng, day.month, sex)
            log_price = (
                index
                + truth.log_relative(
                    sex, weight, position, index, grade=grade, drift=drifts[truth.crop_year(day)]
                )
                + truth.TRAITS[trait]
                + truth.HEAD_SLOPE * np.log(head / truth.STANDARD_HEAD)
                + rng.normal(0.0, np.sqrt(truth.LOT_SD**2 + truth.CALF_SD**2 / head))
            )
            lots.append(Lot(day, barn.name, sex, grade, trait, head, weight, float(np.exp(log_price))))
    return lots


def slides(price_cwt: float) -> Iterator[dict[str, Any]]:
    """Yield the true slide by sex, weight and month at a price level, on the average of the crop years."""
    for sex in truth.SEXES:
        for middle in (*range(400, 651, 50),) if sex == "bull" else (*range(400, 851, 50),):
            for month in (None, *range(1, 13)):
                percent = truth.percent_per_cwt(sex, middle, month, price_cwt, 0.0)
                entry = {"sex": sex, "from_lb": middle - 50, "to_lb": middle + 50, "month": month}
                yield entry | {"percent_per_cwt": round(percent, 4)}


def truth_document(
    levels: dict[str, float], drifts: dict[int, float], files: dict[str, Any]
) -> dict[str, Any]:
    """Return everything that a fit of the demonstration data should find."""
    today = np.exp(truth.log_level_on([truth.LAST_SALE], levels)[0])
    season = truth.harmonic(truth.INDEX_SEASON, np.arange(12.0))
    by_year = [
        {
            "crop_year": year,
            "slope_drift_cwt": round(drift, 6),
            "steer_550_percent_per_cwt_at_reference_price": round(
                truth.percent_per_cwt("steer", 550.0, None, truth.REFERENCE_PRICE_CWT, drift), 4
            ),
        }
        for year, drift in drifts.items()
    ]
    return {
        "what": "The truth behind the demonstration data; every place, barn and number is invented.",
        "model": (
            "ln price = sale index + curve(sex, weight) + (level and season) x weight + grade + trait "
            "+ head_slope ln(head/15) + noise; x = (weight_lb - 550)/100; "
            "level = sale index - ln(reference price)"
        ),
        "seed": SEED,
        "first_sale": truth.FIRST_SALE.isoformat(),
        "last_sale": truth.LAST_SALE.isoformat(),
        "reference_price_cwt": truth.REFERENCE_PRICE_CWT,
        "curves": {sex: dict(zip(("log_offset", "slope_cwt", "bend_cwt2"), values, strict=True))
                   for sex, values in truth.CURVES.items()},
        "grades": {grade: dict(zip(("log_offset", "slope_cwt", "per_log_level"), values, strict=True))
                   for grade, values in truth.GRADES.items()},
        "traits": truth.TRAITS,
        "level_slope_cwt": truth.LEVEL_SLOPE,
        "head_slope": truth.HEAD_SLOPE,
        "noise": {"lot_sd": truth.LOT_SD, "calf_sd": truth.CALF_SD, "sale_sd": truth.SALE_SD,
                  "walk_sd_month": truth.WALK_SD_MONTH, "slope_drift_sd_cwt": truth.DRIFT_SD,
                  "slope_drift_ar_year": truth.DRIFT_AR},
        "markets_log_offset": {barn.name: barn.log_offset for barn in BARNS},
        "season": [{"month": m, "log": round(float(log), 6), "index": round(float(100 * np.exp(log)), 4)}
                   for m, log in enumerate(season, start=1)],
        "level_price_cwt": {month: round(float(np.exp(value)), 4) for month, value in levels.items()},
        "level_price_cwt_on_last_sale": round(float(today), 4),
        "slides_at_reference_price": list(slides(truth.REFERENCE_PRICE_CWT)),
        "slides_at_last_sale": list(slides(float(today))),
        "by_crop_year": by_year,
        "futures": futures_truth.document(),
        "files": files,
    }  # fmt: skip


def build() -> dict[str, str]:
    """Return every file's text by name, drawn from one fixed seed."""
    rng = np.random.default_rng(SEED)
    levels, drifts = truth.draw_levels(rng), truth.draw_drifts(rng)
    texts, files = {}, {}
    for barn in BARNS:
        lots = draw_lots(rng, barn, levels, drifts)
        rows, typos = file_rows(rng, barn.name, lots)
        texts[barn.file_name] = csv_text(STYLES[barn.name], rows)
        files[barn.file_name] = {
            "market": barn.name,
            "rows": len(rows),
            "lots": len(lots),
            "sales": len(sale_days(barn)),
            "head": sum(lot.head for lot in lots),
            "dirt": DIRT[barn.name],
            "typos": typos,
        }
    texts[futures_truth.FILE_NAME] = futures_truth.file_text(levels)
    texts["truth.json"] = json.dumps(truth_document(levels, drifts, files), indent=1) + "\n"
    return texts


def main() -> None:
    """Write the files into a folder, by default the script's own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path(__file__).resolve().parent)
    folder = parser.parse_args().out
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in build().items():
        (folder / name).write_bytes(text.encode())


if __name__ == "__main__":
    main()
