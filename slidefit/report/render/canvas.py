"""The pages of the PDF: letters of DejaVu Sans, which matplotlib ships, set narrow; a number at the foot."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any, Literal

import matplotlib
from reportlab.lib.colors import HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject

from slidefit.report.charts.style import FAINT

Way = Literal["LTR", "RTL"]
FONT, BOLD = "slidefit", "slidefit-bold"
TEXT_PT, FOOT_PT = 8.3, 13.0
FRAME_PT = 6.0
"""The padding of a frame of the library."""
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


class NumberedCanvas(NarrowCanvas):
    """A canvas whose pages wait for the last one, so that each can say how many there are."""

    def __init__(self, *args: Any, title: str, ends: tuple[float, float], **options: Any) -> None:
        super().__init__(*args, **options)
        self.title, self.ends = title, ends
        self.waiting: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802
        """Keep a page that is done."""
        self.waiting.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined]

    def save(self) -> None:
        """Put the foot under every page, and write them all."""
        for page in (pages := self.waiting):
            self.__dict__.update(page)
            self.foot(f"Page {self.getPageNumber()} of {len(pages)}")
            super().showPage()
        super().save()

    def foot(self, number: str) -> None:
        """Write the title and the page's number under it."""
        left, right = self.ends
        self.setFont(FONT, TEXT_PT)
        self.setFillColor(HexColor(FAINT))
        self.drawString(
            left, FOOT_PT, _fitted(self.title, right - left - 12.0 - stringWidth(number, FONT, TEXT_PT))
        )
        self.drawRightString(right, FOOT_PT, number)


def _fitted(text: str, width: float) -> str:
    """Return a text cut to a width."""
    if stringWidth(text, FONT, TEXT_PT) <= width:
        return text
    while text and stringWidth(f"{text}…", FONT, TEXT_PT) > width:
        text = text[:-1]
    return f"{text.rstrip()}…"


@cache
def load_fonts() -> None:
    """Make the fonts known: DejaVu Sans, which matplotlib ships."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    pdfmetrics.registerFont(NarrowFont(FONT, str(folder / "DejaVuSans.ttf")))
    pdfmetrics.registerFont(NarrowFont(BOLD, str(folder / "DejaVuSans-Bold.ttf")))
    pdfmetrics.registerFontFamily(FONT, normal=FONT, bold=BOLD, italic=FONT, boldItalic=BOLD)
