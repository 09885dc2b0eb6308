"""A document as a page that stands alone."""

from __future__ import annotations

import pytest

from slidefit.report.document import Column, document, table
from slidefit.report.render.html import document_html, notebook_fragment

HOSTILE = '<script>alert("x")</script> & "quoted"'


@pytest.mark.parametrize("made", [document_html, notebook_fragment])
def test_what_users_wrote_is_text_and_nothing_is_fetched(made) -> None:  # type: ignore[no-untyped-def]
    found = made(
        document(HOSTILE, table(HOSTILE, [Column(HOSTILE), Column("$", "bare_cents")], [(HOSTILE, 16.5)]))
    )
    assert "<script" not in found and "&lt;script&gt;" in found and "16.50" in found
    assert "http://" not in found.replace("http://www.w3.org", "") and "https://" not in found


def test_links_stand_above_a_page_that_asks_for_them_only() -> None:
    assert "/answer?x=1" in document_html(document("Text."), ways=(("Back to the answer", "/answer?x=1"),))
    assert "<nav" not in document_html(document("Text."))
