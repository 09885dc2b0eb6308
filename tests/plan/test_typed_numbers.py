"""Numbers as people type them: what is taken, and what is not guessed at."""

import pytest

from slidefit.plan.typed_numbers import LONGEST, number_of


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("540 lb", 540.0),
        ("$ 1,250.50", 1250.5),
        ("1,9", 1.9),
        ("1,900", 1900.0),
        ("12,345,678", 12345678.0),
        ("-4 %", -4.0),
        ("\u22124%", -4.0),
        (".5", 0.5),
        ("2 lb/day", 2.0),
        ("1.2.3", None),
        ("5-6", None),
        ("12,34,56", None),
        ("1e6", None),
        ("nan", None),
        ("five", None),
    ],
)
def test_what_people_type(text, number):
    assert number_of(text) == number


def test_the_longest_text_that_is_a_number():
    assert number_of("5" + " " * (LONGEST - 2) + "%") == 5.0
    assert number_of("5 " + "a" * LONGEST) is None
