"""The words as data: every entry compiles, every heading names one field, and none is there twice."""

from __future__ import annotations

import re

from slidefit.records.words.fields import FIELDS, field_of
from slidefit.records.words.vocabulary import VOCABULARY, alternatives


def test_every_expression_compiles() -> None:
    for section in ("animals", "remarks", "titles", "reports", "money"):
        for name, text in VOCABULARY[section].items():
            if isinstance(text, str):
                assert re.compile(alternatives(text)), name


def test_every_heading_of_the_list_names_its_field() -> None:
    seen: dict[str, str] = {}
    for field in FIELDS:
        for phrase in field.phrases:
            first = seen.setdefault(phrase, field.name)
            found = field_of(phrase)
            assert found is not None and found[0] == first, phrase


def test_kinds_of_heading_words_are_those_of_the_combinations() -> None:
    used = {
        kind
        for lists in VOCABULARY["heading_combinations"].values()
        for each in lists
        for kind in re.findall(r"\w+", each)
    }
    assert used <= set(VOCABULARY["heading_words"])
