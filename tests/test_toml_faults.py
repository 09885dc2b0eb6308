"""The line and key of a fault in a text written by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from slidefit.errors import SlidefitError, path_text
from slidefit.toml_faults import key_lines, line_of, placed, suggest_key, toml_tables_of, toml_text


def test_lines_survive_texts_lists_and_inline_tables():
    text = 'a = """\nb = 1\n"""\nc = [\n  1, # ]\n  2,\n]\n[t."x y"]\nd = { e = 1 }\n'
    text += "[[l]]\n[l.p]\nf = 2\n[[l]]\n[[l.q]]\ng = 1\n"
    lines = key_lines(text)
    assert ("b",) not in lines
    assert lines["c",] == 4
    assert lines["t", "x y", "d"] == 9
    assert line_of(("t", "x y", "d", "e"), lines) == 9
    assert lines["l", 0, "p", "f"] == 12
    assert lines["l", 1, "q", 0, "g"] == 15
    assert line_of(("nowhere",), lines) is None
    assert path_text(("groups", 0, "head")) == "groups[1].head"


@pytest.mark.parametrize(
    ("key", "remedy"),
    [
        ("weigth_lb", "Did you mean weight_lb?"),
        ("weight", "Did you mean weight_lb?"),
        ("head_count", "Did you mean head?"),
        ("color", "Known here: head, weight_lb."),
    ],
)
def test_an_unknown_key_is_told_the_nearest_or_all(key: str, remedy: str) -> None:
    assert suggest_key(key, ("head", "weight_lb")) == remedy


def test_problems_stand_in_the_order_of_the_file_with_their_lines() -> None:
    lines = key_lines("[dates]\nweaning = 1\n[[groups]]\nhead = 0\n")
    found = placed(
        [(("groups", 0, "head"), "is 0", "Give one."), (("dates", "sales"), "is missing", "")], "a", lines
    )
    assert [each.text() for each in found] == [
        "a, line 1, dates.sales: is missing",  # the table, where the key is not there
        "a, line 4, groups[1].head: is 0. Give one.",
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a = 1\nb = 2 lb\n", "plan.toml, line 2: can't be read"),
        ("a = 1\nb = ", "plan.toml, line 2"),
        ("a = " + "[" * 5_000, "plan.toml: is nested too deep"),
    ],
)
def test_what_is_no_toml_is_told_with_its_line_and_row(text: str, said: str) -> None:
    with pytest.raises(SlidefitError) as caught:
        toml_tables_of(text, "plan.toml", lambda row: "Write the unit in the name." if "lb" in row else "")
    assert said in str(caught.value) and caught.value.remedy
    assert "column" not in str(caught.value)
    if "lb" in text:
        assert "'b = 2 lb'. Write the unit in the name." in str(caught.value)


def test_a_long_row_is_told_by_its_beginning() -> None:
    with pytest.raises(SlidefitError) as caught:
        toml_tables_of("a = 1\nb = " + "x" * 30_000, "plan.toml")
    assert "line 2" in str(caught.value) and len(str(caught.value)) < 300


def test_a_text_of_a_windows_editor_is_read_and_a_folder_refused(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(b"\xef\xbb\xbfa = 1\r\n")
    assert toml_tables_of(toml_text(tmp_path / "a.toml"), "a.toml") == {"a": 1}
    with pytest.raises(SlidefitError, match="can't be read as text"):
        toml_text(tmp_path)
