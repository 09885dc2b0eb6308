"""Lists in dialects met one by one, written with their rows first; all are invented."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from slidefit.records.read import read

DAY = "2025-10-14"
HEAD = "Date,Barn,Sex,Head,Weight,Price $/cwt"
STEERS, HEIFERS = (DAY, "steer", 12, 512, 371.5), (DAY, "heifer", 9, 498, 349.0)
LINES = f"{HEAD}\n10/14/2025,Fen,Steer,12,512,371.5\n10/14/2025,Fen,Heifer,9,498,349\n"
EPOCH = 1_760_443_200_000
MEASURES = """Market,Sale Date,Class,Measure,400-499,500-599
Garnet Creek,2025-10-14,Steers,Head,12,20
,,,Average weight,455,548
,,,Average price ($/cwt),402.1,371.5
Garnet Creek,2025-10-14,Heifers,Head,10,17
,,,Average weight,448,551
,,,Average price ($/cwt),371.1,341.5
"""
LOT = {"class": "Steers", "head": 12, "avg_weight": 512, "price": {"low": 365, "high": 378, "avg": 371.5}}
OTHER = {"class": "Heifers", "head": 9, "avg_weight": 498, "price": {"low": 340, "high": 358, "avg": 349}}
SOLD = """Date,Barn,Sex,Head,Weight,Price $/cwt,{0}
10/14/2025,Fen,Steer,12,512,371.5,{1}
10/14/2025,Fen,Steer,10,515,366,{2}
10/14/2025,Fen,Heifer,9,498,349,{1}
"""
CASES: dict[str, tuple[str, list[tuple[Any, ...]], int]] = {  # name -> text, rows, rows set aside
    "measures_across.csv": (
        MEASURES,
        [
            (DAY, "steer", 12, 455, 402.1),
            (DAY, "steer", 20, 548, 371.5),
            (DAY, "heifer", 10, 448, 371.1),
            (DAY, "heifer", 17, 551, 341.5),
        ],
        0,
    ),
    **{
        f"sold_{number}.csv": (SOLD.format(*words), [STEERS, HEIFERS], 1)
        for number, words in enumerate(
            [("Sold", "1", "0"), ("Sold", "yes", "no"), ("Sold?", "Y", "N"), ("Result", "Sold", "Not sold"),
             ("Outcome", "sold", "PO"), ("Status", "Sold", "Passed out"), ("Sold", "TRUE", "FALSE")]
        )
    },
    "high_bid.csv": (
        SOLD.format("Sold", "Y", "N").replace("Price $/cwt", "High bid $/cwt"),
        [STEERS, HEIFERS],
        1,
    ),
    "lot_again.csv": (
        "Date,Barn,Lot,Sex,Head,Weight,Price $/cwt\n10/14/2025,Fen,1,Steer,12,512,317.5\n"
        "10/14/2025,Fen,2,Heifer,9,498,349\n10/14/2025,Fen,1,Steer,12,512,371.5\n",
        [STEERS, HEIFERS],
        1,
    ),
    "prose.txt": (
        "GARNET CREEK, Oct. 15, 2025 - Tuesday's sale drew 812 head. Steers, 4-5 weights brought $380 to $410, "
        "5-6 weights $355 to $382. Heifers, 4-5 weights brought $350 to $372.",
        [
            (DAY, "steer", None, 450, 395),
            (DAY, "steer", None, 550, 368.5),
            (DAY, "heifer", None, 450, 361),
        ],
        0,
    ),
    "days_across.csv": (
        "Fen Auction $/cwt,,\nClass and weight,10/07/2025,10/14/2025\nSteers 500-550 lb,370,371.5\n",
        [("2025-10-07", "steer", None, 525, 370), (DAY, "steer", None, 525, 371.5)],
        0,
    ),
    "average_beside_price.tsv": (
        "Sale\t10/14/2025\nBarn\tFen\nHead\tClass\tAvg\tPrice\n12\tStr\t512\t371,50\n9\tHfr\t498\t349,00\n",
        [STEERS, HEIFERS],
        0,
    ),
    "legend.csv": (
        "Class codes: 1 = steers; 2 = heifers,,,,,\n" + LINES.replace("Steer", "1").replace("Heifer", "2"),
        [STEERS, HEIFERS],
        0,
    ),
    "dashes.txt": (
        "Fen Livestock - Oct 14, 2025\n- 12 hd steers, 512 lbs, $371.50\n- 9 hd heifers, 498 lbs, $349.00\n",
        [STEERS, HEIFERS],
        0,
    ),
    "sold_at.json": (
        json.dumps(
            {"sales": [{"soldAt": EPOCH, "yard": {"name": "Fen"}, "lots": [
                {"cls": "STR", "hd": 12, "wt": {"avg": 512, "unit": "lb"}, "price": {"amount": 371.5, "unit": "cwt"}},
                {"cls": "HFR", "hd": 9, "wt": {"avg": 498, "unit": "lb"}, "price": {"amount": 349, "unit": "cwt"}},
            ]}]}
        ),
        [STEERS, HEIFERS],
        0,
    ),
    "keyed_by_lot.json": (
        json.dumps({"report": {"market": "Fen", "date": "10/14/2025"}, "lots": {"L1": LOT, "L2": OTHER}}),
        [STEERS, HEIFERS],
        0,
    ),
    "canadian.csv": (
        "Date de vente;Lieu;Catégorie;Nb;Poids moyen (lb);Prix moyen ($ CAN/cwt)\n"
        "14-10-2025;Val Bison;Bouvillons;12;512;371,50\n14-10-2025;Val Bison;Taures;9;498;349,00\n",
        [STEERS, HEIFERS],
        0,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_list_is_read(name: str, tmp_path: Path) -> None:
    text, rows, aside = CASES[name]
    (tmp_path / name).write_text(text, encoding="utf-8")
    result = read(tmp_path / name, today=date(2026, 10, 1))
    found = [
        (
            str(r.sale_date.date()),
            r.sex,
            None if r.head != r.head else r.head,
            r.weight_lb,
            pytest.approx(r.price_cwt),
        )
        for r in result.records.itertuples()
    ]
    assert sorted(found, key=str) == sorted(rows, key=str) or sorted(map(str, found)) == sorted(
        map(str, rows)
    )
    assert len(result.set_aside) == aside
