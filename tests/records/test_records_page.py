"""docs/records.md says what the readers do."""

from __future__ import annotations

from tests.records.records_page import PAGE, made_part, page_with


def test_the_made_part_is_fresh() -> None:
    assert PAGE.read_text(encoding="utf-8") == page_with(made_part()), (
        "run: python -m tests.records.records_page"
    )
