"""What was found in a folder, as a document and as JSON."""

from __future__ import annotations

from slidefit.doctor import Checkup, Finding
from slidefit.report.doctor_content import doctor_content
from slidefit.report.json_answers import json_of
from slidefit.report.render.terminal import document_text

FILES = (("a/sales.duckdb", "sale book"), ("a/fit.json", "fit"), ("a/old.json", "fit"))
FOUND = (
    Finding("look", "old", "a/fit.json", "is 90 days old.", "Fit again."),
    Finding("unreadable", "fit", "a/old.json", "is damaged", "Fit again."),
)


def said(checkup: Checkup) -> str:
    return document_text(doctor_content(checkup), width=100)


def test_the_gravest_is_told_first_with_file_fault_and_remedy() -> None:
    text = said(Checkup("a", FILES, FOUND))
    assert "1 sale book, 2 fits" in text and "No problems found" not in text
    assert (
        text.index("Can't be read")
        < text.index("old.json: is damaged. Fit again.")
        < text.index("Worth a look")
    )
    assert "fit.json: is 90 days old. Fit again." in text and "To fix" not in text


def test_all_is_well_only_where_something_was_looked_at() -> None:
    assert "No problems found." in said(Checkup("a", FILES, ()))
    assert "there is no slidefit file here" in said(Checkup("a", (), ())) and "No problems found" not in said(
        Checkup("a", (), ())
    )


def test_a_program_gets_the_same() -> None:
    found = json_of(Checkup("a", FILES, FOUND))
    assert [(each["level"], each["code"]) for each in found["findings"]] == [
        ("look", "old"),
        ("unreadable", "fit"),
    ]
    assert found["files"][0] == {"file": "a/sales.duckdb", "kind": "sale book"}
