"""What a taught word can mean, column by column."""

from __future__ import annotations

import pytest

from slidefit.records.words.taught import allowed_meanings


@pytest.mark.parametrize(
    ("field", "meaning", "fits"),
    [
        ("sex", "steer", True), ("sex", "stear", False), ("category", "not_feeder", True), ("grade", "ML 1-2", True),
        ("grade", "prime", False), ("grade", "dairy", True), ("remarks", "weaned", True), ("remarks", "nice", False),
        ("price_unit", "cwt", True), ("price_unit", "stone", False), ("status", "no sale", True),
        ("sold", "maybe", False),
        ("Their heading", "heifer", True), ("Their heading", "nonsense", False),
    ],
)  # fmt: skip
def test_a_meaning_fits_its_column(field: str, meaning: str, fits: bool) -> None:
    told = allowed_meanings(field, meaning)
    assert (told == "") == fits
