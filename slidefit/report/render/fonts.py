"""The letters of the PDF: DejaVu Sans, which matplotlib ships, set narrow."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Literal

import matplotlib
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject

Way = Literal["LTR", "RTL"]
FONT, BOLD = "slidefit", "slidefit-bold"
NARROW_PCT = 90
"""DejaVu Sans is a wide font: at nine tenths three groups stand side by side at 8.5 points."""


class NarrowFont(TTFont):
    """A font whose letters are set nine tenths as wide, as high as ever: DejaVu Sans is a wide one."""

    def stringWidth(self, text: str, size: float, encoding: str = "utf8") -> float:  # noqa: N802
        """Return how wide a text comes out."""
        return float(super().stringWidth(text, size, encoding)) * NARROW_PCT / 100.0


class NarrowCanvas(Canvas):
    """A canvas that sets all text as narrow as its font says."""

    def beginText(  # noqa: N802
        self, x: float = 0.0, y: float = 0.0, direction: Way | None = None
    ) -> PDFTextObject:
        """Return a text that is set narrow."""
        begun = super().beginText(x, y, direction)
        begun.setHorizScale(NARROW_PCT)
        return begun


@cache
def load_fonts() -> None:
    """Make the fonts known: DejaVu Sans, which matplotlib ships."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    pdfmetrics.registerFont(NarrowFont(FONT, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(NarrowFont(BOLD, str(folder / "DejaVuSans-Bold.ttf")))
    pdfmetrics.registerFontFamily(FONT, normal=FONT, bold=BOLD, italic=FONT, boldItalic=BOLD)
