"""The letters of the PDF are set narrow."""

from __future__ import annotations

import io

import pytest
from reportlab.pdfbase import pdfmetrics

from slidefit.report.render.canvas import BOLD, FONT, NARROW_PCT, NarrowCanvas, load_fonts

load_fonts()


def test_a_text_is_as_wide_as_it_is_measured() -> None:
    """The file sets what the layout measures: the horizontal scale (PDF 32000-1, 9.3.4) is that of the widths."""
    plain = pdfmetrics.getFont(FONT).face
    units = sum(plain.charWidths[ord(letter)] for letter in "Steers 550 lb")
    assert pdfmetrics.stringWidth("Steers 550 lb", FONT, 10.0) == pytest.approx(
        units * 0.01 * NARROW_PCT / 100
    )
    out = io.BytesIO()
    canvas = NarrowCanvas(out, pageCompression=0)
    text = canvas.beginText(10, 10)
    text.setFont(FONT, 10)
    text.textOut("Steers")
    canvas.drawText(text)
    canvas.save()
    assert b"%d Tz" % NARROW_PCT in out.getvalue()


def test_bold_is_a_font_of_its_own_with_the_signs_of_the_trade() -> None:
    assert pdfmetrics.stringWidth("Keep", BOLD, 9) > pdfmetrics.stringWidth("Keep", FONT, 9)
    for sign in "½–−…é":
        assert ord(sign) in pdfmetrics.getFont(FONT).face.charToGlyph
