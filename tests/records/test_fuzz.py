"""A seeded share of the fuzzing of every reader: changed bytes give an answer or an error, never anything else.

The long run, with bounds of time and memory: `tests/faults/fuzz.py`, figures in docs/safety.md.
"""

from __future__ import annotations

import random
import warnings
from collections import Counter
from pathlib import Path

import pytest

from tests.faults.fuzz import changed, one, targets

INPUTS = {"region": 25, "card": 300, "futures": 60, "plan": 60, "address": 100, "slide": 30, "book": 12}
INPUTS |= dict.fromkeys(("csv", "text", "html", "json", "xlsx", "ods", "pdf", "parquet", "xls"), 6)


@pytest.mark.parametrize("name", INPUTS)
def test_changed_bytes_give_an_answer_or_an_error(tmp_path: Path, name: str) -> None:
    target, chance = targets()[name], random.Random(name)
    path = tmp_path / f"x{target.ending}"
    for data in target.corpus:
        assert one(target, path, data) in ("read", "refused")
    counts: Counter[str] = Counter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of libraries, on files that nobody wrote
        for _ in range(INPUTS[name]):
            data = changed(chance, chance.choice(target.corpus))
            counts[one(target, path, data)] += 1
    assert counts.total() == INPUTS[name]
