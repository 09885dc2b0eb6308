"""Columns of text held once each."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from slidefit.records.columns import COLUMN_NAMES, REASON_CODES, REASON_NAMES, TextColumn, combined

FEW = settings(max_examples=20, deadline=None)
TEXTS = st.lists(st.sampled_from(["", "a", "b", "12"]), min_size=1, max_size=30)


@FEW
@given(TEXTS, TEXTS)
def test_a_column_is_its_texts(one: list[str], two: list[str]) -> None:
    first, second = TextColumn.of(one), TextColumn.of(two)
    assert first.texts().tolist() == list(first.category()) == one
    assert TextColumn.joined([first, second]).texts().tolist() == one + two
    assert first.mapped(lambda text: text[:1]).texts().tolist() == [text[:1] for text in one]
    assert set(first.take(np.arange(len(one)) > 0).distinct()) == set(one[1:])
    place = np.arange(len(one)) % 2 == 0
    other = TextColumn.constant("z", len(one))
    assert first.chosen(other, place).texts().tolist() == [
        t if p else "z" for t, p in zip(one, place, strict=True)
    ]


@FEW
@given(TEXTS)
def test_blanks_take_the_last_text_above_them(cells: list[str]) -> None:
    column = TextColumn.of(cells)
    wanted, last = [], ""
    for text in cells:
        last = text or last
        wanted.append(last)
    assert column.filled_down(column.bools(lambda text: not text)).texts().tolist() == wanted


@FEW
@given(st.lists(st.tuples(st.sampled_from("ab"), st.sampled_from("xyz"), st.sampled_from("pq")), min_size=1))
def test_rows_are_of_one_kind_where_all_their_texts_are(rows: list[tuple[str, str, str]]) -> None:
    groups, examples = combined([TextColumn.of(cells) for cells in zip(*rows, strict=True)])
    assert len(examples) == len(set(rows))
    assert [rows[examples[group]] for group in groups] == rows


def test_each_text_is_parsed_once_and_codes_find_their_reasons() -> None:
    seen: list[str] = []
    TextColumn.of(["5", "6", "5"]).floats(lambda text: float(seen.append(text) or text))
    assert sorted(seen) == ["5", "6"]
    assert all(REASON_NAMES[code] == name for name, code in REASON_CODES.items()) and REASON_NAMES[0] == ""
    assert len(set(COLUMN_NAMES)) == len(COLUMN_NAMES)
    assert TextColumn.of([]).texts().tolist() == [] and len(TextColumn.of([]).category()) == 0
