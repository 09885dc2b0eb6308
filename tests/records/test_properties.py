"""Any tidy table in any supported shape and unit comes back the same; no input at all gives a traceback."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from slidefit.errors import SlidefitError
from slidefit.records.read import read
from slidefit.records.words.units import LB_PER_KG
from tests.records.sale_files import GRADES

QUICK = settings(max_examples=24, deadline=None, suppress_health_check=[HealthCheck.too_slow])
LOT = st.fixed_dictionaries(
    {
        "day": st.integers(0, 700).map(lambda days: date(2021, 1, 4) + timedelta(days=days)),
        "sex": st.sampled_from(["steer", "heifer", "bull"]),
        "grade": st.sampled_from(["ML 1", "ML 1-2", "M 1", "L 2", "S 3"]),
        "head": st.integers(1, 99),
        "weight": st.integers(300, 900),
        "cents": st.integers(-800, 800),
    }
)
LOTS = st.lists(LOT, min_size=3, max_size=25)
SEXES = {
    "steer": ["Steers", "STR", "Feeder Steers", "steer"],
    "heifer": ["Heifers", "Hfrs", "heifer"],
    "bull": ["Bulls", "Feeder Bulls"],
}
DATES = ["%m/%d/%Y", "%Y-%m-%d", "%d-%b-%Y", "%B %d, %Y", "%a %b %d, %Y"]
PRICES = {"Price $/cwt": 1.0, "Price (cents/lb)": 1.0, "$/lb": 0.01, "Avg Price c$/kg": None}


def price_of(lot: dict) -> float:  # type: ignore[type-arg]
    """A price that goes with the weight, so that no row looks like a slip."""
    return round(300.0 - 0.2 * (lot["weight"] - 550) + lot["cents"] / 100.0, 2)


def table(
    lots: list[dict], form: str, price: str, kilograms: bool, spelling: int
) -> tuple[list[str], list[list[str]]]:  # type: ignore[type-arg]
    factor = PRICES[price]
    heading = [
        "Sale Date",
        "Market",
        "Class",
        "Grade",
        "Head",
        "Avg Wt (kg)" if kilograms else "Avg Wt (lb)",
        price,
    ]
    rows = []
    for lot in lots:
        cost = price_of(lot) * factor if factor else price_of(lot) / 45.359237
        rows.append(
            [
                lot["day"].strftime(form),
                "Rook Hill",
                SEXES[lot["sex"]][spelling % len(SEXES[lot["sex"]])],
                GRADES[lot["grade"]][spelling % len(GRADES[lot["grade"]])],
                str(lot["head"]),
                f"{lot['weight'] / LB_PER_KG:.4f}" if kilograms else f"{lot['weight']}",
                f"{cost:.6f}",
            ]
        )
    return heading, rows


def written(heading: list[str], rows: list[list[str]], shape: str) -> tuple[str, bytes]:
    if shape == "json":
        return "lots.json", json.dumps([dict(zip(heading, row, strict=True)) for row in rows]).encode()
    if shape == "xlsx":
        import openpyxl

        book = openpyxl.Workbook()
        for row in (["Rook Hill sales"], [], heading, *rows):
            book.active.append(row)
        out = io.BytesIO()
        book.save(out)
        return "lots.xlsx", out.getvalue()
    text = io.StringIO()
    csv.writer(
        text, delimiter={"csv": ",", "tsv": "\t", "semicolon": ";", "bar": "|"}[shape.split(" ")[0]]
    ).writerows([heading, *rows])
    encoding = "utf-16" if shape.endswith("16") else "utf-8-sig" if shape.endswith("bom") else "utf-8"
    return "lots.txt", text.getvalue().encode(encoding)


@QUICK
@given(
    lots=LOTS,
    form=st.sampled_from(DATES),
    price=st.sampled_from(sorted(PRICES)),
    kilograms=st.booleans(),
    spelling=st.integers(0, 3),
    shape=st.sampled_from(["csv", "csv bom", "tsv", "semicolon", "bar", "json", "xlsx", "csv utf16"]),
)
def test_a_tidy_table_comes_back_the_same(lots, form, price, kilograms, spelling, shape) -> None:  # type: ignore[no-untyped-def]
    name, content = written(*table(lots, form, price, kilograms, spelling), shape)
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        result = read(path, date_order="mdy", today=date(2026, 1, 1))
    assert result.rows_seen == len(lots)
    records = result.records
    twins = len({lot["weight"] for lot in lots}) < len(
        lots
    )  # 1 and 1 of one weight are as good as a total of 2
    allowed = {"duplicate", "summary_row"} if twins else {"duplicate"}
    assert result.reasons.keys() <= allowed and sum(result.reasons.values()) == len(lots) - len(records)
    if len(records) < len(lots):
        return
    for found, lot in zip(records.to_dict("records"), lots, strict=True):
        assert found["sale_date"].date() == lot["day"]
        assert (found["sex"], f"{found['frame']} {found['muscle']}") == (lot["sex"], lot["grade"])
        assert found["head"] == lot["head"]
        assert found["weight_lb"] == pytest.approx(lot["weight"], abs=0.011)
        assert found["price_cwt"] == pytest.approx(price_of(lot), abs=0.002)


@QUICK
@given(st.binary(max_size=4000))
@example(b"Sale Date,Sex,Weight,Price\n" + bytes(range(128, 256)))
@example(b'{"a": [' * 3000)
@example(b"Head   Wt Range   Avg Wt    Price Range   Avg Price\n1 1 1 1 1\n")
@example(b"PK\x03\x04" + bytes(200))
@example(b'"' * 3000)
def test_no_bytes_give_a_traceback(content: bytes) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "any"
        path.write_bytes(content)
        try:
            result = read(path)
        except SlidefitError as told:
            assert told.text()
        else:
            assert result.rows_seen == result.accepted + len(result.set_aside)


PIECES = st.sampled_from(
    [
        "Sale Date",
        "Head",
        "Weight",
        "Price",
        "$/cwt",
        "Steers",
        "10/03/2023",
        "500-550",
        "901+",
        "250.00",
        "n/q",
        ",",
        ",",
        ",",
        "\n",
        "\n",
        "Total",
        "Medium and Large 1",
        '"',
        "Holstein",
        "kg",
        "6 head, 500 lbs., 250.00;",
        "2019",
        "Jan",
    ]
)


@QUICK
@given(st.lists(PIECES, max_size=120))
def test_no_words_of_the_trade_give_a_traceback(pieces: list[str]) -> None:
    test_no_bytes_give_a_traceback.hypothesis.inner_test(" ".join(pieces).encode())  # type: ignore[attr-defined]
