"""What a class, grade or remark says of the calves."""

from __future__ import annotations

import pytest

from slidefit.records.words.animals import (
    classify,
    find_grade,
    leftover_words,
    parse_grade,
    parse_muscle,
    remark_reason,
    sex_of,
)
from tests.records.sale_files import GRADES


@pytest.mark.parametrize("grade", sorted(GRADES))
def test_every_spelling_of_a_grade_is_one(grade: str) -> None:
    assert {f"{parse_grade(text).frame} {parse_grade(text).muscle}" for text in GRADES[grade]} == {grade}


@pytest.mark.parametrize(
    ("text", "muscle"),
    [
        ("1-2", "1-2"),
        ("2-1", ""),
        ("1-3", ""),
        ("4", "4"),
        ("5", ""),
        ("1.5", "1-2"),
        ("2-Mar", "2-3"),
        ("1-Mar", ""),
    ],
)
def test_muscle_is_one_to_four_or_two_neighbors(text: str, muscle: str) -> None:
    """U.S. Standards for Grades of Feeder Cattle (USDA AMS, 2000): thickness 1 to 4."""
    assert parse_muscle(text) == muscle


@pytest.mark.parametrize(
    ("text", "sex", "reason"),
    [
        ("Feeder Steers", "steer", ""),
        ("Steers and Heifers", "mixed", ""),
        ("Open Heifers", "heifer", ""),
        ("Bred Heifers", "heifer", "not_feeder"),
        ("Cow/Calf Pairs", "mixed", "not_feeder"),
        ("Slaughter Steers", "steer", "not_feeder"),
        ("Holstein Steers", "steer", "dairy"),
        ("Angus steers, on the cow", "steer", ""),
        ("1st calf heifers", "heifer", "not_feeder"),
        ("Mature bulls", "bull", "not_feeder"),
        ("Heiffers", "heifer", ""),
        ("Mâles castrés", "steer", ""),
        ("Broutards femelles", "heifer", ""),
        ("intact male", "bull", ""),
        ("Becerros enteros", "bull", ""),
        ("Terneros machos castrados", "steer", ""),
        ("Terneros", "", ""),
        ("Male calves", "", ""),
        ("Terneros y terneras", "mixed", ""),
        ("Weaner oxen (tollies)", "steer", ""),
        ("Females", "heifer", ""),
        ("JX STR", "steer", "dairy"),
        ("BeefOnDairySteers", "steer", "dairy"),
        ("BRCOW", "", "not_feeder"),
    ],
)
def test_only_feeder_calves_follow_the_slide(text: str, sex: str, reason: str) -> None:
    found = classify(text)
    assert (found.sex, found.reason) == (sex, reason)


def test_ages_and_counts_are_no_grade() -> None:
    assert find_grade("Large 2 yrs").muscle == "" and find_grade("Large 2").muscle == "2"
    assert remark_reason("guaranteed open, 3 bred") == "not_feeder"
    assert leftover_words("zebu x strs M&L 1, weaned") == "zebu"


def test_a_castrated_male_is_a_steer_whatever_it_is_called() -> None:
    texts = (
        "Terneros castrados",
        "castrated bulls",
        "Mâles castrés",
        "Terneros no castrados",
        "Terneros enteros",
    )
    assert [sex_of(text) for text in texts] == ["steer", "steer", "steer", "bull", "bull"]
