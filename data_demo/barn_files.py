"""How each invented barn writes its sales down, and the dirt that real files carry."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

LONG_GRADES = {
    "ML 1": "Medium and Large 1",
    "ML 1-2": "Medium and Large 1-2",
    "ML 2": "Medium and Large 2",
    "M 1": "Medium 1",
}


@dataclass(frozen=True)
class Lot:
    """One lot as sold."""

    day: date
    barn: str
    sex: str
    grade: str
    trait: str
    head: int
    weight_lb: int
    price_cwt: float


Row = list[str]


def alder_ford_row(lot: Lot) -> Row:
    """Return a line of the weekly lot list: dollars per hundredweight in quarters."""
    price = f"{round(lot.price_cwt * 4) / 4:.2f}"
    return [
        f"{lot.day:%m/%d/%Y}",
        lot.barn,
        f"{lot.sex.title()}s",
        lot.grade,
        str(lot.head),
        str(lot.weight_lb),
        price,
    ]


def tern_hollow_row(lot: Lot) -> Row:
    """Return a line of the ledger kept with semicolons: dollars per pound."""
    frame, muscle = lot.grade.split(" ")
    price = f"{round(lot.price_cwt * 4) / 400:.4f}"
    return [
        lot.day.isoformat(),
        lot.sex.title(),
        frame,
        muscle,
        str(lot.head),
        str(lot.weight_lb),
        price,
        lot.barn,
    ]


def cold_kettle_row(lot: Lot) -> Row:
    """Return a line of the auction's own list: grade in words, cents per pound, remarks."""
    words = f"{lot.sex.title()}s {LONG_GRADES[lot.grade]}"
    price = f"{round(lot.price_cwt * 2) / 2:.1f}"
    return [
        lot.barn,
        f"{lot.day:%d-%b-%Y}",
        words,
        str(lot.head),
        str(lot.weight_lb),
        price,
        lot.trait.title(),
    ]


@dataclass(frozen=True)
class Style:
    """How a barn writes: heading, delimiter, a lot's line, and where class, weight and price stand."""

    heading: tuple[str, ...]
    delimiter: str
    row: Callable[[Lot], Row]
    sex_at: int
    grade_at: int | None
    weight_at: int
    price_at: int
    price_factor: float
    decimals: int


STYLES = {
    "Alder Ford Livestock": Style(
        ("Sale Date", "Barn", "Class", "Grade", "Head", "Avg Wt", "Price $/cwt"),
        ",", alder_ford_row, 2, 3, 5, 6, 1.0, 2,
    ),
    "Tern Hollow Stockyard": Style(
        ("Date", "Sex", "Frame", "Muscle", "No. of Head", "Weight (lb)", "Price ($/lb)", "Market"),
        ";", tern_hollow_row, 1, None, 5, 6, 0.01, 4,
    ),
    "Cold Kettle Auction": Style(
        ("Auction", "Date", "Description", "Hd", "Avg Weight lb", "Cents/lb", "Remarks"),
        ",", cold_kettle_row, 2, None, 4, 5, 1.0, 1,
    ),
}  # fmt: skip

# How many of each kind of dirt goes into each file.
DIRT = {
    "Alder Ford Livestock": {
        "dairy": 55, "slaughter": 40, "missing_price": 18, "total": 12, "repeated_heading": 3,
        "open_ended_weight": 9, "per_head": 5, "typo_gross": 2, "typo_mild": 1,
    },
    "Tern Hollow Stockyard": {
        "dairy": 0, "slaughter": 22, "missing_price": 12, "total": 6, "repeated_heading": 2,
        "open_ended_weight": 4, "per_head": 0, "typo_gross": 1, "typo_mild": 0,
    },
    "Cold Kettle Auction": {
        "dairy": 28, "slaughter": 24, "missing_price": 10, "total": 0, "repeated_heading": 1,
        "open_ended_weight": 0, "per_head": 4, "typo_gross": 1, "typo_mild": 0,
    },
}  # fmt: skip


def dirty_row(rng: np.random.Generator, style: Style, kind: str, lot: Lot) -> Row:
    """Return a line that no price curve of feeder calves should use, shaped like the file's other lines."""

    def with_cells(sex: str, weight: str, price_cwt: float | None, words: str = "") -> Row:
        row = style.row(lot)
        row[style.sex_at] = sex
        row[style.weight_at] = weight
        row[style.price_at] = (
            "" if price_cwt is None else f"{price_cwt * style.price_factor:.{style.decimals}f}"
        )
        if style.grade_at is not None:
            row[style.grade_at] = words
        return row

    same_sex, same_weight = style.row(lot)[style.sex_at], str(lot.weight_lb)
    same_grade = "" if style.grade_at is None else style.row(lot)[style.grade_at]
    index = lot.price_cwt
    if kind == "dairy":
        return with_cells("Holstein Steers", str(round(rng.uniform(280, 780))), index * 0.62, "L 3")
    if kind == "slaughter":
        return with_cells("Slaughter Cows", str(round(rng.uniform(950, 1500))), index * 0.36, "Breaker")
    if kind == "missing_price":
        return with_cells(same_sex, same_weight, None, same_grade)
    if kind == "open_ended_weight":
        return with_cells(same_sex, "900 and up", index * 0.8, same_grade)
    if kind == "per_head":
        return with_cells("Bred Cows", str(round(rng.uniform(1050, 1300))), index * 9.5 // 25 * 25, "ML 1-2")
    raise ValueError(kind)


def total_row(style: Style, day_lots: Sequence[Lot]) -> Row:
    """Return the line that sums up a sale day."""
    head = sum(lot.head for lot in day_lots)
    pounds = sum(lot.head * lot.weight_lb for lot in day_lots)
    dollars = sum(lot.head * lot.weight_lb * lot.price_cwt for lot in day_lots)
    row = style.row(
        replace(day_lots[-1], head=head, weight_lb=round(pounds / head), price_cwt=dollars / pounds)
    )
    row[style.sex_at] = "Total"
    if style.grade_at is not None:
        row[style.grade_at] = ""
    elif "Frame" in style.heading:
        row[2] = row[3] = ""
    return row


def mistyped(kind: str, price: str) -> str:
    """Return the price with its first digit wrong: sixfold or more, or one too many."""
    first = int(price[0])
    return f"{9 if kind == 'typo_gross' else first + 1}{price[1:]}"


def file_rows(rng: np.random.Generator, barn: str, lots: list[Lot]) -> tuple[list[Row], list[dict[str, Any]]]:
    """Return the file's lines with the dirt worked in, and the list of mistyped prices."""
    style, dirt = STYLES[barn], DIRT[barn]
    rows = [[style.row(lot)] for lot in lots]
    typos = []
    early = [i for i, lot in enumerate(lots) if 100.0 <= lot.price_cwt < 160.0]
    for kind in ("typo_gross", "typo_mild"):
        for i in rng.choice(early, dirt[kind], replace=False):
            right = rows[i][0][style.price_at]
            rows[i][0][style.price_at] = mistyped(kind, right)
            typos.append({"kind": kind, "lot": int(i), "right": right, "written": rows[i][0][style.price_at]})
    for kind in ("dairy", "slaughter", "missing_price", "open_ended_weight", "per_head"):
        for i in sorted(rng.choice(len(lots), dirt[kind], replace=False)):
            rows[i].append(dirty_row(rng, style, kind, lots[i]))
    for i in rng.choice(len(lots), dirt["repeated_heading"], replace=False):
        rows[i].insert(0, list(style.heading))
    last_of_day = [i for i in range(len(lots)) if i + 1 == len(lots) or lots[i + 1].day != lots[i].day]
    for i in rng.choice(last_of_day, dirt["total"], replace=False):
        rows[i].append(total_row(style, [lot for lot in lots if lot.day == lots[i].day]))
    return [row for group in rows for row in group], typos


def csv_text(style: Style, rows: Sequence[Row]) -> str:
    """Return the file's text."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=style.delimiter, lineterminator="\n")
    writer.writerow(style.heading)
    writer.writerows(rows)
    return out.getvalue()
