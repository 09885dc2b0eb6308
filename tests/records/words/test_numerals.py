"""Numbers as sale lists write them come back; what is no one number is none."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.records.words.numerals import number_style, parse_number, parse_range


@settings(max_examples=50, deadline=None)
@given(st.integers(1, 2_000), st.integers(1, 400))
def test_ranges_come_back(low: int, more: int) -> None:
    for text in (
        f"{low}-{low + more}",
        f"{low:,} to {low + more:,}",
        f"${low}.00 - ${low + more}.00",
        f"{low}–{low + more} lbs",
    ):
        found = parse_range(text)
        assert found is not None and (found.low, found.high) == (low, low + more)


@settings(max_examples=50, deadline=None)
@given(st.decimals(0, 100_000, places=2, allow_nan=False))
def test_numbers_come_back(value) -> None:  # type: ignore[no-untyped-def]
    for text in (f"{value}", f"${value:,}", f" {value} ", f"C$ {value:,}", f"{value}*"):
        found = parse_number(text)
        assert found is not None and found.value == pytest.approx(float(value))
    european = f"{value:,}".replace(",", " ").replace(".", ",").replace(" ", ".")
    read_back = parse_number(european, ",")
    assert read_back is not None and read_back.value == pytest.approx(float(value))


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("251 1/2", ".", 251.5),  # eighths of a dollar are common on paper lists
        ("233⅝", ".", 233.625),
        ("251 1/2", ",", 251.5),
        ("1 046", ".", 1046.0),
        ("-4.25", ".", -4.25),
        ("12 512", ".", 12512.0),
        ("12 51", ".", None),  # not thousands: two numbers
        ("5 3/5", ".", None),  # no fraction of a price
        ("", ".", None),
    ],
)
def test_a_cell_is_one_number_or_none(text: str, decimal: str, value: float | None) -> None:
    found = parse_number(text, decimal)
    assert (found and found.value) == value


def test_only_what_proves_a_decimal_sign_counts() -> None:
    """1.049 may be a thousand or one and a bit; three digits behind the sign prove nothing."""
    assert number_style(("1.049", "2,512")) == ""
    assert number_style(("1.049", "2,5")) == ","
    assert number_style(("2.5", "2.5", "2,5")) == "."
