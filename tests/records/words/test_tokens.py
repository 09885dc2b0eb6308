"""The tokens of a quoted sale: each number by the signs beside it, and numbers that are neither weight nor price."""

from __future__ import annotations

import pytest

from slidefit.records.words.tokens import tokens


@pytest.mark.parametrize(
    ("text", "kinds"),
    [
        ("Seven 394-pound black steers", ["one", "weight"]),
        ("404# .... $439.75 per cwt", ["weight", "money", "unit"]),
        ("345# to 403c/lb", ["weight", "bare", "unit"]),
        ("22 402 $410.00", ["bare", "bare", "money"]),
        ("sold 19-Sep-25", []),
    ],
)
def test_a_number_is_told_by_the_signs_beside_it(text: str, kinds: list[str]) -> None:
    assert [token.kind for token in tokens(text) if token.kind not in ("word", "at")] == kinds


def test_only_a_bare_number_of_the_size_of_a_weight_or_price_is_weighty() -> None:
    weighty = {token.text: token.weighty for token in tokens("74 75 1999 2000")}
    assert weighty == {"74": False, "75": True, "1999": True, "2000": False}
