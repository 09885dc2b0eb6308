"""Lists in dialects met one by one, written with their rows first; all are invented."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from slidefit.errors import QuestionError
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
    "euro_a_head.tsv": (
        "Sale\t14/10/2025\nBarn\tFen Mart\nSex\tKg\t\u20ac/Hd\t\u20ac/Kg\nBullock\t232\t1900\t8,19\n",
        [("2025-10-14", "steer", None, 511.47, 8.19 * 45.359237)],
        0,
    ),
    "last_week_behind.txt": (
        "Fen Livestock - Oct 14, 2025\nSteers\n12 head 501-530 lbs (512) 365.00-378.00 (371.50) last wk 366.25\n"
        "Heifers\n9 head 480-510 lbs (498) 340.00-358.00 (349.00) vs 352.75\n",
        [STEERS, HEIFERS],
        0,
    ),
    "mean_behind_its_range.txt": (
        "Fen Livestock - Oct 14, 2025\nSt: 500-600 lbs 360.00-380.00, avg 512 lb at 371.50.\n"
        "Hf: 400-500 lbs 340.00-358.00, averaging 498 lbs at 349.00.\n",
        [(DAY, "steer", None, 512, 371.5), (DAY, "heifer", None, 498, 349)],
        0,
    ),
    "mixed_colors.txt": (
        "Fen Livestock - Oct 14, 2025\nBar 7 Ranch 12 mxd strs 512# 371.50\nT Lund 9 mxd hfrs 498# 349.00\n",
        [STEERS, HEIFERS],
        0,
    ),
    "void.jsonl": (
        "".join(
            json.dumps({"event": event, "day": DAY, "yard": "Fen", "sex": sex, "hd": hd, "lb": lb, "cwt": cwt}) + "\n"
            for event, _, sex, hd, lb, cwt in [
                ("sold", *STEERS), ("sold", *HEIFERS),
                ("sold", DAY, "bull", 3, 590, 330.0), ("void", DAY, "bull", 3, 590, 330.0),
            ]
        ),
        [STEERS, HEIFERS],
        2,
    ),
    "credit.csv": (
        "Date,Barn,Sex,Head,Lbs,Rate $/cwt,Amount\n10/14/2025,Fen,Steer,12,6180,371.5,22958.70\n"
        "10/14/2025,Fen,Heifer,9,4482,349,15642.18\n10/14/2025,Fen,Steer,-12,-6180,371.5,-22958.70\n"
        "10/14/2025,Fen,Steer,12,6144,371.5,22824.96\n",
        [STEERS, HEIFERS],
        2,
    ),
    "lot_pounds_and_amount.csv": (
        "Date,Barn,Sex,Head,Pounds,Amount\n10/14/2025,Fen,Steer,12,6144,22824.96\n"
        "10/14/2025,Fen,Heifer,9,4482,15642.18\n",
        [STEERS, HEIFERS],
        0,
    ),
    "commas_in_cells.psv": (
        "Date|Place|Head|Type|Weight|Offer|Sold at|Terms\n"
        "10/14/2025|Ranch, Fen|12|Steers|512|369.00|371.50|FOB, 2% shrink\n"
        "10/14/2025|Ranch, Fen|9|Heifers|498|346.00|349.00|FOB, 2% shrink\n",
        [STEERS, HEIFERS],
        0,
    ),
    "comma_without_quotes.csv": (
        LINES + "10/14/2025,Fen,Steer, 1 bull in,7,566,381.50\n10/14/2025,Fen,Steer,7,1,566.00,381.50\n",
        [STEERS, HEIFERS],
        2,
    ),
    "season.csv": (
        "Fen Livestock Auction, season 2024-25\nSale,Sex,Head,Weight,Price $/cwt\n"
        "Nov 12,Steer,12,512,371.5\nJan 7,Heifer,9,498,349\n",
        [("2024-11-12", *STEERS[1:]), ("2025-01-07", *HEIFERS[1:])],
        0,
    ),
    "net_beside_gross.tsv": (
        "Sold Oct 14 2025 at Fen Livestock\nSex\tHead\tGross lb/hd\tShrink\tNet lb/hd\t$/cwt\n"
        "Steers\t12\t522\t2%\t512\t371.50\nHeifers\t9\t508\t2%\t498\t349.00\n",
        [STEERS, HEIFERS],
        0,
    ),
    "classes_under_code.csv": (LINES.replace("Sex", "Code").replace("Steer", "BLK STR"), [STEERS, HEIFERS], 0),
    "glued_day.csv": (LINES.replace("10/14/2025", "14OCT25"), [STEERS, HEIFERS], 0),
    "units_and_date_pattern.tsv": (
        "Sex\tNo\tWt\tPrice\tDate\tBarn\n\t(hd)\t(lb)\t($/cwt)\t(m/d/yyyy)\t\n"
        "Steer\t12\t512\t371.5\t10/14/2025\tFen\n"
        "Heifer\t9\t498\t349\t10/14/2025\tFen\n",
        [STEERS, HEIFERS],
        0,
    ),
    "dot_thousands.csv": (
        "Datum;Markt;Klasse;Anzahl;Gesamtgewicht (kg);\u00d8 Preis USD/kg\n14.10.2025;Fen;Ochse;12;2.787;8,19\n",
        [(DAY, "steer", 12, 512.02, 8.19 * 45.359237)],
        0,
    ),
    "measures_of_each_sex.csv": (
        "Barn;Metric;10/07/2025;10/14/2025\nFen;Steer head;;12\nFen;Steer avg wt;;512\nFen;Steer avg $/cwt;;371.50\n"
        "Fen;Heifer head;;9\nFen;Heifer avg wt;;498\nFen;Heifer avg $/cwt;;349.00\n",
        [STEERS, HEIFERS],
        0,
    ),
    "sexes_over_units.csv": (
        "Fen Livestock,October 14 2025\nSTEERS,,,,HEIFERS,,,\n"
        "Hd,Lbs,$,Buyer,Hd,Lbs,$,Buyer\n12,512,371.50,20,9,498,349.00,31\n",
        [STEERS, HEIFERS],
        0,
    ),
    "class_heads_a_column.csv": (
        "Sale of 10/07/2025,,,\nSteers,Hd,Wt,Price\n,12,512,369.5\nHeifers,Hd,Wt,Price\n,9,498,347\n"
        "Sale of 10/14/2025,,,\nSteers,Hd,Wt,Price\n,12,512,371.5\nHeifers,Hd,Wt,Price\n,9,498,349\n",
        [("2025-10-07", "steer", 12, 512, 369.5), ("2025-10-07", "heifer", 9, 498, 347), STEERS, HEIFERS],
        0,
    ),
    "dotted_cards.txt": (
        "Fen Livestock 10/14/2025\n------\n"
        + "".join(
            f"Class.....{c}\nHead...{h}\nAvg Weight..{w}\nTop.....{p + 9}\nAverage.....{p}\n\n"
            for _, c, h, w, p in (STEERS, HEIFERS)
        ),
        [STEERS, HEIFERS],
        0,
    ),
    "class_beside_the_mean.csv": (
        "Date,Barn,Sex,Weight,Head,This sale avg wt,Price $/cwt\n10/14/2025,Fen,Steer,500-599,12,512,371.5\n"
        "10/14/2025,Fen,Heifer,400-499,9,498,349\n",
        [STEERS, HEIFERS],
        0,
    ),
    "beef_on_dairy.csv": (
        f"{LINES}10/14/2025,Fen,BXD STR,9,515,248\n10/14/2025,Fen,JER STR,6,430,190\n", [STEERS, HEIFERS], 2
    ),
    "fen 2025-10-14.csv": ("Sex,Head,Weight,Price $/cwt\nSteer,12,512,371.5\nHeifer,9,498,349\n", [STEERS, HEIFERS], 0),
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


def test_a_page_printed_twice_is_told_once(tmp_path: Path) -> None:
    """Five rows or more in the same order; fewer are lots that are equal by chance."""
    rows = [f"10/14/2025,Fen,Steer,{head},{500 + head},371.5\n" for head in range(3, 14)]
    for last, left in ((5, 11), (4, 15)):
        (tmp_path / "a.csv").write_text("".join([HEAD, "\n", *rows, *rows[:last]]), encoding="utf-8")
        assert read(tmp_path / "a.csv").accepted == left


@pytest.mark.parametrize(
    ("place", "money"), [("Fen Lake SK", "CAD"), ("Fen, AB", "CAD"), ("Fen Lake", "USD"), ("FEN ON", "USD")]
)
def test_a_place_in_a_province_is_paid_in_its_money(place: str, money: str, tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(LINES.replace("Fen", f'"{place}"'), encoding="utf-8")
    assert set(read(tmp_path / "a.csv").records["currency"]) == {money}


def test_text_of_a_macintosh(tmp_path: Path) -> None:
    text = (
        LINES.replace("Steer", "G\u00e9nisse")
        .replace("Fen", "Pr\u00e9-l\u2019\u00c9table")
        .replace("\n", "\r")
    )
    (tmp_path / "a.csv").write_bytes(text.encode("mac_roman"))
    frame = read(tmp_path / "a.csv").records
    assert set(frame["sex"]) == {"heifer"} and set(frame["market"]) == {"Pr\u00e9-l\u2019\u00c9table"}


@pytest.mark.parametrize(
    ("text", "asked", "settled"),
    [
        ("Fen Livestock\nSale,Sex,Head,Weight,Price\nSep-26 4th sale,Steer,12,512,371.5\n"
         "Oct-17 3rd sale,Heifer,9,498,349\n", "some year", {}),
        (LINES.replace("Sex", "Code").replace("Steer", "1").replace("Heifer", "2"), "no column of class",
         {"mapping": {"Code": "sex"}, "values": {"sex": {"1": "steer", "2": "heifer"}}}),
        ("Date,Barn,Sex,Head,Weight,$/hd\n10/14/2025,Fen,Steer,12,512,1902.08\n10/14/2025,Fen,Heifer,9,498,1738.02\n",
         "by the head", {"price_unit": "$/head"}),
    ],
)  # fmt: skip
def test_what_one_can_not_know_is_asked(
    text: str, asked: str, settled: dict[str, Any], tmp_path: Path
) -> None:
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    with pytest.raises(QuestionError, match=asked):
        read(tmp_path / "a.csv")
    if settled:
        frame = read(tmp_path / "a.csv", **settled).records
        assert list(frame["sex"]) == ["steer", "heifer"] and list(frame["price_cwt"]) == pytest.approx(
            [371.5, 349.0]
        )


def test_a_day_in_a_month_column_beside_days_is_no_question(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(
        "Fen Livestock Oct 25,,,,\nDay,Sex,Head,Weight,Price $/cwt\n14,Steer,12,512,371.5\n"
    )
    assert str(read(tmp_path / "a.csv").records["sale_date"][0].date()) == DAY


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("Correction: the second lot should read $351.50,,,,,\n", "tells of a correction"),
        ("Corrected copy printed twice,,,,,\n", ""),
    ],
)
def test_an_erratum_is_told(more: str, told: str, tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(LINES + more, encoding="utf-8")
    assert any("correction" in note for note in read(tmp_path / "a.csv").notes) is bool(told)


def test_columns_that_no_one_understood_are_told(tmp_path: Path) -> None:
    text = LINES.replace(HEAD, f"{HEAD},Zorb").replace("371.5\n", "371.5,4\n").replace("349\n", "349,5\n")
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    assert any("'Zorb'" in note for note in read(tmp_path / "a.csv").notes)
