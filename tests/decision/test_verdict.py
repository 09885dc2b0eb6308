"""The verdict's limits, a case on either side of each."""

import pytest

from slidefit.decision.verdict import verdict_of

CASES = [
    (25.0, 0.75, "Keep"),
    (24.99, 0.75, "Probably keep"),
    (25.0, 0.7499, "Probably keep"),
    (10.0, 0.61, "Probably keep"),
    (9.99, 0.95, "Too close to call"),
    (300.0, 0.60, "Too close to call"),
    (300.0, 0.6001, "Probably keep"),
    (300.0, 0.49, "Too close to call"),
    (300.0, 0.30, "Too close to call"),
]


@pytest.mark.parametrize(("gain", "odds", "word"), CASES)
def test_each_limit_has_two_sides_and_selling_mirrors_keeping(gain: float, odds: float, word: str) -> None:
    assert verdict_of(gain, odds) == word
    mirrored = word.replace("Keep", "Sell").replace("keep", "sell")
    assert verdict_of(-gain, 1.0 - odds) == mirrored
