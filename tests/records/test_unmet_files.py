"""Sixty files in ten kinds, their expectations written before and without a look at the reader; all are invented.

``expected.json`` says of each: its kind; the rows that it must give (day, precision, sex, head, weight in lb, price in
$/cwt, money); how many rows must be told as set aside or not understood; whether a question is an answer too; and what
settles the question. A row that no expectation names is a wrong row: there is no allowance for one.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from slidefit.errors import QuestionError, RecordsError
from slidefit.records.read import read
from slidefit.records.result import ReadResult
from tests.records.as_expected import TODAY

FOLDER = Path(__file__).parent / "unmet"
EXPECTED: dict[str, dict[str, Any]] = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))
KINDS = 10
Row = tuple[str, str, float | None, int, float, str]


def row_of(told: list[Any]) -> Row:
    day, _, sex, head, weight_lb, price_cwt, currency = told
    return day, sex, head, round(weight_lb + 1e-6), round(price_cwt, 1), currency


def rows_of(result: ReadResult) -> Counter[Row]:
    return Counter(
        row_of(
            [
                r.sale_date.date().isoformat(),
                "",
                r.sex,
                None if r.head != r.head else r.head,
                r.weight_lb,
                r.price_cwt,
                r.currency,
            ]
        )
        for r in result.records.itertuples()
    )


def judged(name: str, **settled: Any) -> str:
    """Return right, asked, refused, told (rows are missing, and counted) or wrong."""
    wanted = EXPECTED[name]
    try:
        result = read(FOLDER / name, today=TODAY, **settled)
    except QuestionError:
        return "asked"
    except RecordsError:
        return "right" if "refused" in wanted else "refused"
    if "refused" in wanted:
        return "wrong"
    found, allowed = rows_of(result), Counter(map(row_of, wanted.get("may", [])))
    verdicts = []
    for variant in filter(None, (wanted["rows"], wanted.get("may_rows"))):
        rows = Counter(map(row_of, variant))
        missing, extra = sum((rows - found).values()), (found - rows) - allowed
        told = sum(result.reasons.values()) + result.not_understood_count + result.not_sales
        enough = told + sum((found - rows).values()) >= wanted.get("aside", 0)
        verdicts.append(
            "wrong" if extra or (missing > told) or not enough else "told" if missing else "right"
        )
    best = min(verdicts, key=["right", "told", "wrong"].index)
    for key, column in (("muscles", "muscle"), ("markets", "market")):
        if best == "right" and key in wanted and result.records[column].tolist() != wanted[key]:
            return "wrong"
    return best


def test_there_are_sixty_files_in_ten_kinds() -> None:
    assert {path.name for path in FOLDER.iterdir()} - {"expected.json"} == set(EXPECTED)
    kinds = Counter(wanted["kind"] for wanted in EXPECTED.values())
    assert len(kinds) == KINDS and set(kinds.values()) == {6}


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_unmet_file(name: str) -> None:
    wanted, verdict = EXPECTED[name], judged(name)
    assert verdict == "right" or (verdict == "asked" and wanted.get("asks")), verdict
    if verdict == "asked" and "settle" in wanted:
        assert judged(name, **wanted["settle"]) == "right"
